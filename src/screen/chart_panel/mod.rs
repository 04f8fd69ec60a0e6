//! The chart panel: shore and land, and everything that was measured or worked out, to scale.

mod coast;
mod labels;
mod overlay;
mod port;
mod raster;

pub(super) use overlay::draw;
pub(super) use port::{Port, SPAN_NM};
pub use raster::Ink;
pub(super) use raster::Raster;

use crate::chart::Coast;

/// Shore and land as a port shows them.
pub(super) fn shore(coast: &Coast, port: &Port) -> Raster {
    let mut raster = Raster::new(port.columns(), port.rows());
    coast::draw(coast, port, &mut raster);
    raster
}
