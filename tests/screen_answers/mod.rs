//! One answer for each verdict, made by hand, for the screens that show it.

use foreland::chart::MarkId;
use foreland::contact::Sightings;
use foreland::fix::{
    Comparison, Consistency, Estimate, Fix, Grade, Identity, Landfall, LandfallVerdict, Measure,
    NextMeasurement, Protection, Purpose, Residual, Rival, Unmatched, Verdict,
};
use foreland::geodesy::{Covariance, Position, course};
use foreland::paint::{Expectation, ExpectedCoast, ExpectedMark, Outcome};
use foreland::screen::Answer;
use foreland::units::{Angle, Bearing, SlantRange};

use super::{CHART, miles};

pub fn place() -> Position {
    "38 15.1 S, 21 24.1 W".parse().unwrap()
}

fn error() -> Covariance {
    Covariance::along_across(miles(0.18), miles(0.15), Bearing::wrapped_degrees(154.0))
}

/// A fix that is none: what all verdicts share.
fn nothing(verdict: Verdict, sightings: &Sightings) -> Fix {
    Fix {
        verdict,
        probability: None,
        none_of_these: 0.001,
        time: sightings.latest(),
        position: None,
        covariance: None,
        ellipse: None,
        contacts_only: None,
        bearing_bias: None,
        identities: Vec::new(),
        unmatched: Vec::new(),
        residuals: Vec::new(),
        outlines: Vec::new(),
        most_probable: None,
        rivals: Vec::new(),
        consistency: None,
        reckoning: Comparison::default(),
        protection: Protection { risk: 1e-3, radius: None, assured: false, why: None },
        next: Vec::new(),
        landfall: None,
        cautions: Vec::new(),
    }
}

fn identity(contact: &str, mark: &str, probability: f64) -> Identity {
    let id = CHART.marks().find(mark).unwrap();
    let mark_position = CHART.marks().get(id).unwrap().position;
    Identity {
        contact: contact.into(),
        mark: mark.into(),
        mark_position,
        probability,
        paint_probability: None,
    }
}

fn residual(contact: &str, range_m: f64, bearing: f64, standardised: [f64; 2]) -> Residual {
    Residual {
        contact: contact.into(),
        range_m: Some(range_m),
        bearing: Some(Angle::from_degrees(bearing)),
        ratio_db: None,
        standardised: standardised.to_vec(),
        used: true,
    }
}

/// What came of the landfall, its mark told last.
#[allow(clippy::unnecessary_wraps)] // it goes into a fix as it is
fn landfall(verdict: LandfallVerdict, odds: Option<f64>, why: &str, by: &str) -> Option<Landfall> {
    let why = format!("{why}; landfall: Gannet Head, at the place planned");
    let settle_by = (!by.is_empty()).then(|| by.to_owned());
    Some(Landfall { verdict, odds, why, settle_by })
}

pub fn fixed(sightings: &Sightings) -> Fix {
    Fix {
        probability: Some(0.9992),
        position: Some(place()),
        covariance: Some(error()),
        ellipse: Some(error().ellipse(0.95)),
        identities: vec![
            identity("A", "Great Ember", 0.62),
            identity("B", "Gannet Head", 0.996),
            identity("C", "Lantern Point", 0.84),
            identity("D", "Little Ember", 0.998),
            identity("E", "Saddle Isle", 0.964),
        ],
        residuals: vec![
            residual("A", 200.0, 0.6, [0.7, 0.5]),
            residual("B", 40.0, -0.5, [0.1, -0.4]),
            residual("C", 240.0, 0.7, [0.8, 0.6]),
            residual("D", -1700.0, 0.1, [-4.2, 0.1]),
            residual("E", 240.0, 0.6, [0.8, 0.5]),
        ],
        consistency: Some(Consistency { chi2: 3.1, dof: 9, p: 0.96 }),
        reckoning: Comparison {
            offset: Some(miles(5.2)),
            bearing: Some(Bearing::wrapped_degrees(211.0)),
            chi2: Some(1.7),
            grade: Some(Grade::Allowed),
        },
        protection: Protection { risk: 1e-3, radius: Some(miles(0.9)), assured: true, why: None },
        next: vec![NextMeasurement {
            mark: "Corbel Point".into(),
            measure: Measure::RangeAndBearing,
            major_axis_after: miles(0.31),
            purpose: Purpose::Shorten,
            settles: None,
            range: SlantRange::from_nautical_miles(11.8).ok(),
            bearing: Some(Bearing::wrapped_degrees(63.0)),
            words: "range and bearing of Corbel Point (11.8 NM, 063° T): to 0.31 NM".into(),
        }],
        landfall: landfall(
            LandfallVerdict::Confirmed,
            Some(22.5),
            "B is Gannet Head, odds 22 : 1",
            "",
        ),
        cautions: vec!["contact A may be Great Ember or Ember Light".into()],
        ..nothing(Verdict::Fixed, sightings)
    }
}

pub fn ambiguous(sightings: &Sightings) -> Fix {
    let rival = |position: &str, probability, mark| Rival {
        estimate: Estimate { position: position.parse().unwrap(), covariance: error() },
        probability,
        identities: vec![identity("A", mark, 0.9)],
    };
    Fix {
        rivals: vec![
            rival("38 15.1 S, 21 24.1 W", 0.62, "Great Ember"),
            rival("38 09.0 S, 21 30.0 W", 0.37, "Saddle Isle"),
        ],
        none_of_these: 0.01,
        unmatched: vec![Unmatched {
            contact: "E".into(),
            why: "no charted mark within the gate".into(),
            places: Vec::new(),
        }],
        next: vec![NextMeasurement {
            mark: "Corbel Point".into(),
            measure: Measure::Bearing,
            major_axis_after: miles(0.4),
            purpose: Purpose::Settle,
            settles: Some(0.92),
            range: SlantRange::from_nautical_miles(11.8).ok(),
            bearing: Some(Bearing::wrapped_degrees(63.0)),
            words: "bearing of Corbel Point (11.8 NM, 063° T): settles it, 92 %".into(),
        }],
        landfall: landfall(
            LandfallVerdict::NotUnique,
            Some(7.6),
            "Saddle Isle fits A as well: odds 7.6 : 1",
            "range and bearing of Corbel Point: 14.2 NM, 063° T",
        ),
        ..nothing(Verdict::Ambiguous, sightings)
    }
}

pub fn too_few(sightings: &Sightings) -> Fix {
    let long = Covariance::along_across(miles(3.0), miles(0.2), Bearing::wrapped_degrees(30.0));
    Fix {
        most_probable: Some(Estimate { position: place(), covariance: long }),
        identities: vec![identity("A", "Great Ember", 0.7)],
        next: vec![NextMeasurement {
            mark: "Corbel Point".into(),
            measure: Measure::Range,
            major_axis_after: miles(0.5),
            purpose: Purpose::Shorten,
            settles: None,
            range: SlantRange::from_nautical_miles(11.8).ok(),
            bearing: Some(Bearing::wrapped_degrees(63.0)),
            words: "range of Corbel Point (11.8 NM, 063° T): long axis 3.00 to 0.50 NM".into(),
        }],
        landfall: landfall(
            LandfallVerdict::Denied,
            None,
            "A at 42.2 NM is inland high ground, not the coast: Gannet Head paints only from \
             15.2 NM on, and lies 12.2 NM nearer than the echo",
            "",
        ),
        ..nothing(Verdict::TooFew, sightings)
    }
}

pub fn at_odds(sightings: &Sightings) -> Fix {
    Fix {
        residuals: vec![residual("D", -1700.0, 6.1, [-4.2, 5.1])],
        landfall: landfall(
            LandfallVerdict::CannotSay,
            None,
            "the contacts are at odds: contact D does not agree with the other four by 0.9 NM",
            "D once more: it fits worst",
        ),
        cautions: vec!["contact D does not agree with the other four by 0.9 NM".into()],
        ..nothing(Verdict::AtOdds, sightings)
    }
}

/// What a few named marks would look like: range and bearing are those of the chart.
pub fn expected() -> Expectation {
    let looks = [
        ("Great Ember", Outcome::Paints, 0.999),
        ("Gannet Head", Outcome::Paints, 0.99),
        ("Lantern Light", Outcome::Doubtful, 0.53),
        ("Marlhaven", Outcome::Shadowed, 0.0),
        ("Sallow Head", Outcome::BelowHorizon, 0.0),
    ];
    let marks = looks.iter().map(|(name, outcome, chance)| {
        let mark: MarkId = CHART.marks().find(name).unwrap();
        let line = course(place(), CHART.marks().get(mark).unwrap().position);
        ExpectedMark {
            mark,
            range: SlantRange::from_metres(line.distance.metres()).unwrap(),
            ground_range: line.distance,
            bearing: line.initial,
            relative: None,
            signal_to_noise_db: Some(20.0),
            signal_to_clutter_db: None,
            paint_probability: *chance,
            outcome: *outcome,
            second_time: None,
        }
    });
    Expectation {
        horizon: miles(55.0),
        marks: marks.collect(),
        coast: vec![ExpectedCoast {
            bearing: Bearing::wrapped_degrees(75.0),
            range: SlantRange::from_nautical_miles(3.8).unwrap(),
            depth: miles(1.0),
            signal_to_noise_db: 30.0,
            paint_probability: 0.99,
        }],
        second_time: Vec::new(),
        cautions: Vec::new(),
    }
}

pub fn answer(fix: Fix, sightings: &Sightings) -> Answer {
    let reckoned = sightings.reckoning.carried_to(fix.time).unwrap();
    Answer { fix, reckoned, expected: expected() }
}
