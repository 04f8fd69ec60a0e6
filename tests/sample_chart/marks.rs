//! The named points of the chart.

use super::files::{self, Field, Named, Shape};
use super::land::{self, Ring, degrees};
use super::relief::summit;

type Row = (&'static str, &'static str, (f64, f64));

/// Points of the shore: each stands on the very turn that the coast was made with.
const HEADS: &[Row] = &[
    ("Tern Point", "headland", land::TERN_POINT),
    ("Fallow Head", "headland", land::FALLOW_HEAD),
    ("Fallow Ness", "headland", land::FALLOW_NESS),
    ("Sallow Head", "headland", (land::FALLOW_HEAD.0, land::FALLOW_HEAD.1 - land::PERIOD)),
    ("Sallow Ness", "headland", (land::FALLOW_NESS.0, land::FALLOW_NESS.1 - land::PERIOD)),
    ("Gannet Head", "headland", land::GANNET_HEAD),
    ("Corbel Point", "headland", land::CORBEL_POINT),
    ("Lantern Point", "headland", land::LANTERN_POINT),
    ("Cape Harrow", "headland", land::CAPE_HARROW),
];

const ISLES: &[Row] = &[
    ("Great Ember", "islet", land::GREAT_EMBER),
    ("Little Ember", "islet", land::LITTLE_EMBER),
    ("Saddle Isle", "islet", land::SADDLE_ISLE),
];

/// The highest ground near each of these.
const PEAKS: &[Row] = &[
    ("Varrow Hill", "peak", (9.4, -18.2)),
    ("North Varrow", "peak", (8.6, -11.0)),
    ("South Varrow", "peak", (8.2, -25.4)),
    ("Sallow Down", "peak", (7.5, 22.0)),
];

const OTHERS: &[(&str, &str, (f64, f64), i16)] = &[
    ("Lantern Light", "light", (-7.1, -28.45), 79),
    ("Ember Light", "light", (-14.5, -13.6), 96),
    ("Marlhaven", "town", (6.2, 7.5), 12),
    ("Marlhaven Mole Light", "light", (5.6, 7.9), 9),
    ("The Cinders", "other", (-10.4, -32.6), 4),
];

pub fn layer(rings: &[Ring], grid: &[i16]) -> Vec<Named> {
    let (mut shapes, mut rows) = (Vec::new(), Vec::new());
    let mut add = |name: &str, kind: &str, (x, y): (f64, f64), metres: i16| {
        shapes.push(Shape::Point(degrees(x, y)));
        rows.push(vec![name.to_owned(), kind.to_owned(), metres.to_string()]);
    };
    for &(name, kind, (x, y)) in HEADS {
        let shore = rings[0].iter().find(|s| (s.x, s.y) == (x, y)).unwrap();
        add(name, kind, (shore.x, shore.y), shore.cliff as i16);
    }
    for &(name, kind, (x, y)) in ISLES {
        add(name, kind, (x, y), summit(grid, x, y, 1.5).2);
    }
    for &(name, kind, (x, y)) in PEAKS {
        let top = summit(grid, x, y, 1.8);
        add(name, kind, (top.0, top.1), top.2);
    }
    for &(name, kind, at, metres) in OTHERS {
        add(name, kind, at, metres);
    }
    let fields = [Field::Text("NAME", 24), Field::Text("KIND", 10), Field::Number("ELEV_M", 6, 0)];
    files::layer("marks", &shapes, &fields, &rows)
}
