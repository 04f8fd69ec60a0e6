//! The chart panel: shore and land, and everything that was measured or worked out, to scale.

mod coast;
mod furniture;
mod labels;
mod overlay;
mod port;
mod raster;
mod symbols;

pub(super) use overlay::draw;
pub(super) use port::{Port, SPAN_NM};
pub(super) use raster::Dot;
pub use raster::Ink;
pub(super) use raster::Raster;

use crate::chart::Chart;

/// Shore and land as a port shows them.
pub(super) fn shore(chart: &Chart, port: &Port) -> Raster {
    let mut raster = Raster::new(port.columns(), port.rows());
    coast::draw(chart, port, &mut raster);
    raster
}
