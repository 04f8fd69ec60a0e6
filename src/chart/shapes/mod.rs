//! Layers as they lie in a folder: shapes, their attributes, their projection.

mod dbf;
mod projection;
mod shp;

pub(super) use dbf::{Table, sanitised};
pub(super) use projection::Projection;
pub(super) use shp::{Geometry, ShapeKind, count_records, kind_of, read_shapes};
