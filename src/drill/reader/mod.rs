//! The program's own reading of a picture, by the picture alone: what a trainee is held against, and
//! what a hint may show.
//!
//! Comes in: what the screen shows, look by look. Goes out: the contacts that an operator would take
//! from it, and the answer that the program makes of them. It knows nothing of the truth.

mod plan;
mod trace;

use super::declared::{Answer, Declared};
use super::exercise::{Declaration, Exercise, Scan};
use crate::chart::Chart;
use crate::contact::{Belief, Contact, Deflections, Part, Reading, Sightings};
use crate::fix::{self, Fix, LandfallVerdict, Options, Verdict};
use crate::paint::Picture;
use crate::units::GroundRange;

/// A name is given where the program is as sure of it as this.
const SURE: f64 = 0.8;

/// One echo as it stands on the screen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Echo {
    /// Slant range, nautical miles.
    pub range_nm: f64,
    /// As shown, degrees; none of a range trace.
    pub bearing_deg: Option<f64>,
    /// Of a range trace.
    pub deflections: Option<Deflections>,
    /// What of it was measured.
    pub part: Part,
    /// How much it stands out: the greater, the sooner it is taken.
    pub weight: f64,
}

/// The echoes of a look, those that stand out most first; `beam_deg` and `pulse_nm` are the set's.
pub fn echoes(scan: &Scan, beam_deg: f64, pulse_nm: f64) -> Vec<Echo> {
    match &scan.picture {
        Picture::Plan(picture) => plan::echoes(picture, beam_deg, pulse_nm),
        Picture::Trace(trace) => trace::echoes(trace, pulse_nm),
    }
}

/// Of each look, where all are taken together.
const OF_EACH_LOOK: usize = 3;

/// With the wings further off level than this, degrees, an operator waits for them.
const LEVEL_DEG: f64 = 5.0;

/// The most echoes taken from one look.
const MOST_ECHOES: usize = 12;

/// The contacts of a look, labelled with letters.
pub fn contacts(exercise: &Exercise, scan: &Scan) -> Vec<Contact> {
    let mut sightings = exercise.sightings();
    sightings.own.heading = Some(scan.heading);
    sightings.own.bank = scan.bank;
    let pulse_nm = GroundRange::clamped_metres(exercise.set.pulse_length_m()).nautical_miles();
    let found = echoes(scan, exercise.set.beam_width_deg, pulse_nm);
    let labels = ('A'..='Z').map(String::from);
    let made = found.into_iter().take(MOST_ECHOES).zip(labels).filter_map(|(echo, label)| {
        let reading = Reading {
            time: Some(scan.time),
            range_nm: Some(echo.range_nm),
            bearing: echo.bearing_deg.map(|degrees| (degrees, crate::contact::BearingKind::True)),
            deflections: echo.deflections,
            part: echo.part,
            ..Reading::default()
        };
        let (reckoning, own) = (&sightings.reckoning, &sightings.own);
        Contact::from_reading(&reading, label, reckoning, own, &sightings.radar).ok()
    });
    made.collect()
}

/// The program's own answer: it takes look after look, and declares as soon as it has a fix; where
/// none comes, what the last look tells.
pub fn answer(chart: &Chart, exercise: &Exercise, scans: &[Scan]) -> Answer {
    let level = |scan: &&Scan| scan.bank.degrees().abs() < LEVEL_DEG;
    let wings_level = scans.iter().any(|scan| level(&scan));
    let (mut last, mut so_far) = (None, Vec::new());
    for scan in scans.iter().filter(|scan| !wings_level || level(scan)) {
        let taken = contacts(exercise, scan);
        so_far.extend(strongest(&taken, scan));
        let (answer, fixed) = solve(chart, exercise, taken);
        if fixed {
            return answer;
        }
        last = Some(answer);
    }
    // No look does by itself: all of them together.
    let (answer, fixed) = solve(chart, exercise, so_far);
    last.filter(|_| !fixed).unwrap_or(answer)
}

/// What the program makes of contacts, and whether that is a fix.
fn solve(chart: &Chart, exercise: &Exercise, taken: Vec<Contact>) -> (Answer, bool) {
    let sightings = exercise.sightings().with_contacts(taken);
    let found = fix::fix(chart, &sightings, &Options::default());
    (declare(chart, sightings, &found), found.verdict == Verdict::Fixed)
}

/// The strongest contacts of one look, told from those of the others by its time.
fn strongest<'a>(contacts: &'a [Contact], scan: &Scan) -> impl Iterator<Item = Contact> + 'a {
    let time = scan.time.strftime("%H%M%S").to_string();
    contacts.iter().take(OF_EACH_LOOK).map(move |contact| Contact {
        label: format!("{}{time}", contact.label),
        ..contact.clone()
    })
}

/// What a fix comes to, said as a trainee would.
fn declare(chart: &Chart, mut sightings: Sightings, found: &Fix) -> Answer {
    for contact in &mut sightings.contacts {
        let sure = found.identities.iter().find(|it| it.contact == contact.label);
        contact.belief = sure
            .filter(|it| it.probability >= SURE && chart.marks().find(&it.mark).is_some())
            .map(|it| Belief { mark: it.mark.clone(), confidence: it.probability });
    }
    let likeliest = found.most_probable.map(|estimate| estimate.covariance);
    let sigma = found.covariance.or(likeliest).map(|covariance| {
        let [ee, _, nn] = covariance.square_metres();
        GroundRange::clamped_metres(f64::midpoint(ee, nn).max(0.0).sqrt())
    });
    let landfall = match found.landfall.as_ref().map(|landfall| landfall.verdict) {
        Some(LandfallVerdict::Confirmed) => Declaration::Confirmed,
        Some(LandfallVerdict::Denied) => Declaration::Denied,
        _ => Declaration::CannotSay,
    };
    let position = found.position.or(found.most_probable.map(|estimate| estimate.position));
    let declared = Declared { position, sigma, landfall, time: Some(found.time) };
    Answer { sightings, declared, hints: 0 }
}
