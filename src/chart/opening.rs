//! How a chart is opened: all of it or about a place, from its own files or from an index of them.

use std::path::{Path, PathBuf};

use super::error::ChartError;
use super::geobox::GeoBox;
use super::ground::HEIGHTS_LIMIT;
use super::headlands::{MANY_POINTS, Scope};
use super::open::{Chart, Read};
use super::prepared::{self, Fault, Identity, Index, Prepared};
use super::shapes::sanitised;
use super::source::Source;

/// What is being done while a chart is opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doing<'a> {
    /// Reading a file of shapes.
    Reading(&'a str),
    /// Putting the coast into an index.
    Indexing,
    /// Seeking marks from the shape of the coast.
    SeekingMarks,
    /// Writing an index of the chart.
    Writing,
}

/// How far the opening of a chart has come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Progress<'a> {
    /// What is being done.
    pub doing: Doing<'a>,
    /// What share of that is done; 0 where it cannot be told.
    pub share: f64,
}

/// How a chart is read.
pub(super) struct How<'a> {
    pub(super) scope: Scope,
    /// Where heights are read as they are asked for, what has to go through them goes through those of
    /// this area alone.
    pub(super) near: Option<GeoBox>,
    /// No more bytes of heights are held.
    pub(super) limit: u64,
    pub(super) progress: &'a dyn Fn(Progress<'_>),
}

impl Progress<'_> {
    /// In words: `reading coast.shp: 43 %`, without the file's folder.
    pub fn words(&self) -> String {
        let what = match self.doing {
            Doing::Reading(file) => {
                let name = file.rsplit(['/', '\\']).next().unwrap_or(file);
                format!("reading {}", sanitised(name))
            }
            Doing::Indexing => "ordering the coast".to_owned(),
            Doing::SeekingMarks => "seeking marks".to_owned(),
            Doing::Writing => "writing the index".to_owned(),
        };
        if self.share > 0.0 { format!("{what}: {:.0} %", 100.0 * self.share) } else { what }
    }
}

/// Chart folders and where an index of them may be: what it takes to open another part of their chart.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Folders {
    /// Together one chart.
    pub folders: Vec<PathBuf>,
    /// The first that fits the chart is used.
    pub indexes: Vec<PathBuf>,
}

impl Folders {
    /// The chart about an area; all of a chart that is not large.
    ///
    /// # Errors
    /// As [`Opening::open`].
    pub fn open_about(
        &self,
        area: GeoBox,
        progress: &dyn Fn(Progress<'_>),
    ) -> Result<Chart, ChartError> {
        let opening = Opening::new(&self.folders).indexed(&self.indexes).telling(progress);
        opening.around(area).open()
    }
}

/// A chart about to be opened.
///
/// A chart of up to 200,000 points is always opened whole. Of a larger one the marks that its shape
/// gives are sought about the place asked for alone ([`Opening::around`]); with an index
/// ([`Opening::indexed`]) the coast, too, is taken in there alone, and nothing has to be sought.
/// Either way the answers about that place are the same, unless heights are read as they are asked for
/// ([`Opening::heights_limit`]): how far coast and heights agree is then measured about that place alone.
#[derive(Clone, Copy)]
pub struct Opening<'a> {
    folders: &'a [PathBuf],
    around: Option<GeoBox>,
    marks_within: Option<GeoBox>,
    heights_limit: u64,
    whole_up_to: usize,
    indexes: &'a [PathBuf],
    progress: &'a dyn Fn(Progress<'_>),
}

impl std::fmt::Debug for Opening<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Opening")
            .field("folders", &self.folders)
            .field("around", &self.around)
            .finish_non_exhaustive()
    }
}

impl<'a> Opening<'a> {
    /// Of chart folders, together one chart.
    pub fn new(folders: &'a [PathBuf]) -> Self {
        Self {
            folders,
            around: None,
            marks_within: None,
            heights_limit: HEIGHTS_LIMIT,
            whole_up_to: MANY_POINTS,
            indexes: &[],
            progress: &|_| {},
        }
    }

    /// For questions about places in this area, and what lies within a radar's reach of them must be
    /// in it, too.
    #[must_use]
    pub fn around(mut self, area: GeoBox) -> Self {
        self.around = Some(area);
        self
    }

    /// Where the grids hold more heights than are kept in memory, marks are sought in this smaller area
    /// alone, since all its heights have to be read for them. A caution says so.
    #[must_use]
    pub fn marks_within(mut self, area: GeoBox) -> Self {
        self.marks_within = Some(area);
        self
    }

    /// No more than so many bytes of heights are held in memory; [`HEIGHTS_LIMIT`] where nothing is said.
    /// Of a chart opened whole no answer depends on it.
    #[must_use]
    pub fn heights_limit(mut self, bytes: u64) -> Self {
        self.heights_limit = bytes;
        self
    }

    /// A chart of up to so many points is opened whole, whatever the area.
    #[must_use]
    pub fn whole_up_to(mut self, points: usize) -> Self {
        self.whole_up_to = points;
        self
    }

    /// Where an index may be; the first that fits the chart is used. One that is there and does not
    /// fit is said in a caution of the chart.
    #[must_use]
    pub fn indexed(mut self, indexes: &'a [PathBuf]) -> Self {
        self.indexes = indexes;
        self
    }

    /// Who hears how far it has come.
    #[must_use]
    pub fn telling(mut self, progress: &'a dyn Fn(Progress<'_>)) -> Self {
        self.progress = progress;
        self
    }

    fn sources(&self) -> Vec<Source<'static>> {
        self.folders.iter().cloned().map(Source::Folder).collect()
    }

    /// Opens it.
    ///
    /// # Errors
    /// Whatever is wrong in a folder, with the file, the record and what would be right. An index is
    /// never the reason: without one that fits the chart is read from its own files.
    pub fn open(&self) -> Result<Chart, ChartError> {
        let sources = self.sources();
        let mut cautions = Vec::new();
        if self.indexes.iter().any(|path| path.exists()) {
            // A file of the folder that cannot be read may be one that the chart does not need.
            let now = Identity::of(&sources);
            for path in self.indexes.iter().filter(|path| path.exists()) {
                let opened = match &now {
                    Ok(now) => self.out_of_index(path, now, &sources)?,
                    Err(error) => Err(Fault::Stale(error.to_string())),
                };
                match opened {
                    Ok(chart) => return Ok(chart),
                    Err(fault) => cautions.extend(fault.caution(path)),
                }
            }
        }
        let scope = match self.around {
            Some(area) => Scope::Within(area, self.whole_up_to),
            None => Scope::Usual,
        };
        let near = self.marks_within.or(self.around);
        let mut chart = Chart::read(&sources, &self.how(scope, near))?.chart;
        if chart.ground().is_fetched() {
            if self.marks_within.is_some() {
                cautions.push(self.few_marks());
            } else if let Some(area) = self.around {
                // Its heights were looked through there alone, and so for marks.
                chart.set_opened_about(area);
            }
        }
        for caution in cautions {
            chart.caution(caution);
        }
        Ok(chart)
    }

    fn how(&self, scope: Scope, near: Option<GeoBox>) -> How<'a> {
        How { scope, near, limit: self.heights_limit, progress: self.progress }
    }

    /// What an operator must know where heights are read as they are asked for.
    fn few_marks(&self) -> String {
        format!(
            "the grids hold more heights than the {} MB kept in memory: marks were sought within the \
             range asked for alone: nothing is foretold of those beyond, which may show after the next \
             pulse at a false range; `foreland chart prepare` finds them all once",
            self.heights_limit >> 20
        )
    }

    fn out_of_index(
        &self,
        path: &Path,
        now: &Identity,
        sources: &[Source<'_>],
    ) -> Result<Result<Chart, Fault>, ChartError> {
        let index = match Index::open(path, now) {
            Ok(index) => index,
            Err(fault) => return Ok(Err(fault)),
        };
        let layers = index.coast_layers().to_vec();
        if layers.len() != sources.len() {
            return Ok(Err(Fault::Stale("it is of other folders".to_owned())));
        }
        let around = self.around;
        let window = index.window(around.as_ref(), self.whole_up_to);
        let part = || index.part(around.as_ref(), self.whole_up_to);
        let how = (self.heights_limit, self.progress);
        let mut chart = Chart::with_part(sources, &layers, window, part, how)?;
        if let (Ok(chart), Some(area), Some(_)) = (&mut chart, around, window) {
            chart.set_opened_about(area);
        }
        Ok(chart)
    }

    /// Works the chart out whole, and writes its index in place of what is there. The area counts
    /// for nothing: all marks of all coasts are sought, which may take minutes.
    ///
    /// # Errors
    /// Whatever is wrong in a folder; an index that cannot be written.
    pub fn prepare(&self, path: &Path) -> Result<Prepared, ChartError> {
        let sources = self.sources();
        let identity = Identity::of(&sources)?;
        let read = Chart::read(&sources, &self.how(Scope::Everywhere, None))?;
        // Nothing is kept of a chart that could not be read whole.
        if let Some(fault) = read.chart.ground().faults().into_iter().next() {
            return Err(fault);
        }
        if let Some(what) = identity.differs_from(&Identity::of(&sources)?) {
            let folders: Vec<String> = sources.iter().map(Source::name).collect();
            return Err(ChartError::ChangedMeanwhile { folder: folders.join(", "), what });
        }
        (self.progress)(Progress { doing: Doing::Writing, share: 0.0 });
        let Read { chart, charted, coast_layers } = read;
        let source = prepared::Source { identity, chart: &chart, charted, coast_layers };
        prepared::write(path, source).map_err(|error| ChartError::IndexUnwritable {
            file: sanitised(&path.display().to_string()),
            why: error.to_string(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_file_is_named_without_its_folder() {
        let doing = Doing::Reading("/charts/world/coast.shp");
        assert_eq!(Progress { doing, share: 0.426 }.words(), "reading coast.shp: 43 %");
        assert_eq!(Progress { doing, share: 0.0 }.words(), "reading coast.shp");
    }
}
