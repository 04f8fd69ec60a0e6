//! Which attributes of a layer's table say what, and what they say of a shape.

use super::layers::Role;
use super::manifest::Attributes;
use super::shapes::Table;
use crate::units::METRES_PER_FOOT;

/// Names that attributes of this meaning usually have; the first found is used.
const HEIGHT_NAMES: [&str; 16] = [
    "ELEV_M",
    "HEIGHT_M",
    "ELEV_FT",
    "HEIGHT_FT",
    "ELEV",
    "ELEVATION",
    "HEIGHT",
    "HGT",
    "CONTOUR",
    "ALT",
    "ALTITUDE",
    "ALT_M",
    "ALT_FT",
    "ELE",
    "CONTOUR_M",
    "CONTOUR_FT",
];
/// Names of depths, positive down, in the object catalogue of hydrographic offices: of a depth contour, and
/// the least of a depth area (from memory). Shapes that have one are no shore.
const DEPTH_NAMES: [&str; 2] = ["VALDCO", "DRVAL1"];

const NAME_NAMES: [&str; 7] = ["NAME", "NAME_EN", "OBJNAM", "LABEL", "TITLE", "NAMN", "NOM"];
const KIND_NAMES: [&str; 6] = ["KIND", "TYPE", "CLASS", "CATEGORY", "FEATURECLA", "FCLASS"];
const COVER_NAMES: [&str; 7] =
    ["COVER", "CLASS", "LANDCOVER", "LAND_COVER", "TERRAIN", "FCLASS", "TYPE"];

/// The columns used, by number.
pub(super) struct Columns<'t> {
    table: Option<&'t Table>,
    height: Option<usize>,
    name: Option<usize>,
    kind: Option<usize>,
    cover: Option<usize>,
    /// Heights are in feet.
    feet: bool,
}

impl<'t> Columns<'t> {
    /// Those that `chart.toml` names, else the first of the usual names.
    pub(super) fn of(table: Option<&'t Table>, named: &Attributes) -> Self {
        let column = |named: Option<&String>, usual: &[&str]| match named {
            Some(name) => table?.column(name),
            None => usual.iter().find_map(|name| table?.column(name)),
        };
        let height = column(named.height.as_ref(), &HEIGHT_NAMES);
        let feet = height
            .zip(table)
            .and_then(|(column, table)| table.names().nth(column))
            .is_some_and(is_in_feet);
        Self {
            table,
            height,
            name: column(named.name.as_ref(), &NAME_NAMES),
            kind: column(named.kind.as_ref(), &KIND_NAMES),
            cover: column(named.cover.as_ref(), &COVER_NAMES),
            feet,
        }
    }

    /// Whether one of them is of heights.
    pub(super) fn have_heights(&self) -> bool {
        self.height.is_some()
    }

    /// The name of a column of depths, where no other is of heights.
    pub(super) fn depths(&self) -> Option<&str> {
        let table = self.table.filter(|_| self.height.is_none())?;
        let depths = DEPTH_NAMES.iter().find_map(|name| table.column(name))?;
        table.names().nth(depths)
    }

    /// Those that a role reads, as the survey tells them.
    pub(super) fn used(&self, role: Role) -> Vec<String> {
        let uses: &[(&str, Option<usize>)] = match role {
            Role::Coast => &[],
            Role::Relief => &[("height", self.height)],
            Role::Cover => &[("cover", self.cover)],
            Role::Marks => &[("name", self.name), ("kind", self.kind), ("height", self.height)],
        };
        uses.iter()
            .filter_map(|(what, column)| {
                let name = self.table?.names().nth((*column)?)?;
                Some(match (*what, self.feet) {
                    ("height", true) => format!("{what}: {name}, in feet"),
                    ("height", false) => format!("{what}: {name}, in metres"),
                    _ => format!("{what}: {name}"),
                })
            })
            .collect()
    }

    /// In metres; `record` is counted from one, here and below.
    pub(super) fn height(&self, record: usize) -> Option<f64> {
        let height = self.table?.number(record.checked_sub(1)?, self.height?)?;
        Some(if self.feet { height * METRES_PER_FOOT } else { height })
    }

    pub(super) fn name(&self, record: usize) -> Option<String> {
        self.text(record, self.name)
    }

    pub(super) fn kind(&self, record: usize) -> Option<String> {
        self.text(record, self.kind)
    }

    pub(super) fn cover(&self, record: usize) -> Option<String> {
        self.text(record, self.cover)
    }

    fn text(&self, record: usize, column: Option<usize>) -> Option<String> {
        self.table?.text(record.checked_sub(1)?, column?)
    }
}

/// Whether the name of a column of heights says feet: FEET in it, or FT that is a word of its own: by itself,
/// between what are no letters, after small letters, or after a usual name of heights.
fn is_in_feet(name: &str) -> bool {
    let upper = name.to_ascii_uppercase();
    let mut words = upper.split(|c: char| !c.is_ascii_alphabetic());
    if upper.contains("FEET") || words.any(|word| word == "FT") {
        return true;
    }
    // Such as ElevFt: not Lift, whose f is small, and not DRAFT, before whose F there is no small letter.
    let stem = name.strip_suffix("Ft").or_else(|| name.strip_suffix("FT"));
    let is_after_small = stem.is_some_and(|stem| stem.ends_with(|c: char| c.is_ascii_lowercase()));
    is_after_small || upper.strip_suffix("FT").is_some_and(|stem| HEIGHT_NAMES.contains(&stem))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn feet_are_known_by_the_name_and_words_that_end_alike_are_not_taken_for_them() {
        let feet = "FT, feet, ELEV_FT, elev_ft, ELEV_FEET, HeightFeet, FT_MSL, ELEV_FT_NA, ELEV-FT, HGT1FT, \
                    ElevFt, elevFT, HGTFT, elevft, Z FT";
        for name in feet.split(", ") {
            assert!(is_in_feet(name), "{name}");
        }
        let others = "ELEV, ELEV_M, SHIFT, Shift, LIFT, lift_m, DRAFT, Draft, AFT, CRAFT_HT, LEFT, FTYPE, \
                      FOOTPRINT, SOFT_M";
        for name in others.split(", ").chain([""]) {
            assert!(!is_in_feet(name), "{name}");
        }
    }
}
