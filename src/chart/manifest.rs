//! `chart.toml`: what a chart's folder says about itself. Everything in it is optional.

use std::path::{Component, Path};
use std::sync::Arc;

use miette::NamedSource;
use serde::Deserialize;

use super::accuracy::Accuracy;
use super::cover::Terrain;
use super::error::ChartError;
use super::ground::Profile;
use super::shapes::sanitised;
use crate::text::{covered, place_to_show, shortened};
use crate::units::{GroundRange, Height};

/// The file in which a chart's folder says what it holds.
pub(super) const MANIFEST: &str = "chart.toml";

/// How alike a key must be to a known one to be offered (Jaro-Winkler, 1 is the same).
const LIKE_ENOUGH: f64 = 0.7;

/// The most of a word from the file that a message repeats.
const SHOWN: usize = 60;

/// The whole file.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Manifest {
    pub(super) name: Option<String>,
    pub(super) layers: Option<Layers>,
    #[serde(default)]
    pub(super) attributes: Attributes,
    pub(super) grids: Option<Grids>,
    #[serde(default)]
    accuracy: AccuracyTable,
    #[serde(default)]
    defaults: DefaultsTable,
}

/// Which layers play which role.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Layers {
    #[serde(default)]
    pub(super) coast: Vec<String>,
    #[serde(default)]
    pub(super) relief: Vec<String>,
    #[serde(default)]
    pub(super) marks: Vec<String>,
    #[serde(default)]
    pub(super) cover: Vec<String>,
}

impl Layers {
    /// Their paths by key.
    fn keyed(&self) -> [(&'static str, &[String]); 4] {
        [
            ("layers.coast", self.coast.as_slice()),
            ("layers.relief", self.relief.as_slice()),
            ("layers.marks", self.marks.as_slice()),
            ("layers.cover", self.cover.as_slice()),
        ]
    }

    /// All their paths.
    pub(super) fn all(&self) -> impl Iterator<Item = &str> {
        self.keyed().into_iter().flat_map(|(_, paths)| paths).map(String::as_str)
    }
}

/// What the attributes are called.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Attributes {
    pub(super) height: Option<String>,
    pub(super) name: Option<String>,
    pub(super) kind: Option<String>,
    pub(super) cover: Option<String>,
}

/// Which files are grids.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Grids {
    #[serde(default)]
    pub(super) elevation: Vec<String>,
}

#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct AccuracyTable {
    point_sigma_nm: Option<f64>,
    shift_sigma_nm: Option<f64>,
}

#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct DefaultsTable {
    shore_height_ft: Option<f64>,
    rise_percent: Option<f64>,
    height_cap_ft: Option<f64>,
    terrain: Option<String>,
}

impl Manifest {
    /// Reads the text of a `chart.toml`.
    pub(super) fn parse(file: &str, text: &str) -> Result<Self, ChartError> {
        let manifest: Self = toml::from_str(text).map_err(|error| refused(file, text, &error))?;
        manifest.check_paths(file)?;
        Ok(manifest)
    }

    /// The accuracy it states, or the defaults.
    pub(super) fn accuracy(&self, file: &str) -> Result<Accuracy, ChartError> {
        let miles = |key, value: Option<f64>, default, least| {
            let value = checked(file, key, value, default, least, 10.0)?;
            Ok(GroundRange::from_nautical_miles(value).unwrap_or_default())
        };
        let table = &self.accuracy;
        let default = Accuracy::default();
        Ok(Accuracy {
            point_sigma: miles(
                "accuracy.point_sigma_nm",
                table.point_sigma_nm,
                default.point_sigma.nautical_miles(),
                0.001,
            )?,
            shift_sigma: miles(
                "accuracy.shift_sigma_nm",
                table.shift_sigma_nm,
                default.shift_sigma.nautical_miles(),
                0.0,
            )?,
        })
    }

    /// The ground it states where nothing else tells, or the defaults.
    pub(super) fn profile(&self, file: &str) -> Result<Profile, ChartError> {
        let table = &self.defaults;
        let default = Profile::default();
        let feet = |key, value, default: Height| {
            let value = checked(file, key, value, default.feet(), 0.0, 30_000.0)?;
            Ok(Height::from_feet(value).unwrap_or_default())
        };
        Ok(Profile {
            shore: feet("defaults.shore_height_ft", table.shore_height_ft, default.shore)?,
            rise: checked(
                file,
                "defaults.rise_percent",
                table.rise_percent,
                100.0 * default.rise,
                0.0,
                200.0,
            )? / 100.0,
            cap: feet("defaults.height_cap_ft", table.height_cap_ft, default.cap)?,
        })
    }

    /// The class of ground that it states for all that nothing classes.
    pub(super) fn terrain(&self, file: &str) -> Result<Option<Terrain>, ChartError> {
        let Some(word) = &self.defaults.terrain else { return Ok(None) };
        let classes = Terrain::ALL.map(Terrain::as_str).join(", ");
        Terrain::from_word(word).map(Some).ok_or_else(|| ChartError::Terrain {
            file: file.to_owned(),
            key: "defaults.terrain",
            word: sanitised(word),
            help: format!("the classes are {classes}"),
        })
    }

    fn check_paths(&self, file: &str) -> Result<(), ChartError> {
        let layers = self.layers.iter().flat_map(Layers::keyed);
        let grids = self.grids.iter().map(|grids| ("grids.elevation", grids.elevation.as_slice()));
        for (key, paths) in layers.chain(grids) {
            for path in paths {
                let inside = Path::new(path)
                    .components()
                    .all(|part| matches!(part, Component::Normal(_) | Component::CurDir));
                // Either slash, whatever the system the chart was made on.
                if !inside || path.contains('\\') || path.contains(':') {
                    return Err(ChartError::Outside {
                        file: file.to_owned(),
                        key: key.to_owned(),
                        path: sanitised(path),
                    });
                }
            }
        }
        Ok(())
    }
}

fn checked(
    file: &str,
    key: &'static str,
    value: Option<f64>,
    default: f64,
    least: f64,
    most: f64,
) -> Result<f64, ChartError> {
    let value = value.unwrap_or(default);
    if (least..=most).contains(&value) {
        Ok(value)
    } else {
        Err(ChartError::Value { file: file.to_owned(), key, value, least, most })
    }
}

/// Tells what is wrong in the text, where, and for a key not known which one may be meant.
fn refused(file: &str, text: &str, error: &toml::de::Error) -> ChartError {
    let told = error.message();
    let mut quoted = told.split('`').skip(1).step_by(2);
    let (message, help) = match quoted.next().filter(|_| told.starts_with("unknown field")) {
        Some(key) => {
            let key = shortened(key, SHOWN);
            (format!("{file}: unknown key \"{key}\""), offer(&key, quoted))
        }
        None => (format!("{file}: {}", shortened(told, 200)), None),
    };
    ChartError::Manifest {
        message,
        text: Arc::new(NamedSource::new(file, covered(text))),
        place: error.span().and_then(|at| place_to_show(text, at)).map(Into::into),
        help,
    }
}

fn offer<'a>(key: &str, known: impl Iterator<Item = &'a str>) -> Option<String> {
    let known: Vec<&str> = known.collect();
    let nearest = known
        .iter()
        .map(|name| (strsim::jaro_winkler(key, name), *name))
        .max_by(|a, b| a.0.total_cmp(&b.0))?;
    Some(if nearest.0 >= LIKE_ENOUGH {
        format!("did you mean \"{}\"?", nearest.1)
    } else {
        format!("known here: {}", known.join(", "))
    })
}

/// Whether a path fits a pattern with `*` for any run of letters within one folder.
pub(super) fn fits(pattern: &str, path: &str) -> bool {
    let pattern = pattern.trim_start_matches("./");
    let (mut parts, mut names) = (pattern.split('/'), path.split('/'));
    loop {
        match (parts.next(), names.next()) {
            (Some(part), Some(name)) if part_fits(part, name) => {}
            (None, None) => return true,
            _ => return false,
        }
    }
}

fn part_fits(pattern: &str, name: &str) -> bool {
    let mut pieces = pattern.split('*');
    let Some(mut rest) = pieces.next().and_then(|start| name.strip_prefix(start)) else {
        return false;
    };
    let pieces: Vec<&str> = pieces.collect();
    let Some((end, middle)) = pieces.split_last() else { return rest.is_empty() };
    for piece in middle {
        match rest.find(piece) {
            Some(at) => rest = rest.get(at + piece.len()..).unwrap_or_default(),
            None => return false,
        }
    }
    rest.ends_with(end)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns_stay_in_their_folder() {
        assert!(fits("dem/*.hgt", "dem/N22W160.hgt"));
        assert!(fits("*.tif", "a.tif"));
        assert!(!fits("*.tif", "dem/a.tif"));
        assert!(!fits("dem/*.hgt", "dem/N22W160.hgt.aux"));
        assert!(fits("dem/N*W*.hgt", "dem/N22W160.hgt"));
        assert!(fits("coast.shp", "coast.shp"));
    }

    #[test]
    fn an_unknown_key_gets_the_nearest() {
        let error = Manifest::parse("c/chart.toml", "[layers]\ncoats = [\"a.shp\"]").unwrap_err();
        let ChartError::Manifest { message, help, .. } = error else { panic!("{error:?}") };
        assert_eq!(message, "c/chart.toml: unknown key \"coats\"");
        assert_eq!(help.unwrap(), "did you mean \"coast\"?");
    }

    #[test]
    fn a_path_that_leaves_the_folder_is_refused() {
        for path in ["../x.shp", "/x.shp", "a/../../x.shp", "..\\\\x.shp", "C:x.shp"] {
            let text = format!("[layers]\ncoast = [\"{path}\"]");
            let error = Manifest::parse("c/chart.toml", &text).unwrap_err();
            assert!(matches!(error, ChartError::Outside { .. }), "{error:?}");
        }
    }

    #[test]
    fn figures_have_ranges() {
        let manifest = Manifest::parse("c", "[accuracy]\npoint_sigma_nm = 0").unwrap();
        assert_eq!(
            manifest.accuracy("c/chart.toml").unwrap_err().to_string(),
            "c/chart.toml: accuracy.point_sigma_nm = 0 is outside 0.001 to 10"
        );
    }
}
