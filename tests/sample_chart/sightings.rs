//! The worked sets of sightings, measured from hidden places with seeded errors.

use std::fmt::Write;

use super::cast::{MILE, Place, along, line, nearest_shore, slant};
use super::draw::Draws;
use super::land::{self, Ring, degrees};

/// One sightings file and what the README must say of it.
pub struct Story {
    pub file: &'static str,
    pub text: String,
    pub truth: Vec<String>,
}

/// What is measured, how, and how many seconds after the reckoning.
struct Look {
    label: &'static str,
    at: (f64, f64),
    how: How,
    seconds: u32,
    relative: bool,
    /// The mark that it is, where the file says so.
    named: Option<&'static str>,
}

enum How {
    /// The nearest shore within this many miles of the mark.
    Near(f64),
    Centre,
}

/// What tells the direction of an echo.
#[derive(Clone, Copy, PartialEq)]
enum Shown {
    Bearing,
    /// The deflections of two fixed lobes, their ratio read to so many decibels.
    Deflections(f64),
}

struct Scene {
    file: &'static str,
    heading: &'static str,
    set: &'static str,
    stream: u64,
    reckoning: Place,
    sigma_nm: f64,
    /// From the reckoning to the truth, at the reckoning's time: miles and degrees.
    offset: (f64, f64),
    /// Stated, then true: track and knots.
    stated: (f64, f64),
    made: (f64, f64),
    own_heading: f64,
    height_ft: f64,
    hour: &'static str,
    /// One standard deviation: miles and degrees; the bias that every bearing shares.
    sigma: (f64, f64),
    bias: f64,
    landfall: Option<(f64, f64)>,
    shown: Shown,
    traced: Option<Traced>,
    looks: Vec<Look>,
}

/// An edge of painted coast, traced from bearing to bearing, degrees.
struct Traced {
    label: &'static str,
    from: u32,
    to: u32,
    step: u32,
    seconds: u32,
    half_beam: f64,
}

pub fn stories(rings: &[Ring]) -> Vec<Story> {
    let scenes = [landfall(), tour(), lookalike(), trace(), outline()];
    scenes.iter().map(|scene| story(scene, rings)).collect()
}

fn look(label: &'static str, at: (f64, f64), how: How, seconds: u32) -> Look {
    Look { label, at, how, seconds, relative: false, named: None }
}

fn landfall() -> Scene {
    Scene {
        file: "landfall.toml",
        heading: "# An aircraft closes the coast of Harrow from the west-south-west at 2,000 ft.\n\
                  # Five echoes, none of them named: which are they, and where is she?\n",
        set: "patrol",
        stream: 900,
        reckoning: (-38.215, -21.508_333_333),
        sigma_nm: 4.0,
        offset: (5.1, 214.0),
        stated: (74.0, 165.0),
        made: (75.2, 162.0),
        own_heading: 70.0,
        height_ft: 2000.0,
        hour: "2031-03-09T03:40",
        sigma: (0.12, 0.8),
        bias: 0.6,
        landfall: Some(land::GANNET_HEAD),
        shown: Shown::Bearing,
        traced: None,
        looks: vec![
            look("A", land::GREAT_EMBER, How::Near(2.2), 10),
            Look { relative: true, ..look("B", land::GANNET_HEAD, How::Near(1.2), 55) },
            look("C", land::LANTERN_POINT, How::Near(1.2), 100),
            look("D", land::LITTLE_EMBER, How::Centre, 135),
            look("E", land::SADDLE_ISLE, How::Centre, 175),
        ],
    }
}

/// The aircraft of the landfall at the time of its reckoning, her echoes measured in one turn of the
/// aerial, so that they need no times.
fn tour() -> Scene {
    let named =
        |label, name, at, reach| Look { named: Some(name), ..look(label, at, How::Near(reach), 0) };
    Scene {
        file: "tour.toml",
        heading: "# The aircraft of the landfall, all her echoes measured at the time of the reckoning.\n\
                  # The tour of the display leads through them; each has the name of the mark that it is.\n",
        stream: 904,
        looks: vec![
            named("A", "Great Ember", land::GREAT_EMBER, 2.2),
            named("B", "Little Ember", land::LITTLE_EMBER, 1.0),
            named("C", "Lantern Point", land::LANTERN_POINT, 1.2),
            named("D", "Gannet Head", land::GANNET_HEAD, 1.2),
            named("E", "Corbel Point", land::CORBEL_POINT, 1.2),
            named("F", "Saddle Isle", land::SADDLE_ISLE, 1.2),
        ],
        ..landfall()
    }
}

fn lookalike() -> Scene {
    Scene {
        file: "lookalike.toml",
        heading: "# A small vessel off the twin heads of Harrow, with two echoes on her screen.\n\
                  # Two places fit: the program must say so, and not choose.\n",
        set: "boat",
        stream: 901,
        reckoning: degrees_of((-16.6, 22.3)),
        sigma_nm: 4.0,
        offset: (4.6, 350.0),
        stated: (85.0, 9.0),
        made: (86.0, 8.8),
        own_heading: 82.0,
        height_ft: 26.0,
        hour: "2031-03-11T17:05",
        sigma: (0.08, 0.8),
        bias: -0.5,
        landfall: None,
        shown: Shown::Bearing,
        traced: None,
        looks: vec![
            look("A", land::FALLOW_HEAD, How::Near(1.2), 20),
            look("B", land::FALLOW_NESS, How::Near(0.9), 80),
        ],
    }
}

fn trace() -> Scene {
    Scene {
        file: "trace.toml",
        heading: "# An aircraft of the 1940s closes the coast of Harrow at 3,000 ft, on metre waves.\n\
                  # Five echoes on the range trace, each a range and the two deflections beside it.\n",
        set: "metric",
        stream: 902,
        reckoning: degrees_of((-27.0, 3.0)),
        sigma_nm: 4.0,
        offset: (4.4, 160.0),
        stated: (80.0, 140.0),
        made: (81.5, 138.0),
        own_heading: 78.0,
        height_ft: 3000.0,
        hour: "2031-03-12T05:20",
        sigma: (0.25, 0.0),
        bias: -1.0,
        landfall: Some(land::GANNET_HEAD),
        shown: Shown::Deflections(1.0),
        traced: None,
        looks: vec![
            look("A", land::GREAT_EMBER, How::Near(2.2), 10),
            look("B", land::GANNET_HEAD, How::Near(1.2), 40),
            look("C", land::LITTLE_EMBER, How::Centre, 75),
            look("D", land::SADDLE_ISLE, How::Centre, 110),
            look("E", land::LANTERN_POINT, How::Near(1.2), 150),
        ],
    }
}

fn outline() -> Scene {
    Scene {
        file: "outline.toml",
        heading: "# An aircraft off the coast of Harrow at 2,000 ft: no echo stands out, so the edge of the\n\
                  # painted shore is traced instead, point by point.\n",
        set: "patrol",
        stream: 903,
        reckoning: degrees_of((-27.0, -6.0)),
        sigma_nm: 4.0,
        offset: (4.8, 35.0),
        stated: (74.0, 165.0),
        made: (72.8, 168.0),
        own_heading: 70.0,
        height_ft: 2000.0,
        hour: "2031-03-13T04:10",
        sigma: (0.12, 0.6),
        bias: -0.8,
        landfall: Some(land::GANNET_HEAD),
        shown: Shown::Bearing,
        traced: Some(Traced {
            label: "K",
            from: 40,
            to: 132,
            step: 2,
            seconds: 40,
            half_beam: 1.2,
        }),
        looks: Vec::new(),
    }
}

/// The ratio of the port to the starboard deflection of `metric`, decibels, for an echo so many
/// degrees off the bow: two round gaussian lobes 60° wide, 22° to either side, floor at -20 dB.
fn ratio_db(off_bow: f64) -> f64 {
    let gain = |axis: f64| (-12.0412 * ((off_bow - axis) / 60.0).powi(2)).max(-20.0);
    gain(-22.0) - gain(22.0)
}

/// Latitude and longitude of a point of the plane.
fn degrees_of((x, y): (f64, f64)) -> Place {
    let (longitude, latitude) = degrees(x, y);
    (latitude, longitude)
}

fn story(scene: &Scene, rings: &[Ring]) -> Story {
    let start = along(scene.reckoning, scene.offset.0 * MILE, scene.offset.1);
    let carried = |seconds: u32| {
        let metres = scene.made.1 * MILE * f64::from(seconds) / 3600.0;
        along(start, metres, scene.made.0)
    };
    let mut text = opening(scene);
    let mut draws = Draws::stream(scene.stream);
    for look in &scene.looks {
        contact(&mut text, scene, look, carried(look.seconds), rings, &mut draws);
    }
    if let Some(traced) = &scene.traced {
        edge(&mut text, scene, traced, carried(traced.seconds), rings, &mut draws);
    }
    let looks = scene.looks.iter().map(|look| look.seconds);
    let last = looks.chain(scene.traced.iter().map(|traced| traced.seconds)).max().unwrap();
    let truth = vec![
        format!(
            "true position at the last {}, {}: {}",
            if scene.traced.is_some() { "outline" } else { "contact" },
            clock(scene, last),
            minutes(carried(last))
        ),
        format!("{:.1} NM {:03.0}° from the reckoning", scene.offset.0, scene.offset.1),
    ];
    Story { file: scene.file, text, truth }
}

fn opening(scene: &Scene) -> String {
    let mut text = format!(
        "{}# Made by the sample's generator with seeded errors. The coast is invented.\n\n\
         [reckoning]\ntime = \"{}\"\nposition = \"{}\"\nsigma_nm = {:.1}\n\
         track_deg = {:.1}\nspeed_kn = {:.1}\ntrack_sigma_deg = 3.0\nspeed_sigma_kn = {:.1}\n\n\
         [own]\nheight_ft = {:.0}\nheading_deg = {:.1}\nheading_kind = \"true\"\n\
         heading_sigma_deg = 1.0\n\n[radar]\nset = \"{}\"\n",
        scene.heading,
        clock(scene, 0),
        minutes(scene.reckoning),
        scene.sigma_nm,
        scene.stated.0,
        scene.stated.1,
        if scene.stated.1 > 60.0 { 5.0 } else { 0.5 },
        scene.height_ft,
        scene.own_heading,
        scene.set,
    );
    if let Some(at) = scene.landfall {
        let _ = write!(text, "\n[landfall]\nposition = \"{}\"\n", minutes(degrees_of(at)));
    }
    text
}

fn contact(
    text: &mut String,
    scene: &Scene,
    look: &Look,
    own: Place,
    rings: &[Ring],
    draws: &mut Draws,
) {
    let mark = degrees_of(look.at);
    let (ground, truly, part) = match look.how {
        How::Near(reach) => {
            let (ground, truly) = nearest_shore(rings, own, mark, reach);
            (ground, truly, "near")
        }
        How::Centre => {
            let (ground, truly) = line(own, mark);
            (ground, truly, "centre")
        }
    };
    let height = scene.height_ft * 0.3048;
    let range = slant(ground, height, 10.0) / MILE + scene.sigma.0 * draws.normal();
    let bearing = truly + scene.bias + scene.sigma.1 * draws.normal();
    let shown = if look.relative { bearing - scene.own_heading } else { bearing };
    let _ = write!(
        text,
        "\n[[contact]]\nlabel = \"{}\"\ntime = \"{}\"\nrange_nm = {range:.1}\n",
        look.label,
        clock(scene, look.seconds),
    );
    match scene.shown {
        Shown::Bearing => {
            let halves = (shown.rem_euclid(360.0) * 2.0).round() / 2.0;
            let _ = writeln!(text, "bearing_deg = {halves:.1}");
        }
        Shown::Deflections(sigma_db) => {
            let off_bow = (bearing - scene.own_heading + 180.0).rem_euclid(360.0) - 180.0;
            let ratio = ratio_db(off_bow) + sigma_db * draws.normal();
            // The louder side is brought to the same height by the gain.
            let (port, starboard) = (5.0 * half_ratio(ratio), 5.0 * half_ratio(-ratio));
            let _ =
                writeln!(text, "deflection = {{ port = {port:.1}, starboard = {starboard:.1} }}");
        }
    }
    if look.relative {
        text.push_str("bearing_kind = \"relative\"\n");
    }
    let _ = writeln!(text, "part = \"{part}\"");
    if let Some(mark) = look.named {
        let _ = writeln!(text, "mark = \"{mark}\"");
    }
}

/// The leading edge on each bearing, half of the error of a point carried on from the one before.
fn edge(
    text: &mut String,
    scene: &Scene,
    traced: &Traced,
    own: Place,
    rings: &[Ring],
    draws: &mut Draws,
) {
    let seen = shore_seen(rings, own);
    let height = scene.height_ft * 0.3048;
    let mut errors = (draws.normal(), draws.normal());
    let mut points = Vec::new();
    for bearing in (traced.from..=traced.to).step_by(traced.step as usize) {
        let carried = |error: f64, fresh: f64| 0.5 * error + 0.75f64.sqrt() * fresh;
        errors = (carried(errors.0, draws.normal()), carried(errors.1, draws.normal()));
        let truly = f64::from(bearing) - scene.bias + scene.sigma.1 * errors.1;
        let aside = |at: f64| ((at - truly + 180.0).rem_euclid(360.0) - 180.0).abs();
        let near = seen
            .iter()
            .filter(|(_, at)| aside(*at) <= traced.half_beam)
            .map(|(metres, _)| *metres)
            .min_by(f64::total_cmp);
        if let Some(metres) = near {
            let range = slant(metres, height, 0.0) / MILE + scene.sigma.0 * errors.0;
            points.push(format!("[{bearing}.0, {range:.1}]"));
        }
    }
    let lines: Vec<String> =
        points.chunks(6).map(|row| format!("    {},\n", row.join(", "))).collect();
    let _ = write!(
        text,
        "\n[[outline]]\nlabel = \"{}\"\ntime = \"{}\"\npoints = [\n{}]\n",
        traced.label,
        clock(scene, traced.seconds),
        lines.concat(),
    );
}

/// The whole shore, a tenth of a mile apart and closer, by distance in metres and direction.
fn shore_seen(rings: &[Ring], own: Place) -> Vec<(f64, f64)> {
    let mut seen = Vec::new();
    for ring in rings {
        let ends = ring.iter().zip(ring.iter().cycle().skip(1));
        for (a, b) in ends {
            let parts = ((b.x - a.x).hypot(b.y - a.y) / 0.05).ceil().max(1.0) as u32;
            seen.extend((0..parts).map(|part| {
                let share = f64::from(part) / f64::from(parts);
                line(own, degrees_of((a.x + share * (b.x - a.x), a.y + share * (b.y - a.y))))
            }));
        }
    }
    seen
}

/// The deflection of one side against the louder one: a ratio of voltages.
fn half_ratio(ratio_db: f64) -> f64 {
    10f64.powf(ratio_db.min(0.0) / 20.0)
}

fn clock(scene: &Scene, seconds: u32) -> String {
    let (hours, start) = scene.hour.rsplit_once(':').unwrap();
    let minute = start.parse::<u32>().unwrap() + seconds / 60;
    format!("{hours}:{minute:02}:{:02}Z", seconds % 60)
}

/// As a navigator writes it: `38 12.9 S, 21 30.5 W`.
fn minutes((latitude, longitude): Place) -> String {
    let part = |degrees: f64| {
        let tenths = (degrees.abs() * 600.0).round() as i64;
        format!("{} {:02}.{}", tenths / 600, tenths % 600 / 10, tenths % 10)
    };
    let (ns, ew) =
        (if latitude < 0.0 { 'S' } else { 'N' }, if longitude < 0.0 { 'W' } else { 'E' });
    format!("{} {ns}, {} {ew}", part(latitude), part(longitude))
}
