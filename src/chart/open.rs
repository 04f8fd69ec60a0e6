use std::path::PathBuf;
use std::sync::Arc;

use super::accuracy::Accuracy;
use super::coast::Coast;
use super::error::ChartError;
use super::geobox::GeoBox;
use super::ground::{Ground, HEIGHTS_LIMIT};
use super::headlands::Scope;
use super::marks::Marks;
use super::opening::{How, Opening, Progress};
use super::parts::Parts;
use super::prepared::{Fault, Part};
use super::source::Source;
use super::survey::Survey;

/// One or more folders of open data, read and indexed.
#[derive(Debug)]
pub struct Chart {
    pub(super) name: String,
    pub(super) coast: Arc<Coast>,
    pub(super) ground: Ground,
    pub(super) marks: Marks,
    pub(super) accuracy: Accuracy,
    pub(super) cautions: Vec<String>,
    pub(super) survey: Survey,
    pub(super) opened_about: Option<GeoBox>,
}

/// A chart as it was read raw, with what its index is made of beside it.
pub(super) struct Read {
    pub(super) chart: Chart,
    /// How many of its first marks the chart itself has.
    pub(super) charted: usize,
    /// The layers that its coast was read from, folder by folder.
    pub(super) coast_layers: Vec<Vec<String>>,
}

impl Chart {
    /// Opens chart folders as one chart, whole and from their own files: [`Opening`] does it for a
    /// part of the world, and from an index.
    ///
    /// # Errors
    /// Whatever is wrong in a folder, with the file, the record and what would be right.
    pub fn open(folders: &[PathBuf]) -> Result<Self, ChartError> {
        Opening::new(folders).open()
    }

    /// Opens a chart whose files are in memory, by path from its folder, with `/` between.
    ///
    /// # Errors
    /// As [`Chart::open`].
    pub fn from_files(name: &str, files: &[(&str, &[u8])]) -> Result<Self, ChartError> {
        Self::from_sources(&[Source::Files { name, files }])
    }

    fn from_sources(sources: &[Source<'_>]) -> Result<Self, ChartError> {
        let (scope, limit) = (Scope::Usual, HEIGHTS_LIMIT);
        Self::read(sources, &How { scope, near: None, limit, progress: &|_| {} })
            .map(|read| read.chart)
    }

    /// Reads all files of the folders.
    pub(super) fn read(sources: &[Source<'_>], how: &How<'_>) -> Result<Read, ChartError> {
        let mut parts = Parts::new(None, how.limit);
        for source in sources {
            parts.read(source, None, how.progress)?;
        }
        parts.finish(sources, how)
    }

    /// Reads what an index does not hold, and takes the rest out of a part of it: the tiles of
    /// heights outside its box, where it has one, are left out.
    pub(super) fn with_part(
        sources: &[Source<'_>],
        coast_layers: &[Vec<String>],
        window: Option<GeoBox>,
        part: impl FnOnce() -> Result<Part, Fault>,
        (limit, progress): (u64, &dyn Fn(Progress<'_>)),
    ) -> Result<Result<Self, Fault>, ChartError> {
        let mut parts = Parts::new(window, limit);
        for (source, layers) in sources.iter().zip(coast_layers) {
            parts.read(source, Some(layers), progress)?;
        }
        parts.grids.check()?;
        Ok(part().map(|part| parts.complete(part)))
    }

    /// Adds what an operator must know of how it was opened.
    pub(super) fn caution(&mut self, caution: String) {
        self.cautions.push(caution);
    }

    /// What the chart calls itself: by its `chart.toml`, else by its folder.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The shoreline.
    pub fn coast(&self) -> &Coast {
        &self.coast
    }

    /// How high the ground is.
    pub fn ground(&self) -> &Ground {
        &self.ground
    }

    /// What can be ranged or have its bearing taken.
    pub fn marks(&self) -> &Marks {
        &self.marks
    }

    /// How far the chart itself may be wrong, widened by what coast and grid disagree.
    pub fn accuracy(&self) -> Accuracy {
        self.accuracy
    }

    /// What an operator must know before trusting it.
    pub fn cautions(&self) -> &[String] {
        &self.cautions
    }

    /// What an operator must know besides of heights that were read only when they were asked for: of files
    /// that have been damaged, changed or taken away since, and of missing heights. To be asked when an
    /// answer is worked out.
    pub fn late_cautions(&self) -> Vec<String> {
        let mut told = self.ground.told_late();
        told.retain(|caution| !self.cautions.contains(caution));
        told
    }

    /// The area that a large chart was opened about ([`Opening::around`]): outside it marks are missing, and
    /// coast where it came out of an index. `None` where the chart is at hand everywhere.
    pub fn opened_about(&self) -> Option<GeoBox> {
        self.opened_about
    }

    /// Notes that it was opened about an area alone.
    pub(super) fn set_opened_about(&mut self, area: GeoBox) {
        self.opened_about = Some(area);
    }

    /// What each file holds and what is odd in it.
    pub fn survey(&self) -> &Survey {
        &self.survey
    }
}
