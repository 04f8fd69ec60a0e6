use std::path::PathBuf;
use std::sync::Arc;

use super::accuracy::Accuracy;
use super::coast::{Coast, CoastBuilder};
use super::cover::{CoverBuilder, Terrain};
use super::disagreement::disagreement;
use super::error::ChartError;
use super::geobox::GeoBox;
use super::grid_survey::{survey_heights, survey_of, told_newly};
use super::ground::{
    Cache, ContourBuilder, Grid, Ground, HEIGHTS_LIMIT, Profile, TileFile, filled, read_geotiff,
    read_hgt, tile_box,
};
use super::headlands::{self, Scope, found_marks};
use super::layers::{ChartedMark, Reading, is_shape};
use super::manifest::{Grids, Manifest, fits};
use super::marks::{Mark, Marks};
use super::opening::{Doing, How, Opening, Progress};
use super::prepared::{Fault, Part};
use super::source::Source;
use super::survey::{GridSurvey, LayerSurvey, Survey};
use super::without_grid::without_grid;
use crate::geodesy::{Position, destination, distance};
use crate::units::{Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE};

/// The file in which a chart's folder says what it holds.
const MANIFEST: &str = "chart.toml";

/// A charted point this near a headland found under its name is that headland, in metres.
const SAME_MARK_M: f64 = 3.0 * METRES_PER_NAUTICAL_MILE;

/// How far round a mark on the shoreline its ground is looked for, in metres.
const BESIDE_M: f64 = 200.0;

/// Grids with wider steps than this are cautioned, in metres: cliffs and islets fall between them.
const COARSE_M: f64 = 1_000.0;

/// One or more folders of open data, read and indexed.
#[derive(Debug)]
pub struct Chart {
    name: String,
    coast: Arc<Coast>,
    ground: Ground,
    marks: Marks,
    accuracy: Accuracy,
    cautions: Vec<String>,
    survey: Survey,
    opened_about: Option<GeoBox>,
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
        let mut parts = Parts { limit: how.limit, ..Parts::default() };
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
        let mut parts = Parts { window, limit, ..Parts::default() };
        for (source, layers) in sources.iter().zip(coast_layers) {
            parts.read(source, Some(layers), progress)?;
        }
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

/// A chart while its folders are being read.
#[derive(Default)]
struct Parts {
    names: Vec<String>,
    coast: CoastBuilder,
    contours: ContourBuilder,
    grids: Vec<Grid>,
    marks: Vec<ChartedMark>,
    accuracy: Option<Accuracy>,
    profile: Option<Profile>,
    cover: CoverBuilder,
    terrain: Option<Terrain>,
    layers: Vec<LayerSurvey>,
    cautions: Vec<String>,
    odd: Vec<String>,
    coast_layers: Vec<Vec<String>>,
    /// Tiles of heights outside it are left out.
    window: Option<GeoBox>,
    /// No more bytes of heights are held.
    limit: u64,
    /// What all heights so far would take.
    height_bytes: u64,
    /// Of more heights than are held.
    cache: Option<Arc<Cache>>,
}

impl Parts {
    /// Reads one folder. `passed_over` are the layers that were read before, and are the coast.
    fn read(
        &mut self,
        source: &Source<'_>,
        passed_over: Option<&[String]>,
        progress: &dyn Fn(Progress<'_>),
    ) -> Result<(), ChartError> {
        let files = source.list()?;
        let manifest_file = source.name_of(MANIFEST);
        let manifest = if files.iter().any(|file| file == MANIFEST) {
            let bytes = source.read_short(MANIFEST)?;
            let text =
                String::from_utf8(bytes.into_owned()).map_err(|error| ChartError::Unreadable {
                    file: manifest_file.clone(),
                    why: format!("it is not UTF-8 text ({})", error.utf8_error()),
                })?;
            Manifest::parse(&manifest_file, &text)?
        } else {
            Manifest::default()
        };
        let accuracy = manifest.accuracy(&manifest_file)?;
        let profile = manifest.profile(&manifest_file)?;
        let terrain = manifest.terrain(&manifest_file)?;
        if manifest.layers.is_none() && !files.iter().any(|file| is_shape(file)) {
            return Err(ChartError::NoLayers { folder: source.name(), found: found(&files) });
        }
        let mut reading = Reading {
            source,
            files: &files,
            manifest_file: &manifest_file,
            attributes: &manifest.attributes,
            accuracy,
            coast: &mut self.coast,
            contours: &mut self.contours,
            marks: &mut self.marks,
            cover: &mut self.cover,
            surveys: &mut self.layers,
            cautions: &mut self.cautions,
            passed_over,
            taken_as_coast: Vec::new(),
            progress,
        };
        match &manifest.layers {
            Some(layers) => reading.named(layers)?,
            None => reading.found()?,
        }
        self.coast_layers.push(reading.taken_as_coast);
        if let Some(layers) = &manifest.layers {
            let named = |file: &&String| {
                [&layers.coast, &layers.relief, &layers.marks, &layers.cover]
                    .iter()
                    .any(|paths| paths.iter().any(|path| path.trim_start_matches("./") == **file))
            };
            for file in files.iter().filter(|file| is_shape(file)).filter(|file| !named(file)) {
                self.odd.push(format!("{file}: not named in chart.toml, not read"));
            }
        }
        self.read_grids(source, &files, manifest.grids.as_ref(), &manifest_file)?;
        self.names.push(
            manifest.name.as_deref().map_or_else(|| short_name(source), super::shapes::sanitised),
        );
        self.accuracy = Some(self.accuracy.map_or(accuracy, |so_far| so_far.worse(accuracy)));
        self.profile.get_or_insert(profile);
        self.terrain = self.terrain.or(terrain);
        Ok(())
    }

    fn read_grids(
        &mut self,
        source: &Source<'_>,
        files: &[String],
        named: Option<&Grids>,
        manifest_file: &str,
    ) -> Result<(), ChartError> {
        let mut paths: Vec<&String> = Vec::new();
        if let Some(grids) = named {
            for pattern in &grids.elevation {
                let before = paths.len();
                paths.extend(files.iter().filter(|file| fits(pattern, file)));
                if paths.len() == before {
                    return Err(ChartError::NoLayer {
                        file: manifest_file.to_owned(),
                        key: "grids.elevation".to_owned(),
                        layer: super::shapes::sanitised(pattern),
                        help: "name grids of this folder, as \"dem/*.hgt\"".to_owned(),
                    });
                }
            }
        } else {
            paths.extend(files.iter().filter(|file| is_grid(file)));
        }
        paths.sort();
        paths.dedup();
        if let Some(window) = self.window {
            let is_far = |path: &String| {
                let tile = has_ending(path, &["hgt"]).then(|| tile_box(path)).flatten();
                tile.is_some_and(|tile| !tile.touches(&window))
            };
            paths.retain(|path| !is_far(path));
        }
        let is_hgt = |path: &str| has_ending(path, &["hgt"]);
        let files: Vec<Option<Result<TileFile, ChartError>>> =
            paths.iter().map(|path| source.tile_file(path, is_hgt(path))).collect();
        self.count_heights(&files);
        for (path, tile_file) in paths.into_iter().zip(files) {
            if let (Some(cache), Some(tile_file)) = (&self.cache, tile_file.as_ref()) {
                self.grids.push(Grid::fetched(tile_file.clone()?, cache));
                continue;
            }
            let bytes = source.read(path)?;
            let file = source.name_of(path);
            let grid =
                if is_hgt(path) { read_hgt(&file, &bytes)? } else { read_geotiff(&file, &bytes)? };
            if let Some(voids) = grid.known_facts().map(|facts| facts.voids).filter(|n| *n > 0) {
                self.cautions.push(filled(&file, voids));
            }
            self.grids.push(match tile_file {
                Some(Ok(tile_file)) => grid.of_file(tile_file),
                _ => grid,
            });
        }
        Ok(())
    }

    /// Adds up what the heights of files take. From where that is more than is held, they are read when
    /// they are asked for, and those that were read before are let go.
    fn count_heights(&mut self, files: &[Option<Result<TileFile, ChartError>>]) {
        let known = files.iter().flatten().flatten();
        self.height_bytes += known.map(TileFile::bytes).sum::<u64>();
        if self.cache.is_none() && self.height_bytes > self.limit {
            let cache = Arc::new(Cache::new(self.limit));
            let grids = std::mem::take(&mut self.grids).into_iter();
            self.grids = grids.map(|grid| grid.let_go(&cache)).collect();
            self.cache = Some(cache);
        }
    }

    /// Joins what was read into a chart.
    fn finish(self, sources: &[Source<'_>], how: &How<'_>) -> Result<Read, ChartError> {
        let Self { mut cautions, grids, coast_layers, .. } = self;
        let progress = how.progress;
        let near = how.near.filter(|_| self.cache.is_some());
        let scope = &near.map_or(how.scope, |area| Scope::Within(area, 0));
        progress(Progress { doing: Doing::Indexing, share: 0.0 });
        let height = |at: Position| grids.iter().find_map(|grid| grid.height(at));
        let coast = Arc::new(self.coast.finish(&height));
        if coast.line_count() == 0 && self.marks.is_empty() {
            let layers: Vec<&str> = self.layers.iter().map(|layer| layer.file.as_str()).collect();
            let folders: Vec<String> = sources.iter().map(Source::name).collect();
            let layers = if layers.is_empty() { "no layer".to_owned() } else { layers.join(", ") };
            return Err(ChartError::Empty { folder: folders.join(", "), layers });
        }
        let without_grid = without_grid(&coast, &grids);
        cautions.extend(without_grid.map(|bare| bare.caution()));
        let contours = self.contours.finish();
        let mut survey_grids: Vec<GridSurvey> = grids.iter().map(survey_of).collect();
        let no_heights = grids.is_empty() && contours.is_empty();
        let stated: Vec<Mark> =
            self.marks.iter().filter(|m| m.has_height).map(|m| m.mark.clone()).collect();
        let profile = self.profile.unwrap_or_default();
        let cover = self.cover.finish(self.terrain);
        let mut ground = Ground::new(Arc::clone(&coast), grids, contours, &stated, profile, cover);
        let mut accuracy = self.accuracy.unwrap_or_default();
        let disagreement = disagreement(&coast, &ground, near.as_ref());
        let apart = disagreement.map(|measured| measured.beyond_the_step(ground.cell_m()));
        if let Some(apart) = apart.filter(|apart| *apart > accuracy.shift_sigma) {
            cautions.push(format!(
                "coast and grid lie {:.2} NM apart (median, beyond what the grid's step explains): \
                 the chart's common error is taken as that instead of {:.2} NM",
                apart.nautical_miles(),
                accuracy.shift_sigma.nautical_miles()
            ));
            accuracy.shift_sigma = apart;
        }
        if let Some(cell) = ground.cell_m().filter(|cell| *cell > COARSE_M) {
            cautions.push(format!(
                "the elevation grid has one height every {:.1} NM: heights near the shore are \
                 smoothed, and it cannot check where the coast lies",
                cell / METRES_PER_NAUTICAL_MILE
            ));
        }
        if no_heights {
            cautions.push(format!(
                "no grid and no contours: ground is assumed to rise from {:.0} ft at the shore by \
                 {:.1} % to {:.0} ft",
                profile.shore.feet(),
                100.0 * profile.rise,
                profile.cap.feet()
            ));
        }
        if coast.lines().any(|(_, line)| line.land_side == super::LandSide::Unknown) {
            cautions
                .push("some open shorelines do not tell on which side their land lies".to_owned());
        }
        cautions.extend(headlands::cut_caution(&coast));
        progress(Progress { doing: Doing::SeekingMarks, share: 0.0 });
        let charted = with_heights(self.marks, &ground, near.as_ref());
        let found = found_marks(&coast, &mut ground, &accuracy, &charted, scope);
        cautions.extend(found.cautions);
        let count = found.marks.len();
        let marks = Marks::new(merged(charted, found.marks));
        survey_heights(&mut survey_grids, &ground, near.is_none());
        cautions.extend(told_newly(&cautions, &ground));
        let survey = Survey {
            layers: self.layers,
            grids: survey_grids,
            disagreement,
            without_grid,
            odd: self.odd,
        };
        let charted = marks.len().saturating_sub(count);
        let name = self.names.join(" + ");
        let opened_about = headlands::sought_about(&coast, scope);
        let chart = Chart { name, coast, ground, marks, accuracy, cautions, survey, opened_about };
        Ok(Read { chart, charted, coast_layers })
    }

    /// A chart of what was read of it now, and of what an index holds of the rest.
    fn complete(self, part: Part) -> Chart {
        let coast = Arc::new(part.coast);
        let stated: Vec<Mark> =
            self.marks.iter().filter(|m| m.has_height).map(|m| m.mark.clone()).collect();
        let profile = self.profile.unwrap_or_default();
        let (contours, cover) = (self.contours.finish(), self.cover.finish(self.terrain));
        let ground = Ground::new(Arc::clone(&coast), self.grids, contours, &stated, profile, cover)
            .with_cells(part.cells);
        Chart {
            name: part.name,
            coast,
            ground,
            marks: Marks::new(part.marks),
            accuracy: part.accuracy,
            cautions: part.cautions,
            survey: part.survey,
            opened_about: None,
        }
    }
}

/// Gives marks without a height that of the ground they stand on; those outside an area, where there is
/// one, stay without.
///
/// A headland is charted at its tip, on the shoreline itself or a hair outside it: such a mark takes
/// the highest ground near by.
fn with_heights(marks: Vec<ChartedMark>, ground: &Ground, near: Option<&GeoBox>) -> Vec<Mark> {
    let stands = |charted: ChartedMark| {
        let mut mark = charted.mark;
        if !charted.has_height && near.is_none_or(|near| near.contains(mark.position)) {
            mark.height = ground_near(ground, mark.position);
        }
        mark
    };
    marks.into_iter().map(stands).collect()
}

/// The height of a place, or of the highest ground within `BESIDE_M` of one on or off the shore.
fn ground_near(ground: &Ground, at: Position) -> Height {
    let here = ground.at(at).height;
    if here > ground.assumed_profile().shore {
        return here;
    }
    let directions = (0..8).map(|i| Bearing::wrapped_degrees(45.0 * f64::from(i)));
    directions
        .map(|bearing| destination(at, bearing, GroundRange::clamped_metres(BESIDE_M)))
        .map(|beside| ground.at(beside).height)
        .fold(here, |high, height| if height > high { height } else { high })
}

/// Charted marks first, then those found; a charted point that lent its name to a headland found
/// near it gives way to it.
fn merged(charted: Vec<Mark>, found: Vec<Mark>) -> Vec<Mark> {
    let gave_name = |mark: &Mark| {
        found.iter().any(|other| {
            other.named
                && other.name == mark.name
                && distance(other.position, mark.position).metres() < SAME_MARK_M
        })
    };
    let mut marks: Vec<Mark> = charted.into_iter().filter(|mark| !gave_name(mark)).collect();
    marks.extend(found);
    marks
}

/// What a folder without a layer holds, in words.
fn found(files: &[String]) -> String {
    let shown: Vec<String> = files.iter().take(5).map(|f| super::shapes::sanitised(f)).collect();
    match files.len() {
        0 => "it is empty".to_owned(),
        n if n > 5 => format!("{n} files, among them {}, and none is a .shp", shown.join(", ")),
        _ => format!("{}, and none is a .shp", shown.join(", ")),
    }
}

/// The last part of a folder's path.
fn short_name(source: &Source<'_>) -> String {
    let name = source.name();
    name.trim_end_matches(['/', '\\']).rsplit(['/', '\\']).next().unwrap_or(&name).to_owned()
}

fn has_ending(path: &str, endings: &[&str]) -> bool {
    path.rsplit_once('.')
        .is_some_and(|(_, end)| endings.iter().any(|ending| end.eq_ignore_ascii_case(ending)))
}

/// Whether a file is a grid.
fn is_grid(path: &str) -> bool {
    has_ending(path, &["hgt", "tif", "tiff"])
}
