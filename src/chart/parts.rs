//! A chart while its folders are being read, one after the other.

use std::collections::HashSet;

use super::accuracy::Accuracy;
use super::coast::CoastBuilder;
use super::cover::{CoverBuilder, Terrain};
use super::error::ChartError;
use super::geobox::GeoBox;
use super::grid_files::GridFiles;
use super::ground::{ContourBuilder, Profile};
use super::layers::{ChartedMark, Reading, by_name, is_shape};
use super::manifest::{Layers, MANIFEST, Manifest};
use super::opening::Progress;
use super::shapes::sanitised;
use super::source::Source;
use super::survey::LayerSurvey;

/// What has been read of a chart so far.
#[derive(Default)]
pub(super) struct Parts {
    pub(super) names: Vec<String>,
    pub(super) coast: CoastBuilder,
    pub(super) contours: ContourBuilder,
    pub(super) grids: GridFiles,
    pub(super) marks: Vec<ChartedMark>,
    pub(super) accuracy: Option<Accuracy>,
    pub(super) profile: Option<Profile>,
    pub(super) cover: CoverBuilder,
    pub(super) terrain: Option<Terrain>,
    pub(super) layers: Vec<LayerSurvey>,
    pub(super) cautions: Vec<String>,
    pub(super) odd: Vec<String>,
    pub(super) coast_layers: Vec<Vec<String>>,
}

impl Parts {
    /// Nothing yet. Tiles of heights outside `window` are left out; of the others no more than `limit`
    /// bytes are held.
    pub(super) fn new(window: Option<GeoBox>, limit: u64) -> Self {
        Self { grids: GridFiles::new(window, limit), ..Self::default() }
    }

    /// Reads one folder. `passed_over` are the layers that were read before, and are the coast.
    pub(super) fn read(
        &mut self,
        source: &Source<'_>,
        passed_over: Option<&[String]>,
        progress: &dyn Fn(Progress<'_>),
    ) -> Result<(), ChartError> {
        let files = source.list()?;
        let manifest_file = source.name_of(MANIFEST);
        let manifest = manifest_of(source, &files)?;
        let accuracy = manifest.accuracy(&manifest_file)?;
        let profile = manifest.profile(&manifest_file)?;
        let terrain = manifest.terrain(&manifest_file)?;
        if manifest.layers.is_none() && !files.iter().any(|file| is_shape(file)) {
            return Err(ChartError::NoLayers { folder: source.name(), found: found(&files) });
        }
        let mut reading = Reading {
            source,
            files: &files,
            by_name: by_name(&files),
            manifest_file: &manifest_file,
            attributes: &manifest.attributes,
            accuracy,
            coast: &mut self.coast,
            contours: &mut self.contours,
            marks: &mut self.marks,
            cover: &mut self.cover,
            surveys: &mut self.layers,
            cautions: &mut self.cautions,
            odd: &mut self.odd,
            passed_over,
            taken_as_coast: Vec::new(),
            progress,
        };
        match &manifest.layers {
            Some(layers) => reading.named(layers)?,
            None => reading.found()?,
        }
        self.coast_layers.push(reading.taken_as_coast);
        self.odd.extend(manifest.layers.iter().flat_map(|layers| not_named(&files, layers)));
        self.grids.read(source, &files, manifest.grids.as_ref(), &mut self.cautions)?;
        self.names.push(manifest.name.as_deref().map_or_else(|| short_name(source), sanitised));
        self.accuracy = Some(self.accuracy.map_or(accuracy, |so_far| so_far.worse(accuracy)));
        self.profile.get_or_insert(profile);
        self.terrain = self.terrain.or(terrain);
        Ok(())
    }
}

/// What a folder's `chart.toml` says; nothing where it has none.
fn manifest_of(source: &Source<'_>, files: &[String]) -> Result<Manifest, ChartError> {
    if !files.iter().any(|file| file == MANIFEST) {
        return Ok(Manifest::default());
    }
    let file = source.name_of(MANIFEST);
    let bytes = source.read_short(MANIFEST)?;
    match String::from_utf8(bytes.into_owned()) {
        Ok(text) => Manifest::parse(&file, &text),
        Err(error) => {
            let why = format!("it is not UTF-8 text ({})", error.utf8_error());
            Err(ChartError::Unreadable { file, why })
        }
    }
}

/// The layers of a folder that its `chart.toml` passes over, in words.
fn not_named(files: &[String], layers: &Layers) -> Vec<String> {
    let named: HashSet<&str> = layers.all().map(|path| path.trim_start_matches("./")).collect();
    let left_out = files.iter().filter(|file| is_shape(file) && !named.contains(file.as_str()));
    left_out.map(|file| format!("{}: not named in chart.toml, not read", sanitised(file))).collect()
}

/// What a folder without a layer holds, in words.
fn found(files: &[String]) -> String {
    let shown: Vec<String> = files.iter().take(5).map(|f| sanitised(f)).collect();
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
