//! The account in tables, as every form for people shows it.

use jiff::Timestamp;

use super::Told;
use super::missed::missed;
use super::words::{by, chance, day, ellipse, far, name, off, signed, took, toward, velocity};
use crate::contact::Part;
use crate::debrief::smooth::Kind;
use crate::debrief::{ContactAccount, Debrief, DriftAccount, Fate, FixAccount};
use crate::fix::Grade;
use crate::units::Clock;
use crate::watch::Echo;

/// One part of the account.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// What it is about.
    pub title: &'static str,
    /// Before the table.
    pub lines: Vec<String>,
    /// The heads of its columns; none without a table.
    pub head: Vec<&'static str>,
    /// Its rows: the last column is the one that may be long.
    pub rows: Vec<Vec<String>>,
    /// After the table.
    pub notes: Vec<String>,
}

impl Section {
    pub(super) fn new(title: &'static str) -> Self {
        Self { title, lines: Vec::new(), head: Vec::new(), rows: Vec::new(), notes: Vec::new() }
    }
}

/// Every part of the account that has something to say, in order.
pub fn sections(told: &Told<'_>) -> Vec<Section> {
    let debrief = told.debrief;
    let clock = Clock::from_first(first(debrief));
    let mut all = vec![
        summary(told, clock),
        fixes(debrief, clock),
        drift(debrief, clock),
        contacts(debrief, clock),
        echoes(debrief, clock),
        missed(debrief, clock),
        verdicts(debrief, clock),
        track(debrief, clock),
        history(debrief, clock),
        list("NOTICES", &debrief.notices),
    ];
    let mut cautions = debrief.cautions.clone();
    cautions.push(told.caution.to_owned());
    all.push(list("CAUTIONS", &cautions));
    all.retain(|section| !(section.lines.is_empty() && section.rows.is_empty()));
    all
}

/// The first time of all.
fn first(debrief: &Debrief) -> Option<Timestamp> {
    let entries = debrief.entries.iter().map(|entry| entry.time);
    entries.chain(debrief.track.iter().map(|point| point.time)).min()
}

pub(super) fn count(number: usize, one: &str, many: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { many })
}

fn summary(told: &Told<'_>, clock: Clock) -> Section {
    let debrief = told.debrief;
    let mut section = Section::new("DEBRIEF");
    section.lines.push(format!("log {}", name(told.log)));
    if let Some(chart) = &debrief.chart {
        section.lines.push(format!("kept on chart {}", name(chart)));
    }
    let times = || debrief.entries.iter().map(|entry| entry.time);
    if let (Some(first), Some(last)) = (times().min(), times().max()) {
        let span = format!("{} {} to {}", day(first), clock.tell(first), clock.tell(last));
        section.lines.push(format!("{span}, by the watch's own clock"));
    }
    section.lines.push(
        [
            count(debrief.entries.len(), "entry", "entries"),
            count(debrief.contacts.len(), "contact", "contacts"),
            count(debrief.fixes.len(), "fix accepted", "fixes accepted"),
            count(debrief.echoes.len(), "echo unexplained", "echoes unexplained"),
        ]
        .join(", "),
    );
    if let Some(landfall) = debrief.landfall {
        section.lines.push(format!("landfall planned at {landfall}"));
    }
    section
}

fn fixes(debrief: &Debrief, clock: Clock) -> Section {
    let mut section = Section::new("FIXES ACCEPTED, AND THE RECKONING");
    section.head = vec!["time", "took", "DR off", "along", "across", "95 % NM", "moved", "fix"];
    section.rows = debrief.fixes.iter().map(|fix| fix_row(fix, clock)).collect();
    if !section.rows.is_empty() {
        section.notes.push(
            "DR off: from the reckoning to the fix; along: fix ahead positive; across: to the right \
             positive; moved: from the fix to where it is now known to have been"
                .to_owned(),
        );
    }
    section
}

fn fix_row(fix: &FixAccount, clock: Clock) -> Vec<String> {
    let dash = || "-".to_owned();
    let error = fix.dr_error.as_ref();
    let part = |metres: Option<f64>| metres.map_or_else(dash, signed);
    let mut said = vec![fix.verdict.clone()];
    said.extend(fix.probability.map(chance));
    let grade = match error.map(|error| error.grade) {
        Some(Grade::Unusual) => Some("DR beyond its 95 %"),
        Some(Grade::AtOdds) => Some("DR MORE off than its error allows"),
        Some(Grade::Allowed) | None => None,
    };
    said.extend(grade.map(str::to_owned));
    said.extend(fix.anew.as_ref().map(|verdict| format!("anew {verdict}")));
    vec![
        clock.tell(fix.time),
        fix.took_s.map_or_else(dash, took),
        error.map_or_else(dash, off),
        part(error.and_then(|error| error.along_m)),
        part(error.and_then(|error| error.across_m)),
        ellipse(&fix.place),
        fix.moved.map_or_else(dash, |moved| format!("{:.2}", moved.nautical_miles())),
        name(&said.join(", ")),
    ]
}

fn drift(debrief: &Debrief, clock: Clock) -> Section {
    let mut section = Section::new("WIND OR STREAM FOUND");
    section.head = vec!["fix", "reckoned", "beside", "sigma", "min", "known now", "sigma", "used"];
    section.rows = debrief.drift.iter().map(|drift| drift_row(drift, clock)).collect();
    if !section.rows.is_empty() {
        section.notes.push(
            "knots, toward, beside the track and speed reckoned with: a wind or stream, or an error \
             of heading and speed that looks like one"
                .to_owned(),
        );
    }
    section
}

fn drift_row(drift: &DriftAccount, clock: Clock) -> Vec<String> {
    let used = drift.used.map_or_else(
        || "-".to_owned(),
        |(track, speed)| format!("{} {:.0} kn", toward(track), speed.knots()),
    );
    let dash = || "-".to_owned();
    let sigma = |[ee, _, nn]: [f64; 3]| format!("{:.0}", f64::midpoint(ee, nn).max(0.0).sqrt());
    vec![
        clock.tell(drift.time),
        used,
        velocity(drift.beside_kn),
        sigma(drift.covariance_kn2),
        format!("{:.0}", drift.minutes),
        drift.smoothed.map_or_else(dash, |(mean, _)| velocity(mean)),
        drift.smoothed.map_or_else(dash, |(_, covariance)| sigma(covariance)),
        drift.taken_into_use.map_or_else(|| "no".to_owned(), |at| clock.tell(at)),
    ]
}

fn contacts(debrief: &Debrief, clock: Clock) -> Section {
    let mut section = Section::new("CONTACTS IN HINDSIGHT");
    section.head = vec!["contact", "time", "measured", "left over", "first named, and in the end"];
    section.rows = debrief.contacts.iter().map(|contact| contact_row(contact, clock)).collect();
    if !section.rows.is_empty() {
        section.notes.push(if debrief.named_anew {
            "left over: measured less expected, from what all other fixes tell, on the chart given"
                .to_owned()
        } else {
            "left over: measured less the way to the charted point, from the smoothed place: the edge \
             that answers may lie nearer than the point; --chart DIR measures to the edge"
                .to_owned()
        });
    }
    section
}

fn contact_row(contact: &ContactAccount, clock: Clock) -> Vec<String> {
    let range = contact.range.map(|range| format!("{:.2}", range.nautical_miles()));
    let bearing = contact.bearing.map(|bearing| format!("{bearing}°"));
    let part = (contact.part != Part::Near).then(|| contact.part.as_str().to_owned());
    let measured: Vec<String> = range.into_iter().chain(bearing).chain(part).collect();
    let left = contact.range_left_m.map(signed);
    let turned = contact.bearing_left.map(|turn| format!("{:+.1}°", turn.degrees()));
    let left: Vec<String> = left.into_iter().chain(turned).collect();
    let dash = |words: Vec<String>| if words.is_empty() { "-".to_owned() } else { words.join(" ") };
    vec![
        name(&contact.label),
        clock.tell(contact.time),
        dash(measured),
        dash(left),
        identity(contact, clock),
    ]
}

fn identity(contact: &ContactAccount, clock: Clock) -> String {
    let mut said = Vec::new();
    if contact.deleted {
        said.push("taken out".to_owned());
    }
    if let Some(root) = &contact.again {
        said.push(format!("{} again", name(root)));
    }
    if let Some(first) = contact.namings.first() {
        let what = name(&first.mark);
        said.push(format!("{what} ({} {})", by(first), clock.tell(first.at)));
    }
    if let Some(taken_for) = &contact.taken_for {
        let changed = contact.namings.first().is_some_and(|first| &first.mark != taken_for);
        if changed {
            let from =
                contact.right_from.map_or_else(String::new, |at| format!(" {}", clock.tell(at)));
            said.push(format!("in the end {}{from}", name(taken_for)));
        }
    }
    if let Some((mark, probability)) = &contact.anew {
        let same = contact.taken_for.as_ref() == Some(mark);
        let what = if same { "anew the same".to_owned() } else { format!("ANEW {}", name(mark)) };
        said.push(format!("{what} {}", chance(*probability)));
    }
    if said.is_empty() { "never named".to_owned() } else { said.join("; ") }
}

fn echoes(debrief: &Debrief, clock: Clock) -> Section {
    let mut section = Section::new("ECHOES THAT NO CHART EXPLAINS");
    section.head = vec!["echo", "last seen", "where", "95 % NM", "how it moves"];
    section.rows = debrief.echoes.iter().map(|echo| echo_row(echo, clock)).collect();
    section
}

fn echo_row(echo: &Echo, clock: Clock) -> Vec<String> {
    let called = echo.name.as_ref().map_or_else(String::new, |said| format!(" ({})", name(said)));
    let sights = count(echo.sights, "sight", "sights");
    let moves = match &echo.motion {
        None => sights,
        Some(motion) if motion.moves && echo.mark.is_some() => format!(
            "was taken for {}, and land does not move: a wrong label, time or reading? {sights}",
            echo.mark.as_deref().map_or_else(String::new, name)
        ),
        Some(motion) if motion.moves => {
            let (course, speed) = motion.sigmas();
            let course =
                course.map_or_else(String::new, |c| format!(" (sigma {:.0}°)", c.degrees()));
            format!(
                "course {}{course}, {:.0} kn (sigma {:.0}), {sights}",
                toward(motion.course),
                motion.speed.knots(),
                speed.knots()
            )
        }
        Some(_) => format!("not known to move, {sights}"),
    };
    vec![
        format!("{}{called}", name(&echo.label)),
        clock.tell(echo.time),
        echo.place.position.to_string(),
        ellipse(&echo.place),
        moves,
    ]
}

fn verdicts(debrief: &Debrief, clock: Clock) -> Section {
    let mut section = Section::new("WHAT WAS SAID ON THE SCREEN");
    section.head = vec!["at", "after", "verdict", "sure", "landfall", "for"];
    section.rows = debrief
        .verdicts
        .iter()
        .map(|said| {
            vec![
                clock.tell(said.at),
                said.after_s.map_or_else(|| "-".to_owned(), took),
                name(&said.verdict),
                said.probability.map_or_else(|| "-".to_owned(), chance),
                said.landfall.as_deref().map_or_else(|| "-".to_owned(), name),
                clock.tell(said.time),
            ]
        })
        .collect();
    if !section.rows.is_empty() {
        let note = "after: minutes and seconds from the first contact since the fix before, by the \
                    watch's own clock, which stands still where a sitting is worked later";
        section.notes.push(note.to_owned());
    }
    section
}

fn track(debrief: &Debrief, clock: Clock) -> Section {
    let mut section = Section::new("TRACK");
    let (Some(first), Some(last)) = (debrief.track.first(), debrief.track.last()) else {
        return section;
    };
    let of = |kind: Kind| debrief.track.iter().filter(move |point| point.kind == kind);
    section.lines.push(format!(
        "{} from {} to {}: {} smoothed, known afterwards; {} reckoned",
        count(debrief.track.len(), "place", "places"),
        clock.tell(first.time),
        clock.tell(last.time),
        of(Kind::Smoothed).count(),
        of(Kind::Reckoned).count()
    ));
    let widest = |kind: Kind| {
        of(kind).max_by(|a, b| {
            let long =
                |p: &crate::debrief::smooth::TrackPoint| p.place.ellipse().semi_major.metres();
            long(a).total_cmp(&long(b))
        })
    };
    for (kind, word) in [(Kind::Smoothed, "smoothed"), (Kind::Reckoned, "reckoned")] {
        if let Some(point) = widest(kind) {
            section.lines.push(format!(
                "{word}, least well known at {}: 95 % within {} NM",
                clock.tell(point.time),
                ellipse(&point.place)
            ));
        }
    }
    if let Some(farthest) = debrief
        .fixes
        .iter()
        .filter_map(|fix| fix.moved)
        .max_by(|a, b| a.metres().total_cmp(&b.metres()))
    {
        section.lines.push(format!("no fix is moved by more than {}", far(farthest)));
    }
    section
}

fn history(debrief: &Debrief, clock: Clock) -> Section {
    let mut section = Section::new("WHAT WAS ENTERED");
    section.head = vec!["no.", "at", "became", "entry"];
    section.rows = debrief
        .entries
        .iter()
        .map(|entry| {
            let fate = match &entry.fate {
                Fate::Stands => String::new(),
                Fate::Corrected { by } => format!("mended by {by}"),
                Fate::TakenOut { by } => format!("out by {by}"),
                Fate::Undone { by } => format!("undone by {by}"),
                Fate::LeftOut { .. } => "LEFT OUT".to_owned(),
            };
            vec![entry.number.to_string(), clock.tell(entry.time), fate, name(&entry.words)]
        })
        .collect();
    section
}

fn list(title: &'static str, lines: &[String]) -> Section {
    let mut section = Section::new(title);
    section.lines = lines.iter().map(|line| super::clean(line)).collect();
    section
}
