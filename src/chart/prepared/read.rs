use std::fs::File;
use std::io::ErrorKind;
use std::path::Path;

use super::format::{Contents, HEAD_BYTES, Head};
use super::identity::Identity;
use super::tree::Pieces;
use super::{Fault, corners, told};
use crate::chart::accuracy::Accuracy;
use crate::chart::bytes::{Damage, Decoder};
use crate::chart::coast::{Coast, Enclosing, StoredRuns};
use crate::chart::geobox::GeoBox;
use crate::chart::ground::Cells;
use crate::chart::marks::Mark;
use crate::chart::survey::Survey;
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

/// An index that is known to be whole in its head and contents, and of the chart as it is now.
#[derive(Debug)]
pub(in crate::chart) struct Index {
    pieces: Pieces,
    contents: Contents,
}

/// What is taken out of an index.
#[derive(Debug)]
pub(in crate::chart) struct Part {
    pub(in crate::chart) name: String,
    pub(in crate::chart) accuracy: Accuracy,
    pub(in crate::chart) cautions: Vec<String>,
    pub(in crate::chart) survey: Survey,
    pub(in crate::chart) cells: Option<Cells>,
    pub(in crate::chart) coast: Coast,
    pub(in crate::chart) marks: Vec<Mark>,
}

impl Index {
    /// Opens the index of a chart whose files are as told.
    pub(in crate::chart) fn open(path: &Path, now: &Identity) -> Result<Self, Fault> {
        let file = File::open(path).map_err(|error| match error.kind() {
            ErrorKind::NotFound | ErrorKind::NotADirectory => Fault::Missing,
            _ => Fault::Unreadable(error.to_string()),
        })?;
        let pieces = Pieces::new(file).map_err(|error| Fault::Unreadable(error.to_string()))?;
        let head = Head::read(&pieces.read_at(0, HEAD_BYTES)?)?;
        if head.length != pieces.len() {
            let (held, told) = (pieces.len(), head.length);
            return Err(Fault::Damaged(format!("it holds {held} bytes of {told}")));
        }
        let contents = Contents::read(&pieces.piece(&head.contents)?)?;
        if let Some(what) = contents.identity.differs_from(now) {
            return Err(Fault::Stale(what));
        }
        Ok(Self { pieces, contents })
    }

    /// The layers that are in it, folder by folder: not to be read again.
    pub(in crate::chart) fn coast_layers(&self) -> &[Vec<String>] {
        &self.contents.coast_layers
    }

    /// The box of the part that is taken in for an area; none where it is all of the chart.
    pub(in crate::chart) fn window(
        &self,
        around: Option<&GeoBox>,
        whole_up_to: usize,
    ) -> Option<GeoBox> {
        let facts = &self.contents.facts;
        let whole = facts.has_open || facts.points <= whole_up_to;
        around.filter(|_| !whole).map(snapped)
    }

    /// The chart about an area, all of a chart of up to so many points or with open lines.
    pub(in crate::chart) fn part(
        self,
        around: Option<&GeoBox>,
        whole_up_to: usize,
    ) -> Result<Part, Fault> {
        let facts = self.contents.facts.clone();
        let window = self.window(around, whole_up_to);
        let around = around.filter(|_| window.is_some());
        let mut runs = StoredRuns::default();
        self.pieces.leaves(&self.contents.runs, window.as_ref(), &mut |leaf| runs.read(leaf))?;
        let enclosing = window.map(|area| self.enclosing(area)).transpose()?;
        let coast = runs.coast(facts, enclosing)?;
        let marks = self.marks(around)?;
        let Contents { name, accuracy, cautions, survey, cells, .. } = self.contents;
        Ok(Part { name, accuracy, cautions, survey, cells, coast, marks })
    }

    fn enclosing(&self, area: GeoBox) -> Result<Enclosing, Damage> {
        let corner = corners::read(&self.pieces, &self.contents.corners, (area.north, area.west))?;
        Ok(Enclosing { area, corner })
    }

    /// All marks of the chart itself, and those found in an area.
    fn marks(&self, around: Option<&GeoBox>) -> Result<Vec<Mark>, Fault> {
        let mut marks = Vec::new();
        let charted = self.pieces.piece(&self.contents.charted)?;
        read_marks(&charted, &mut marks)?;
        self.pieces.leaves(&self.contents.found, around, &mut |leaf| {
            let from = marks.len();
            read_marks(leaf, &mut marks)?;
            let mut place = 0;
            marks.retain(|(_, mark)| {
                place += 1;
                place <= from || around.is_none_or(|area| area.contains(mark.position))
            });
            Ok(())
        })?;
        if around.is_none() && marks.len() != self.contents.marks {
            return Err(Fault::Damaged("some of its marks are missing".to_owned()));
        }
        marks.sort_by_key(|(number, _)| *number);
        Ok(marks.into_iter().map(|(_, mark)| mark).collect())
    }
}

fn read_marks(bytes: &[u8], marks: &mut Vec<(u64, Mark)>) -> Result<(), Damage> {
    let mut input = Decoder::new(bytes);
    while !input.is_done() {
        marks.push(told::read_mark(&mut input)?);
    }
    Ok(())
}

/// Ground in the area is judged by the shore as far from it as this, in nautical miles: the assumed
/// rise inland ends within 50 km.
const BESIDE_NM: f64 = 30.0;

/// The box of whole degrees about an area and what lies beside it.
fn snapped(area: &GeoBox) -> GeoBox {
    let area = area.grown(GroundRange::clamped_metres(BESIDE_NM * METRES_PER_NAUTICAL_MILE));
    GeoBox::new(area.south.floor(), area.west.floor(), area.north.ceil(), area.east.ceil())
}
