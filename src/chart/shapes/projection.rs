use proj4rs::Proj;
use proj4rs::transform::transform;

use super::dbf::sanitised;
use crate::chart::coast::LonLat;
use crate::chart::error::ChartError;
use crate::units::Angle;

/// One degree in radians, as `.prj` files write it; those of other writers differ in the last digits.
const DEGREE_UNIT: f64 = 0.017_453_292_5;

/// No definition nests deeper: a compound system in the newer notation has some ten levels.
const MOST_NESTED: usize = 32;

/// How the coordinates of a layer become longitude and latitude on WGS84.
pub(in crate::chart) enum Projection {
    /// They are that already; with how this is known.
    Geographic {
        /// In words, for reports.
        name: String,
        /// Whether a `.prj` says so.
        stated: bool,
    },
    /// They are reprojected.
    Projected {
        /// The name the `.prj` gives.
        name: String,
        /// From.
        from: Box<Proj>,
        /// To geographic WGS84.
        to: Box<Proj>,
    },
}

impl Projection {
    /// Where there is no `.prj`.
    pub(in crate::chart) fn assumed() -> Self {
        Self::Geographic { name: "none stated: taken as WGS84".to_owned(), stated: false }
    }

    /// From the text of a `.prj`.
    ///
    /// Refused by name where the datum is not known to be WGS84 or within a metre or two of it: the
    /// libraries pass a datum they do not know unshifted, which puts a coast a hundred metres off.
    pub(in crate::chart) fn from_prj(file: &str, text: &str) -> Result<Self, ChartError> {
        let name = name_of(text);
        let refuse = |why: String| ChartError::Projection {
            file: file.to_owned(),
            name: name.clone(),
            why: sanitised(&why),
        };
        // The library goes one step down the stack for each bracket.
        if nesting(text) > MOST_NESTED {
            return Err(refuse("its definition cannot be read".to_owned()));
        }
        let definition = proj4wkt::wkt_to_projstring(text.trim().trim_start_matches('\u{feff}'))
            .map_err(|_| refuse("its definition cannot be read".to_owned()))?;
        if !(definition.contains("+towgs84=") || definition.contains("+datum=WGS84")) {
            return Err(refuse("how its datum lies to WGS84 is not stated".to_owned()));
        }
        if definition.starts_with("+proj=longlat") {
            if !in_degrees(text) {
                return Err(refuse("its angles are not in degrees".to_owned()));
            }
            if is_unshifted(&definition) {
                return Ok(Self::Geographic { name, stated: true });
            }
        }
        let project = |definition: &str| {
            Proj::from_proj_string(definition).map_err(|error| refuse(error.to_string()))
        };
        let from = project(&definition)?;
        if !from.has_inverse() {
            return Err(refuse("its projection cannot be undone".to_owned()));
        }
        let to = project("+proj=longlat +a=6378137 +rf=298.257223563 +towgs84=0,0,0,0,0,0,0")?;
        Ok(Self::Projected { name, from: Box::new(from), to: Box::new(to) })
    }

    /// The projection in words.
    pub(in crate::chart) fn name(&self) -> String {
        match self {
            Self::Geographic { name, .. } => name.clone(),
            Self::Projected { name, .. } => format!("{name}, reprojected"),
        }
    }

    /// Whether a `.prj` states it.
    pub(in crate::chart) fn is_stated(&self) -> bool {
        !matches!(self, Self::Geographic { stated: false, .. })
    }

    /// One point as longitude and latitude; the text says why not.
    pub(in crate::chart) fn to_wgs84(&self, x: f64, y: f64) -> Result<LonLat, String> {
        match self {
            Self::Geographic { .. } => Ok(LonLat { lon: x, lat: y }),
            Self::Projected { from, to, .. } => {
                let mut point = if from.is_latlong() {
                    let radians = |degrees: f64| Angle::from_degrees(degrees).radians();
                    (radians(x), radians(y), 0.0)
                } else {
                    (x, y, 0.0)
                };
                transform(from, to, &mut point).map_err(|error| error.to_string())?;
                if !(point.0.is_finite() && point.1.is_finite()) {
                    return Err("it has no place on the Earth".to_owned());
                }
                Ok(LonLat {
                    lon: Angle::from_radians(point.0).degrees(),
                    lat: Angle::from_radians(point.1).degrees(),
                })
            }
        }
    }
}

/// Whether a geographic definition is WGS84 by itself: no shift to it that is one, and Greenwich its
/// meridian.
fn is_unshifted(definition: &str) -> bool {
    let shift = definition.split_whitespace().find_map(|word| word.strip_prefix("+towgs84="));
    let is_nothing = |figure: &str| figure.parse().is_ok_and(|figure: f64| figure == 0.0);
    shift.is_some_and(|shift| shift.split(',').all(is_nothing)) && !definition.contains("+pm=")
}

/// The first name in quotes: what the definition calls itself.
fn name_of(text: &str) -> String {
    let name = text.split('"').nth(1).unwrap_or("no name");
    sanitised(name).chars().take(80).collect()
}

/// How many brackets stand open at most.
fn nesting(text: &str) -> usize {
    let (mut open, mut most) = (0_usize, 0);
    for byte in text.bytes() {
        match byte {
            b'[' | b'(' => open += 1,
            b']' | b')' => open = open.saturating_sub(1),
            _ => {}
        }
        most = most.max(open);
    }
    most
}

/// Whether the unit of a geographic definition is the degree. Without a unit it is.
fn in_degrees(text: &str) -> bool {
    let upper = text.to_ascii_uppercase();
    let units = ["UNIT[", "ANGLEUNIT["];
    let Some(start) = units.iter().filter_map(|unit| upper.rfind(unit)).max() else { return true };
    upper
        .get(start..)
        .and_then(|unit| unit.split(',').nth(1))
        .and_then(|factor| {
            factor.trim_end_matches(|c: char| !c.is_ascii_digit()).trim().parse().ok()
        })
        .is_some_and(|factor: f64| (factor - DEGREE_UNIT).abs() < 1e-7)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Geographic, on the ellipsoid of WGS84, with this shift to it.
    fn shifted(towgs84: &str) -> LonLat {
        let prj = format!(
            r#"GEOGCS["t",DATUM["t",SPHEROID["WGS 84",6378137,298.257223563],TOWGS84[{towgs84}]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]]"#
        );
        Projection::from_prj("t.prj", &prj).unwrap().to_wgs84(10.0, 50.0).unwrap()
    }

    #[test]
    fn a_shift_is_taken_whichever_of_its_figures_it_is_in() {
        assert_eq!(shifted("0,0,0,0,0,0,0"), LonLat { lon: 10.0, lat: 50.0 });
        // Ten seconds of arc about the axis of the Earth turn every meridian by as much (definition).
        let turned = shifted("0,0,0,0,0,10,0");
        assert!(((turned.lon - 10.0).abs() - 10.0 / 3600.0).abs() < 1e-6, "{turned:?}");
        // Up by nine tenths of a metre along that axis: at 50 N that is 0.58 m of the meridian, 5.2e-6
        // degrees (computed).
        let moved = shifted("0,0,0.9,0,0,0,0");
        assert!((moved.lat - 50.0 - 5.2e-6).abs() < 3e-7, "{moved:?}");
    }
}
