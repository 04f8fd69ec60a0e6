use super::geobox::GeoBox;
use crate::geodesy::Position;
use crate::units::{GroundRange, Height};

/// What a chart holds, file by file, and what is odd in it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Survey {
    /// Every layer read.
    pub layers: Vec<LayerSurvey>,
    /// Every grid read.
    pub grids: Vec<GridSurvey>,
    /// How far coast and grids disagree; `None` without a grid that covers some shore.
    pub disagreement: Option<Disagreement>,
    /// Share of the grids' ground above the sea that the coast has as sea, of that of which it tells; `None`
    /// where there is none.
    pub ground_outside: Option<f64>,
    /// The shore that no grid reaches; `None` without a grid, or where all of it has one.
    pub without_grid: Option<WithoutGrid>,
    /// Anything else that is odd, in words.
    pub odd: Vec<String>,
}

/// What one layer holds.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LayerSurvey {
    /// The file.
    pub file: String,
    /// What it is used as: "coast", "relief", "marks", "cover".
    pub role: &'static str,
    /// The kind of its shapes: "polygons", "polylines", "points".
    pub kind: &'static str,
    /// How many shapes.
    pub shapes: usize,
    /// How many of them are empty.
    pub empty: usize,
    /// How many rings, lines or points the shapes have together.
    pub parts: usize,
    /// How many vertices.
    pub vertices: usize,
    /// Where it lies; `None` of an empty layer.
    pub extent: Option<GeoBox>,
    /// The attributes used, as `name: NAME`; of heights with their unit, as `height: ELEV_M, in metres`.
    pub attributes: Vec<String>,
    /// How many shapes of each class of ground a layer of cover has; "no class" for the rest.
    pub classes: Vec<(&'static str, usize)>,
    /// How its text is encoded; `None` without attributes.
    pub encoding: Option<String>,
    /// Its projection, in words.
    pub projection: String,
    /// What is odd in it, in words.
    pub odd: Vec<String>,
}

/// What one grid holds.
#[derive(Debug, Clone, PartialEq)]
pub struct GridSurvey {
    /// The file.
    pub file: String,
    /// Heights along a row.
    pub columns: usize,
    /// Rows.
    pub rows: usize,
    /// Step between rows in degrees.
    pub step_deg: f64,
    /// The box of the outermost heights.
    pub extent: GeoBox,
    /// What is known of its heights; `None` where they have not been asked for, or cannot be read.
    pub heights: Option<GridHeights>,
}

/// What the heights of a grid are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GridHeights {
    /// The lowest height.
    pub lowest: Height,
    /// The highest height.
    pub highest: Height,
    /// How many heights were missing and have been filled from their rim.
    pub voids: usize,
}

/// The shore that lies more than a cell outside every grid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WithoutGrid {
    /// How much of it there is, in nautical miles: that may be more than the Earth is round.
    pub length_nm: f64,
    /// Its share of the whole shore.
    pub share: f64,
    /// The box that holds it.
    pub extent: GeoBox,
}

impl WithoutGrid {
    /// What an operator must know of it.
    pub(super) fn caution(&self) -> String {
        let corner = |latitude, longitude| Position::wrapped(latitude, longitude);
        let GeoBox { south, west, north, east } = self.extent;
        format!(
            "no elevation grid reaches {:.0} NM of the coast ({:.0} % of it), between {} and {}: \
             high ground there is not known and is left out of everything: it may be there",
            self.length_nm,
            (100.0 * self.share).max(1.0),
            corner(south, west),
            corner(north, east)
        )
    }
}

/// How far the shoreline and the land edge of the grids lie apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Disagreement {
    /// Half of the shore is nearer to the grid's edge than this.
    pub median: GroundRange,
    /// Nine tenths are nearer than this.
    pub ninetieth: GroundRange,
    /// How many places of the shore were measured.
    pub places: usize,
}

/// The share of a grid's step by which its land edge strays from the shore even where nothing is
/// wrong. A shore that falls anywhere between two heights lies up to half a step from the edge of
/// its cell, and inlets narrower than a step are lost altogether (a rule of thumb, no source).
const STRAY_STEPS: f64 = 0.5;

impl Disagreement {
    /// The part of the median that the step of the grid does not explain.
    pub fn beyond_the_step(&self, cell_m: Option<f64>) -> GroundRange {
        let stray = STRAY_STEPS * cell_m.unwrap_or(0.0);
        let median = self.median.metres();
        GroundRange::clamped_metres((median * median - stray * stray).max(0.0).sqrt())
    }
}
