use proj4rs::Proj;
use proj4rs::transform::transform;

use super::dbf::sanitised;
use crate::chart::coast::LonLat;
use crate::chart::error::ChartError;
use crate::units::Angle;

/// One degree in radians, as `.prj` files write it; those of other writers differ in the last digits.
const DEGREE_UNIT: f64 = 0.017_453_292_5;

/// Equatorial radius in metres and inverse flattening of WGS84 and GRS80, which differ in neither by as much
/// as the margins beside them (definitions, from memory).
const WGS84_RADIUS_M: (f64, f64) = (6_378_137.0, 1.0);
const WGS84_INVERSE_FLATTENING: (f64, f64) = (298.257, 0.001);

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
    /// libraries pass a datum they do not know unshifted, which puts a coast a hundred metres off. A shift of
    /// nothing on another ellipsoid is written where the shift is not known: taken at its word it puts a
    /// coast some 240 m off (Clarke 1866), or 11 NM (a sphere).
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
        let definition = of_web_maps(text, definition);
        if !(definition.contains("+towgs84=") || definition.contains("+datum=WGS84")) {
            return Err(refuse("how its datum lies to WGS84 is not stated".to_owned()));
        }
        if is_shift_of_nothing(&definition) && !is_on_wgs84_ellipsoid(&definition) {
            let why =
                "it states a shift of nothing to WGS84 on another ellipsoid than that of WGS84";
            return Err(refuse(why.to_owned()));
        }
        if definition.starts_with("+proj=longlat") {
            if !in_degrees(text) {
                return Err(refuse("its angles are not in degrees".to_owned()));
            }
            // The ellipsoid is that of WGS84, by the above.
            if is_shift_of_nothing(&definition) && !definition.contains("+pm=") {
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

/// A definition as it is meant where it is the Mercator of web maps in GDAL's older notation: by its names
/// that of an ellipsoid, which an extension, not read by the library, puts on a sphere. Taken by its names
/// alone latitudes are up to 11 NM off.
fn of_web_maps(text: &str, definition: String) -> String {
    let is_on_sphere = text.contains("+proj=merc") && text.contains("+nadgrids=@null");
    match definition.strip_prefix("+proj=merc ") {
        Some(rest) if is_on_sphere => format!("+proj=webmerc {rest}"),
        _ => definition,
    }
}

/// What a definition says under a key such as `+a=`.
fn said<'d>(definition: &'d str, key: &str) -> Option<&'d str> {
    definition.split_whitespace().find_map(|word| word.strip_prefix(key))
}

/// Whether the shift to WGS84 that a definition states is none.
fn is_shift_of_nothing(definition: &str) -> bool {
    let is_nothing = |figure: &str| figure.parse().is_ok_and(|figure: f64| figure == 0.0);
    said(definition, "+towgs84=").is_some_and(|shift| shift.split(',').all(is_nothing))
}

/// Whether the ellipsoid of a definition is that of WGS84, or GRS80.
fn is_on_wgs84_ellipsoid(definition: &str) -> bool {
    let near = |key: &str, (known, margin): (f64, f64)| {
        let figure: Option<f64> = said(definition, key).and_then(|figure| figure.parse().ok());
        figure.is_some_and(|figure| (figure - known).abs() <= margin)
    };
    let named = said(definition, "+ellps=").or_else(|| said(definition, "+datum="));
    named.is_some_and(|name| matches!(name, "WGS84" | "GRS80"))
        || (near("+a=", WGS84_RADIUS_M) && near("+rf=", WGS84_INVERSE_FLATTENING))
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

    /// Geographic, on this ellipsoid, with a shift of nothing where it is stated.
    fn on(ellipsoid: &str, shift: &str) -> Result<Projection, String> {
        let prj = format!(
            r#"GEOGCS["t",DATUM["t",SPHEROID["t",{ellipsoid}]{shift}],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]]"#
        );
        Projection::from_prj("t.prj", &prj).map_err(|error| error.to_string())
    }

    #[test]
    fn a_shift_of_nothing_is_believed_on_the_ellipsoid_of_wgs84_alone() {
        const NOTHING: &str = ",TOWGS84[0,0,0,0,0,0,0]";
        // WGS84 and GRS80; then Clarke 1866, a sphere, and WGS72 (from memory).
        for ellipsoid in ["6378137,298.257223563", "6378137.0,298.257222101"] {
            let place = on(ellipsoid, NOTHING).unwrap().to_wgs84(10.0, 50.0).unwrap();
            assert_eq!(place, LonLat { lon: 10.0, lat: 50.0 }, "{ellipsoid}");
        }
        for ellipsoid in ["6378206.4,294.9786982", "6371000,0", "6378135,298.26"] {
            let told = on(ellipsoid, NOTHING).map(|_| ()).unwrap_err();
            let why =
                "it states a shift of nothing to WGS84 on another ellipsoid than that of WGS84";
            assert_eq!(told, format!("t.prj: \"t\" is refused: {why}"), "{ellipsoid}");
        }
        // A shift that is one tells how the datum lies, whatever its ellipsoid.
        assert!(on("6378206.4,294.9786982", ",TOWGS84[-8,160,176,0,0,0,0]").is_ok());
    }

    /// At 10 E 50 N: x is 6,378,137 m times the radians of 10 degrees, y 6,378,137 m times ln tan 70 degrees
    /// (computed).
    #[test]
    fn the_mercator_of_web_maps_is_read() {
        let geographic = r#"GEOGCS["w",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]"#;
        let prj = format!(
            r#"PROJCS["w",{geographic},PROJECTION["Mercator_Auxiliary_Sphere"],PARAMETER["False_Easting",0.0],PARAMETER["False_Northing",0.0],PARAMETER["Central_Meridian",0.0],PARAMETER["Standard_Parallel_1",0.0],PARAMETER["Auxiliary_Sphere_Type",0.0],UNIT["Meter",1.0]]"#
        );
        let extended = format!(
            r#"PROJCS["w",{geographic},PROJECTION["Mercator_1SP"],PARAMETER["central_meridian",0],PARAMETER["scale_factor",1],PARAMETER["false_easting",0],PARAMETER["false_northing",0],UNIT["metre",1],AXIS["X",EAST],AXIS["Y",NORTH],EXTENSION["PROJ4","+proj=merc +a=6378137 +b=6378137 +lat_ts=0 +lon_0=0 +x_0=0 +y_0=0 +k=1 +units=m +nadgrids=@null +wktext +no_defs"],AUTHORITY["EPSG","3857"]]"#
        );
        for prj in [prj, extended] {
            let found = Projection::from_prj("w.prj", &prj).unwrap();
            let place = found.to_wgs84(1_113_194.908, 6_446_275.841).unwrap();
            assert!(
                (place.lon - 10.0).abs() < 1e-6 && (place.lat - 50.0).abs() < 1e-6,
                "{place:?}"
            );
        }
    }
}
