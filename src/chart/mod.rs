//! What is there: the coast, the ground behind it, and the marks on it, from folders of open data.
//!
//! In come ESRI shapefiles, elevation grids and an optional `chart.toml`; out come a [`Coast`] in an
//! index of short runs, a [`Ground`] that gives the height of any place and how it is known, its [`Terrain`], and
//! [`Marks`] by number, name and place. What is wrong in a file is told with its name, its record
//! and what would be right ([`ChartError`]); what is only odd is kept in the [`Survey`], and what
//! an operator must know among the chart's cautions. A large chart is opened about a place, and from
//! an index where one was prepared ([`Opening`]). This module knows no radar.

mod accuracy;
mod bytes;
mod coast;
mod columns;
mod counts;
mod cover;
mod disagreement;
mod error;
mod finish;
mod geobox;
mod grid_files;
mod grid_survey;
mod ground;
mod headlands;
mod layers;
mod manifest;
mod marks;
mod open;
mod opening;
mod outside;
mod parts;
mod prepared;
mod sample;
mod shapes;
mod source;
mod squares;
mod survey;
mod without_grid;

pub use accuracy::Accuracy;
pub use coast::{Coast, LandSide, LonLat, Run, ShoreLine, Stretch};
pub use cover::Terrain;
pub use error::ChartError;
pub use geobox::GeoBox;
pub use ground::{
    Ground, GroundHeight, HEIGHTS_LIMIT, HeightSource, Held, HighPlace, Highest, Profile,
};
pub use marks::{Mark, MarkId, MarkKind, Marks};
pub use open::Chart;
pub use opening::{Doing, Folders, Opening, Progress};
pub use prepared::{Prepared, is_chart_file};
pub use survey::{Disagreement, GridHeights, GridSurvey, LayerSurvey, Survey, WithoutGrid};
