//! A real coast, read as it comes: Natural Earth's Tasmania (`tests/reference/natural-earth-clip`).
//!
//! Capes are found where the data has them, and a place is fixed from what was measured on its
//! shoreline by a calculation of this file's own: its own reading of the shapefile, its own
//! geodesic, its own slant range.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use std::fmt::Write;
use std::path::{Path, PathBuf};

use foreland::chart::{Chart, MarkKind};
use foreland::contact::Sightings;
use foreland::fix::{Measure, Options, Verdict, fix};
use foreland::geodesy::{LocalPlane, Position, distance};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

const SEED: u64 = 4_338_146;
const RADIAN: f64 = std::f64::consts::PI / 180.0;
const MILE: f64 = 1852.0;

/// Latitude and longitude in degrees.
type Place = (f64, f64);

/// Capes as a gazetteer gives them, from memory, to about a minute of arc.
const CAPES: [(&str, Place); 11] = [
    ("South East Cape", (-43.643, 146.827)),
    ("South West Cape", (-43.575, 146.033)),
    ("Tasman Head", (-43.517, 147.317)),
    ("Cape Pillar", (-43.228, 148.006)),
    ("Cape Raoul", (-43.242, 147.792)),
    ("Cape Sorell", (-42.200, 145.167)),
    ("Woolnorth Point", (-40.640, 144.717)),
    ("Eddystone Point", (-40.993, 148.348)),
    ("Cape Portland", (-40.743, 147.950)),
    ("Stokes Point, King Island", (-40.160, 143.930)),
    ("Cape Wickham, King Island", (-39.590, 143.945)),
];
/// Half the beam of the built-in set "patrol", degrees.
const HALF_BEAM: f64 = 1.2;

/// How far a found headland may lie from the remembered cape: a minute of memory, and what the
/// scale of 1:10,000,000 takes from a shore. The data's own end of King Island is 2.0 NM short of
/// Stokes Point.
const CAPE_TOLERANCE_NM: f64 = 2.5;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/natural-earth-clip")
}

/// Every vertex of the shapefile, by its published layout and no reader of ours.
fn vertices() -> Vec<Place> {
    let bytes = std::fs::read(folder().join("tasmania.shp")).unwrap();
    let whole = |at: usize| i32::from_le_bytes(bytes[at..at + 4].try_into().unwrap()) as usize;
    let real = |at: usize| f64::from_le_bytes(bytes[at..at + 8].try_into().unwrap());
    let (mut at, mut found) = (100, Vec::new());
    while at < bytes.len() {
        let words = i32::from_be_bytes(bytes[at + 4..at + 8].try_into().unwrap()) as usize;
        let (parts, points) = (whole(at + 44), whole(at + 48));
        let first = at + 52 + 4 * parts;
        found.extend((0..points).map(|i| (real(first + 16 * i + 8), real(first + 16 * i))));
        at += 8 + 2 * words;
    }
    found
}

/// Metres and initial direction in degrees from one place to another: Vincenty's inverse formula
/// (Survey Review 23, 1975; from memory), on WGS84.
fn inverse(from: Place, to: Place) -> (f64, f64) {
    let (a, f) = (6_378_137.0, 1.0 / 298.257_223_563);
    let b = a * (1.0 - f);
    let reduced = |latitude: f64| ((1.0 - f) * (latitude * RADIAN).tan()).atan();
    let ((su1, cu1), (su2, cu2)) = (reduced(from.0).sin_cos(), reduced(to.0).sin_cos());
    let across = (to.1 - from.1) * RADIAN;
    let mut lambda = across;
    loop {
        let (sl, cl) = lambda.sin_cos();
        let sin = (cu2 * sl).hypot(cu1 * su2 - su1 * cu2 * cl);
        if sin == 0.0 {
            return (0.0, 0.0);
        }
        let cos = su1 * su2 + cu1 * cu2 * cl;
        let sigma = sin.atan2(cos);
        let sin_alpha = cu1 * cu2 * sl / sin;
        let cos2_alpha = 1.0 - sin_alpha * sin_alpha;
        let middle = cos - 2.0 * su1 * su2 / cos2_alpha;
        let c = f / 16.0 * cos2_alpha * (4.0 + f * (4.0 - 3.0 * cos2_alpha));
        let inner = middle + c * cos * (2.0 * middle * middle - 1.0);
        let next = across + (1.0 - c) * f * sin_alpha * (sigma + c * sin * inner);
        if (next - lambda).abs() > 1e-12 {
            lambda = next;
            continue;
        }
        let u2 = cos2_alpha * (a * a - b * b) / (b * b);
        let big_a = 1.0 + u2 / 16384.0 * (4096.0 + u2 * (u2 * (320.0 - 175.0 * u2) - 768.0));
        let big_b = u2 / 1024.0 * (256.0 + u2 * (u2 * (74.0 - 47.0 * u2) - 128.0));
        let square = middle * middle;
        let third = middle / 6.0 * (4.0 * sin * sin - 3.0) * (4.0 * square - 3.0);
        let delta =
            big_b * sin * (middle + big_b / 4.0 * (cos * (2.0 * square - 1.0) - big_b * third));
        let direction = (cu2 * sl).atan2(cu1 * su2 - su1 * cu2 * cl) / RADIAN;
        return (b * big_a * (sigma - delta), direction.rem_euclid(360.0));
    }
}

/// Near enough normal, variance one: twelve even draws summed.
fn normal(draws: &mut ChaCha8Rng) -> f64 {
    (0..12).map(|_| (draws.next_u64() >> 11) as f64 / (1u64 << 53) as f64).sum::<f64>() - 6.0
}

/// Range in miles and bearing in degrees of a cape, read with errors from a place at 3,000 ft: the
/// bearing is that of its tip, and the range is to the nearest shore in the beam there.
fn read(
    shore: &[Place],
    from: Place,
    cape: Place,
    bias: f64,
    draws: &mut ChaCha8Rng,
) -> (f64, f64) {
    let (own_m, radius) = (914.4, 6_371_000.0);
    let (tip, direction) = inverse(from, cape);
    let read = direction + normal(draws);
    let metres = shore
        .iter()
        .filter(|vertex| inverse(cape, **vertex).0 < 2.5 * MILE)
        .map(|vertex| inverse(from, *vertex))
        .filter(|(_, seen)| ((seen - read + 540.0).rem_euclid(360.0) - 180.0).abs() < HALF_BEAM)
        .map(|(metres, _)| metres)
        .fold(f64::INFINITY, f64::min);
    let metres = if metres.is_finite() { metres } else { tip };
    // The chord from the antenna to the water's edge (law of cosines).
    let turn = (metres / radius).cos();
    let top: f64 = radius + own_m;
    let slant = (top * top + radius * radius - 2.0 * top * radius * turn).sqrt() / MILE;
    (slant + 0.2 * normal(draws), (read + bias).rem_euclid(360.0))
}

/// The head of a sightings file.
fn reckoned(at: Place, sigma_nm: f64) -> String {
    format!(
        "[reckoning]\ntime = \"2031-06-01T00:00:00Z\"\nposition = \"{:.5},{:.5}\"\n\
         sigma_nm = {sigma_nm:.1}\n[own]\nheight_ft = 3000\nheading_deg = 350.0\n\
         heading_kind = \"true\"\n[radar]\nset = \"patrol\"\nrange_sigma_nm = 0.2\n\
         bearing_sigma_deg = 1.0\n[chart]\npoint_sigma_nm = 0.1\nshift_sigma_nm = 0.05\n",
        at.0, at.1
    )
}

#[test]
fn marks_are_found_where_the_data_has_capes() {
    let chart = Chart::open(&[folder()]).unwrap();
    let headlands: Vec<_> =
        chart.marks().iter().filter(|(_, mark)| mark.kind == MarkKind::Headland).collect();
    let mut missing = Vec::new();
    for (name, (latitude, longitude)) in CAPES {
        let cape = Position::new(latitude, longitude).unwrap();
        let nearest = headlands
            .iter()
            .map(|(_, mark)| distance(mark.position, cape).nautical_miles())
            .fold(f64::MAX, f64::min);
        println!("{name}: {nearest:.2} NM");
        if nearest > CAPE_TOLERANCE_NM {
            missing.push((name, nearest));
        }
    }
    assert!(missing.is_empty(), "{missing:?}");
    // The coast of Tasmania has tens of headlands of a mile and a half and more, not hundreds.
    assert!((40..300).contains(&headlands.len()), "{}", headlands.len());
}

#[test]
fn a_place_is_fixed_from_what_this_coast_would_show() {
    // South of the Tasman Peninsula at 3,000 ft; the reckoning is out by 4 miles on 060.
    let truth: Place = (-43.60, 147.70);
    let reckoning = (truth.0 + 2.0 / 60.0, truth.1 + 3.46 / 43.45);
    let shore = vertices();
    let mut draws = ChaCha8Rng::seed_from_u64(SEED);
    let bias = 0.7;
    let mut text = reckoned(reckoning, 4.0);
    for (label, cape) in
        [("A", "Tasman Head"), ("B", "Cape Raoul"), ("C", "Cape Pillar"), ("D", "South East Cape")]
    {
        let cape = CAPES.iter().find(|(name, _)| *name == cape).unwrap().1;
        let (range, bearing) = read(&shore, truth, cape, bias, &mut draws);
        let _ = write!(
            text,
            "[[contact]]\nlabel = \"{label}\"\nrange_nm = {range:.2}\nbearing_deg = {bearing:.1}\n"
        );
    }
    let chart = Chart::open(&[folder()]).unwrap();
    let sightings = Sightings::parse(&text, "tasmania.toml", &folder()).unwrap();
    let answer = fix(&chart, &sightings, &Options::default());
    assert_eq!(answer.verdict, Verdict::Fixed, "seed {SEED}\n{text}\n{answer:#?}");
    let found = answer.position.unwrap();
    let truth = Position::new(truth.0, truth.1).unwrap();
    let off = LocalPlane::new(found).to_plane(truth);
    // χ² of two degrees of freedom: 13.8 holds 99.9 % (table value).
    let squared = answer.covariance.unwrap().mahalanobis_squared(off.east, off.north);
    let miles = distance(found, truth).nautical_miles();
    println!("{miles:.2} NM from the truth, squared distance {squared:.2}");
    assert!(squared < 13.8 && miles < 1.0, "seed {SEED}: {miles} NM, {squared}");
}

/// Two capes without names off the south coast, and what the first advice claims and comes to; none
/// where nothing is to be settled.
fn settled(chart: &Chart, shore: &[Place], draws: &mut ChaCha8Rng) -> Option<(f64, bool)> {
    const SIGMA_NM: f64 = 10.0;
    let truth: Place = (-43.75 + 0.10 * normal(draws), 147.2 + 0.3 * normal(draws));
    let off = [0, 1].map(|_| SIGMA_NM * normal(draws) / 60.0);
    let reckoning = (truth.0 + off[0], truth.1 + off[1] / (truth.0 * RADIAN).cos());
    let bias = normal(draws);
    let mut text = reckoned(reckoning, SIGMA_NM);
    let first = (draws.next_u64() % 5) as usize;
    for (_, cape) in [CAPES[first], CAPES[(first + 1) % 5]] {
        let (range, bearing) = read(shore, truth, cape, bias, draws);
        let _ = write!(text, "[[contact]]\nrange_nm = {range:.2}\nbearing_deg = {bearing:.1}\n");
    }
    let answer = |text: &str| {
        let sightings = Sightings::parse(text, "tasmania.toml", &folder()).unwrap();
        fix(chart, &sightings, &Options::default())
    };
    let before = answer(&text);
    let next = before.next.first().filter(|_| before.verdict == Verdict::Ambiguous)?;
    let claimed = next.settles?;
    let mark = chart.marks().find(&next.mark).and_then(|id| chart.marks().get(id))?;
    let place = (mark.position.latitude(), mark.position.longitude());
    let (range, bearing) = read(shore, truth, place, bias, draws);
    text += "[[contact]]\n";
    let ranged = matches!(next.measure, Measure::Range | Measure::RangeAndBearing);
    if ranged {
        let _ = writeln!(text, "range_nm = {range:.2}");
    }
    if next.measure != Measure::Range {
        let _ = writeln!(text, "bearing_deg = {bearing:.1}");
    }
    // A lone range or bearing is given with the name, as it is asked for.
    if next.measure != Measure::RangeAndBearing {
        let _ = writeln!(text, "mark = \"{}\"\nmark_confidence = 0.95", next.mark);
    }
    let truth = Position::new(truth.0, truth.1).unwrap();
    let right = answer(&text).position.is_some_and(|at| distance(at, truth).nautical_miles() < 3.0);
    Some((claimed, right))
}

#[test]
fn what_is_advised_on_this_coast_settles_no_less_often_than_claimed() {
    // A true claim fails once in 370.
    const SIGMAS: f64 = 3.0;
    let (chart, shore) = (Chart::open(&[folder()]).unwrap(), vertices());
    let mut draws = ChaCha8Rng::seed_from_u64(SEED);
    let trials: Vec<(f64, bool)> =
        (0..80).filter_map(|_| settled(&chart, &shore, &mut draws)).collect();
    let claimed: f64 = trials.iter().map(|(claim, _)| claim).sum();
    let spread = trials.iter().map(|(claim, _)| claim * (1.0 - claim)).sum::<f64>().sqrt();
    let found = trials.iter().filter(|(_, right)| *right).count() as f64;
    println!(
        "seed {SEED}: of {} trials {claimed:.1} claimed, {found} found, standard deviation \
         {spread:.1}",
        trials.len()
    );
    assert!(trials.len() >= 20);
    assert!(claimed - found < SIGMAS * spread + 1.0);
}
