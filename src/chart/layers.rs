//! Reads the layers of one folder into coast, contours and marks.

use std::collections::{BTreeSet, HashMap, HashSet};

use super::accuracy::Accuracy;
use super::coast::{CoastBuilder, LonLat, ReadOddities};
use super::columns::Columns;
use super::counts::{count, in_words};
use super::cover::{ClassTally, CoverBuilder};
use super::error::ChartError;
use super::ground::{ContourBuilder, height_of};
use super::manifest::{Attributes, Layers};
use super::marks::{Mark, MarkKind};
use super::opening::{Doing, Progress};
use super::shapes::{
    Geometry, Projection, ShapeKind, Table, count_records, kind_of, read_shapes, sanitised,
};
use super::source::{Source, has_ending};
use super::survey::LayerSurvey;
use crate::units::{GroundRange, Height};

/// How much a charted mark stands out before its neighbours are looked at.
const CHARTED_SALIENCE: f64 = 0.7;

/// Heights that ground can have, in metres: what lies beyond (-9999, say) stands for "not known".
const LIKELY_HEIGHT_M: std::ops::RangeInclusive<f64> = -500.0..=9_000.0;

/// What a layer is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    Coast,
    Relief,
    Marks,
    Cover,
}

impl Role {
    fn as_str(self) -> &'static str {
        match self {
            Self::Coast => "coast",
            Self::Relief => "relief",
            Self::Marks => "marks",
            Self::Cover => "cover",
        }
    }
}

/// A mark as the chart gives it; its height may be missing.
pub(super) struct ChartedMark {
    pub(super) mark: Mark,
    pub(super) has_height: bool,
}

/// Where layers are read into.
pub(super) struct Reading<'a> {
    pub(super) source: &'a Source<'a>,
    pub(super) files: &'a [String],
    /// The same as [`by_name`] has them.
    pub(super) by_name: HashMap<String, &'a String>,
    pub(super) manifest_file: &'a str,
    pub(super) attributes: &'a Attributes,
    pub(super) accuracy: Accuracy,
    pub(super) coast: &'a mut CoastBuilder,
    pub(super) contours: &'a mut ContourBuilder,
    pub(super) marks: &'a mut Vec<ChartedMark>,
    pub(super) cover: &'a mut CoverBuilder,
    pub(super) surveys: &'a mut Vec<LayerSurvey>,
    pub(super) cautions: &'a mut Vec<String>,
    pub(super) odd: &'a mut Vec<String>,
    /// Layers of coast that were read before and are passed over.
    pub(super) passed_over: Option<&'a [String]>,
    /// The layers that were taken as coast.
    pub(super) taken_as_coast: Vec<String>,
    pub(super) progress: &'a dyn Fn(Progress<'_>),
}

/// A layer's files, opened.
struct Layer<'a> {
    path: String,
    shp: std::borrow::Cow<'a, [u8]>,
    kind: Option<ShapeKind>,
    table: Option<Table>,
    projection: Projection,
}

impl<'a> Reading<'a> {
    /// The layers that `chart.toml` names, in its order.
    pub(super) fn named(&mut self, layers: &Layers) -> Result<(), ChartError> {
        let roles = [
            (Role::Coast, "layers.coast", &layers.coast),
            (Role::Relief, "layers.relief", &layers.relief),
            (Role::Marks, "layers.marks", &layers.marks),
            (Role::Cover, "layers.cover", &layers.cover),
        ];
        let held: HashSet<&str> = self.files.iter().map(String::as_str).collect();
        let mut columns = BTreeSet::new();
        for (role, key, paths) in roles {
            let mut taken = HashSet::new();
            for path in paths {
                let path = path.trim_start_matches("./");
                if !held.contains(path) {
                    return Err(self.no_layer(key, path));
                }
                if !taken.insert(path) {
                    let path = sanitised(path);
                    self.odd.push(format!("{path}: named more than once under {key}, read once"));
                    continue;
                }
                if self.is_passed_over(path) {
                    continue;
                }
                let layer = self.open(path)?;
                check_role(self.source, &layer, role, key)?;
                if let Some(table) = &layer.table {
                    columns.extend(table.names().map(str::to_owned));
                }
                self.take(&layer, role)?;
            }
        }
        self.check_attributes(&columns)
    }

    /// The refusal of a layer that is not there.
    fn no_layer(&self, key: &str, path: &str) -> ChartError {
        let shapes = self.files.iter().filter(|file| is_shape(file));
        let held: Vec<&str> = shapes.map(String::as_str).collect();
        ChartError::NoLayer {
            file: self.manifest_file.to_owned(),
            key: key.to_owned(),
            layer: sanitised(path),
            help: nearest_or_all(path, &held, "the folder holds"),
        }
    }

    /// Whether a layer was read before, and is passed over.
    fn is_passed_over(&self, path: &str) -> bool {
        self.passed_over.is_some_and(|paths| paths.iter().any(|passed| passed == path))
    }

    /// Every shapefile of the folder, its role found from geometry and attributes.
    ///
    /// Lines with a height are contours, unless nothing else is coast and one such layer is all
    /// there is: coastlines often carry a height that is zero throughout. Lines and areas of depths are
    /// neither, and are left out.
    pub(super) fn found(&mut self) -> Result<(), ChartError> {
        let mut columns = BTreeSet::new();
        let files = self.files;
        let mut layers = Vec::new();
        for path in files.iter().filter(|file| is_shape(file)) {
            if self.is_passed_over(path) {
                continue;
            }
            let layer = self.open(path)?;
            let columns = Columns::of(layer.table.as_ref(), self.attributes);
            let is_points = layer.kind == Some(ShapeKind::Points);
            if let Some(depths) = columns.depths().filter(|_| !is_points) {
                let path = sanitised(path);
                self.odd.push(format!("{path}: holds depths ({depths}), not read"));
                continue;
            }
            let role = role_of(&layer, &columns);
            layers.push((layer, role));
        }
        let count = |wanted| layers.iter().filter(|(_, role)| *role == wanted).count();
        if self.passed_over.is_none() && count(Role::Coast) == 0 && count(Role::Relief) == 1 {
            for (layer, role) in layers.iter_mut().filter(|(_, role)| *role == Role::Relief) {
                *role = Role::Coast;
                self.cautions.push(format!(
                    "{}: its lines have a height and there is no other coast: they are taken as \
                     coast; a chart.toml with [layers] relief says otherwise",
                    self.source.name_of(&layer.path)
                ));
            }
        }
        for (layer, role) in layers {
            if let Some(table) = &layer.table {
                columns.extend(table.names().map(str::to_owned));
            }
            self.take(&layer, role)?;
        }
        self.check_attributes(&columns)
    }

    /// Whether some layer has the attributes that `chart.toml` names.
    fn check_attributes(&self, columns: &BTreeSet<String>) -> Result<(), ChartError> {
        if self.passed_over.is_some() {
            return Ok(());
        }
        let Attributes { height, name, kind, cover } = self.attributes;
        for attribute in [height, name, kind, cover].into_iter().flatten() {
            if !columns.iter().any(|column| column.eq_ignore_ascii_case(attribute)) {
                let columns: Vec<&str> = columns.iter().map(String::as_str).collect();
                return Err(ChartError::NoAttribute {
                    file: self.manifest_file.to_owned(),
                    attribute: sanitised(attribute),
                    help: nearest_or_all(attribute, &columns, "the layers have"),
                });
            }
        }
        Ok(())
    }

    fn open(&self, path: &str) -> Result<Layer<'a>, ChartError> {
        let shp = self.source.read(path)?;
        let kind = kind_of(&self.source.name_of(path), &shp)?;
        let beside = |extension: &str| {
            let stem = path.rsplit_once('.').map_or(path, |(stem, _)| stem);
            self.by_name.get(&format!("{stem}.{extension}").to_ascii_lowercase()).copied()
        };
        let text = |file: &String| {
            self.source.read_short(file).map(|bytes| String::from_utf8_lossy(&bytes).into_owned())
        };
        let projection = match beside("prj") {
            Some(file) => Projection::from_prj(&self.source.name_of(file), &text(file)?)?,
            None => Projection::assumed(),
        };
        let cpg = match beside("cpg") {
            Some(file) => Some((self.source.name_of(file), text(file)?)),
            None => None,
        };
        let table = match beside("dbf") {
            Some(file) => {
                let cpg = cpg.as_ref().map(|(name, text)| (name.as_str(), text.as_str()));
                let bytes = self.source.read(file)?;
                Some(Table::open(&self.source.name_of(file), &bytes, cpg)?)
            }
            None => None,
        };
        if let Some(table) = &table {
            let shapes = count_records(&self.source.name_of(path), &shp)?;
            if table.len() != shapes {
                let file = beside("dbf").map_or_else(String::new, |file| self.source.name_of(file));
                return Err(ChartError::DbfCount { file, rows: table.len(), shapes });
            }
        }
        Ok(Layer { path: path.to_owned(), shp, kind, table, projection })
    }

    /// Reads a layer's shapes in its role.
    fn take(&mut self, layer: &Layer<'_>, role: Role) -> Result<(), ChartError> {
        let file = self.source.name_of(&layer.path);
        if !layer.projection.is_stated() {
            self.cautions.push(format!("{file}: has no .prj: taken as geographic WGS84"));
        }
        if role == Role::Coast {
            self.taken_as_coast.push(layer.path.clone());
        }
        let columns = Columns::of(layer.table.as_ref(), self.attributes);
        let mut survey = LayerSurvey {
            file: sanitised(&layer.path),
            role: role.as_str(),
            kind: layer.kind.map_or("null shapes", ShapeKind::as_str),
            attributes: columns.used(role),
            encoding: layer.table.as_ref().map(|table| table.encoding().to_owned()),
            projection: layer.projection.name(),
            ..LayerSurvey::default()
        };
        let mut found = Found::default();
        let progress = self.progress;
        let read = |share| progress(Progress { doing: Doing::Reading(&file), share });
        let is_deleted = |record: usize| {
            layer.table.as_ref().is_some_and(|table| table.is_deleted(record.saturating_sub(1)))
        };
        let records =
            read_shapes(&file, &layer.shp, &layer.projection, &read, |record, geometry| {
                if is_deleted(record) {
                    found.deleted += 1;
                    return Ok(());
                }
                count(&mut survey, &geometry);
                let said = Said { columns: &columns, record };
                self.shape(role, geometry, said, &mut found)
                    .map_err(|geometry| wrong_kind(&file, record, &geometry))
            })?;
        self.coast.end_layer();
        survey.shapes = records.saturating_sub(found.deleted);
        survey.odd = in_words(found.odd, found.without_height, survey.empty);
        if found.deleted > 0 {
            survey.odd.push(format!("{} deleted records, left out", found.deleted));
        }
        if found.unlikely > 0 {
            let unlikely = found.unlikely;
            survey.odd.push(format!("{unlikely} heights that no ground has: taken as not known"));
        }
        survey.classes = found.classes.counts();
        self.cautions.extend(found.classes.caution(&file));
        self.surveys.push(survey);
        Ok(())
    }

    /// Takes one shape; the shape itself is the error where it is of another kind than its layer holds.
    fn shape(
        &mut self,
        role: Role,
        geometry: Geometry,
        said: Said<'_>,
        found: &mut Found,
    ) -> Result<(), Geometry> {
        let height = found.likely(said.columns.height(said.record));
        match (role, geometry) {
            (_, Geometry::Empty) => {}
            (Role::Coast, Geometry::Rings(rings)) => found.odd.add(self.coast.polygon(&rings)),
            (Role::Coast, Geometry::Lines(lines)) => {
                for line in lines {
                    self.coast.polyline(line.into_iter());
                }
            }
            (Role::Relief, Geometry::Lines(lines) | Geometry::Rings(lines)) => match height {
                Some(metres) => lines.iter().for_each(|line| self.contours.line(line, metres)),
                None => found.without_height += 1,
            },
            (Role::Marks, Geometry::Points(points)) => {
                let (name, kind) = (said.columns.name(said.record), said.columns.kind(said.record));
                let sigma = self.accuracy.point_sigma;
                let mark = |point| charted(point, name.clone(), kind.as_deref(), height, sigma);
                self.marks.extend(points.into_iter().map(mark));
            }
            (Role::Cover, Geometry::Rings(rings)) => {
                let word = said.columns.cover(said.record);
                if let Some(class) = found.classes.class(word.as_deref()) {
                    self.cover.polygon(&rings, class);
                }
            }
            (_, geometry) => return Err(geometry),
        }
        Ok(())
    }
}

/// What a layer is for, by its shapes and its columns.
fn role_of(layer: &Layer<'_>, columns: &Columns<'_>) -> Role {
    match layer.kind {
        Some(ShapeKind::Points) => Role::Marks,
        Some(ShapeKind::Polylines) if columns.have_heights() => Role::Relief,
        _ => Role::Coast,
    }
}

/// What the table says of one shape: its record is counted from one.
#[derive(Clone, Copy)]
struct Said<'a> {
    columns: &'a Columns<'a>,
    record: usize,
}

/// What a layer came to, but for its shapes.
#[derive(Default)]
struct Found {
    odd: ReadOddities,
    without_height: usize,
    unlikely: usize,
    deleted: usize,
    classes: ClassTally,
}

impl Found {
    /// A height that ground can have; another stands for "not known", and is counted.
    fn likely(&mut self, height: Option<f64>) -> Option<f64> {
        let likely = height.filter(|metres| LIKELY_HEIGHT_M.contains(metres));
        self.unlikely += usize::from(likely.is_none() && height.is_some());
        likely
    }
}

/// A shape of another kind than its layer holds.
fn wrong_kind(file: &str, record: usize, geometry: &Geometry) -> ChartError {
    let kind = match geometry {
        Geometry::Points(_) => "point",
        Geometry::Lines(_) => "polyline",
        _ => "polygon",
    };
    ChartError::ShapeKind { file: file.to_owned(), record, kind: kind.to_owned() }
}

/// A mark from a point and its attributes. An unnamed one is called by what and where it is.
fn charted(
    point: LonLat,
    name: Option<String>,
    kind: Option<&str>,
    metres: Option<f64>,
    sigma: GroundRange,
) -> ChartedMark {
    let kind = kind.map_or(MarkKind::Other, MarkKind::from_attribute);
    let position = point.position();
    let named = name.is_some();
    let word = if kind == MarkKind::Other { "mark" } else { kind.as_str() };
    let mark = Mark {
        name: name.unwrap_or_else(|| format!("{word} at {position}")),
        named,
        kind,
        position,
        height: metres.map_or(Height::SEA_LEVEL, height_of),
        extent: GroundRange::ZERO,
        sigma,
        salience: CHARTED_SALIENCE,
    };
    ChartedMark { mark, has_height: metres.is_some() }
}

fn check_role(
    source: &Source<'_>,
    layer: &Layer<'_>,
    role: Role,
    key: &str,
) -> Result<(), ChartError> {
    let fits = match (role, layer.kind) {
        (_, None) => true,
        (Role::Marks, Some(kind)) => kind == ShapeKind::Points,
        (Role::Cover, Some(kind)) => kind == ShapeKind::Polygons,
        (_, Some(kind)) => kind != ShapeKind::Points,
    };
    if fits {
        return Ok(());
    }
    Err(ChartError::Role {
        file: source.name_of(&layer.path),
        key: key.to_owned(),
        holds: layer.kind.map_or("nothing", ShapeKind::as_str).to_owned(),
    })
}

/// Whether a file is a layer.
pub(super) fn is_shape(file: &str) -> bool {
    has_ending(file, &["shp"])
}

/// Files by their names in small letters; of several that are alike the first.
pub(super) fn by_name(files: &[String]) -> HashMap<String, &String> {
    let mut by_name = HashMap::with_capacity(files.len());
    for file in files {
        by_name.entry(file.to_ascii_lowercase()).or_insert(file);
    }
    by_name
}

/// "did you mean" the nearest, or all there are.
fn nearest_or_all(asked: &str, held: &[&str], all: &str) -> String {
    let nearest = held
        .iter()
        .map(|name| (strsim::jaro_winkler(&asked.to_lowercase(), &name.to_lowercase()), *name))
        .filter(|(likeness, _)| *likeness > 0.8)
        .max_by(|a, b| a.0.total_cmp(&b.0));
    match nearest {
        Some((_, name)) => format!("did you mean \"{}\"?", sanitised(name)),
        None if held.is_empty() => format!("{all} none"),
        None => {
            let some: Vec<String> = held.iter().take(12).map(|name| sanitised(name)).collect();
            format!("{all}: {}", some.join(", "))
        }
    }
}
