//! The words of the display, in one place: what is said of a fix, the keys, the help page.

use jiff::Timestamp;

use super::drill::Practice;
use super::work::{Answer, Carried, Stand};
use crate::chart::Chart;
use crate::contact::Deflections;
use crate::fix::{Comparison, Fix, Grade, LandfallVerdict, Verdict};
use crate::geodesy::Ellipse;
use crate::units::GroundRange;
use crate::watch::entry::spoken_bearing;
use crate::watch::log::ContactEntry;
use crate::watch::words::{self, clock};
use crate::watch::{KnownBy, Watch, off_chart};

/// Said when the worker stopped on a question: what it means, and what to do.
pub const WORKER_FAILED: [&str; 2] = [
    "the program failed on these contacts: no fix",
    "Undo (Ctrl-Z) and report it; nothing is lost",
];

/// Said when there is nothing to take out.
pub const NOTHING_SELECTED: &str = "no contact is selected: Tab selects one, then Del takes it out";

/// The caution that the display always carries.
pub const CAUTION: &str =
    "AID ONLY: official charts, local rules, licensed crew, safety altitudes rule.";

/// The verdict in a word, for the band at the top left.
pub fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Fixed => "FIXED",
        Verdict::Ambiguous => "AMBIGUOUS",
        Verdict::TooFew => "TOO FEW",
        Verdict::AtOdds => "AT ODDS",
    }
}

/// The two lines of a drill in place of the verdict: which it is, and how it is ended.
pub fn drill_lines(practice: &Practice) -> [String; 2] {
    let title = practice.title();
    match (practice.ended, practice.score()) {
        (_, Some(score)) => [
            format!("over, {:.0} of 100; {title}", score.score),
            "TRUE is where you were, YOURS what you declared; score tells; q leaves".to_owned(),
        ],
        (Some(_), None) => [format!("over; {title}"), String::new()],
        (None, None) => [
            format!("{title}; no position is worked out"),
            "declare 38 12.9 S, 21 30.5 W sigma 0.5 confirmed; hint; task; ? is help".to_owned(),
        ],
    }
}

/// Of the landfall in a drill: what was declared, else who is to say.
pub fn drill_landfall(practice: &Practice) -> String {
    practice.ended.map_or_else(
        || "yours to say: confirmed, denied or cannot-say".to_owned(),
        |declared| format!("you declared {}", declared.landfall.as_str()),
    )
}

/// The landfall's verdict, for the line under the fix's own.
pub fn landfall_word(verdict: LandfallVerdict) -> &'static str {
    match verdict {
        LandfallVerdict::Confirmed => "LANDFALL CONFIRMED",
        LandfallVerdict::NotUnique => "LANDFALL NOT UNIQUE",
        LandfallVerdict::Denied => "LANDFALL DENIED",
        LandfallVerdict::CannotSay => "LANDFALL CANNOT SAY",
    }
}

/// The two lines of the verdict, without the word: what is stated, and what it rests on.
pub fn verdict_lines(answer: &Answer) -> [String; 2] {
    let fix = &answer.fix;
    match fix.verdict {
        Verdict::Fixed => [fixed_line(fix), offset_line(fix)],
        Verdict::Ambiguous => [ambiguous_line(fix), next_line(fix)],
        Verdict::TooFew => [too_few_line(fix), next_line(fix)],
        Verdict::AtOdds => at_odds_lines(fix),
    }
}

/// The reckoning, where nothing is measured yet.
pub fn reckoned_line(answer: &Answer) -> String {
    let (position, covariance) = answer.reckoned;
    let time = clock(answer.fix.time);
    format!("DR {position} at {time}Z  {}", ellipse(&covariance.ellipse(0.95)))
}

/// The same, and what is most pressing: a place off the chart, a drift on offer, else what to type next.
pub fn no_contact_lines(chart: &Chart, watch: &Watch, answer: &Answer) -> [String; 2] {
    let ask = || "type a contact, like 17.3 042 (range, then true bearing); ? is help".to_owned();
    let off = off_chart(answer.reckoned.0, chart);
    let off = off.map(|off| format!("CAUTION: the reckoning is {off}"));
    let second = off.or_else(|| watch.offer().map(words::offer_hint)).unwrap_or_else(ask);
    [reckoned_line(answer), second]
}

/// Said while a fix waits for a part of the chart, and where that cannot be had.
pub fn waits_for_chart(why_not: Option<&str>) -> [String; 2] {
    let first = "the coast about here is being taken in: the fix waits for it".to_owned();
    why_not.map_or([first, String::new()], |why| {
        ["the coast about here CANNOT be taken in: no fix is made".to_owned(), why.to_owned()]
    })
}

/// Where we are by now, in words that say it is carried: the fullest first, each of the others for less
/// room. `EP now 38°20.10'S 021°20.30'W  95 % in 0.90 × 0.60 NM on 144°; 7 min from fix`.
pub fn carried_lines(carried: &Carried) -> [String; 3] {
    let Carried { position, covariance, time, from, stand, known } = carried;
    let (sign, start, short, from) = match stand {
        Stand::Fix => ("EP", "fix", " from fix", from),
        Stand::MostProbable => ("EP", "likeliest place", " on", from),
        Stand::Reckoning => {
            let short = if known.by == KnownBy::Fix { " from fix" } else { " on" };
            ("DR", known.by.as_str(), short, &known.time)
        }
    };
    let (ellipse, on) = (ellipse(&covariance.ellipse(0.95)), words::minutes(*from, *time));
    let (now, from) = (clock(*time), clock(*from));
    [
        format!(
            "{sign} now {position} at {now}Z  {ellipse}; by track and speed, {on} from the {start} of {from}Z"
        ),
        format!("{sign} now {position}  {ellipse}; {on}{short}"),
        format!("{sign} now {position}  {ellipse}"),
    ]
}

/// Said of a place that cannot be carried to now, and is told as it was.
pub fn not_carried(time: Timestamp) -> String {
    format!("NOT carried to now: the place of {}Z", clock(time))
}

fn fixed_line(fix: &Fix) -> String {
    let position = fix.position.map_or_else(String::new, |p| p.to_string());
    let ellipse = fix.ellipse.as_ref().map_or_else(String::new, ellipse);
    format!("{position} at {}Z  {ellipse}", clock(fix.time))
}

/// `95 % in 0.35 × 0.24 NM on 012°`: half axes, and the direction of the long one.
pub fn ellipse(ellipse: &Ellipse) -> String {
    format!(
        "{:.0} % in {} × {} NM on {}°",
        ellipse.probability * 100.0,
        miles(ellipse.semi_major),
        miles(ellipse.semi_minor),
        ellipse.major_axis.whole_degrees()
    )
}

/// `fix is 5.1 NM 214° from DR`, and whether that agrees with the reckoning's error.
pub fn offset(comparison: &Comparison, what: &str) -> Option<String> {
    let (offset, bearing) = (comparison.offset?, comparison.bearing?);
    let agrees = match comparison.grade {
        Some(Grade::Allowed) => ", as its error allows",
        Some(Grade::Unusual) => ", UNUSUAL: beyond its 95 %",
        Some(Grade::AtOdds) => ", MORE than its error allows",
        None => "",
    };
    let direction = bearing.whole_degrees();
    Some(format!("{what} is {:.1} NM {direction}° from DR{agrees}", offset.nautical_miles()))
}

fn offset_line(fix: &Fix) -> String {
    let mut parts = Vec::new();
    parts.extend(offset(&fix.reckoning, "fix"));
    parts.extend(fix.probability.map(|p| format!("{} sure", percent(p))));
    if let Some(radius) = fix.protection.radius.filter(|_| fix.protection.assured) {
        parts.push(format!("{} NM at 1 in {:.0}", miles(radius), 1.0 / fix.protection.risk));
    }
    parts.join("; ")
}

fn ambiguous_line(fix: &Fix) -> String {
    let places: Vec<String> = fix
        .rivals
        .iter()
        .take(4)
        .enumerate()
        .map(|(number, rival)| format!("{} {}", number + 1, whole_percent(rival.probability)))
        .collect();
    let none = whole_percent(fix.none_of_these);
    format!("no fix. Still fit: {}, none of these {none}", places.join(", "))
}

fn too_few_line(fix: &Fix) -> String {
    match &fix.most_probable {
        Some(estimate) => {
            let time = clock(fix.time);
            format!("likeliest {} at {time}Z  {}", estimate.position, ellipse(&estimate.ellipse()))
        }
        None => "no fix: what was measured leaves a direction free".to_owned(),
    }
}

fn next_line(fix: &Fix) -> String {
    match fix.next.first() {
        Some(next) => format!("next: {}", next.words),
        None => fix.cautions.first().cloned().unwrap_or_default(),
    }
}

/// More contacts than this are counted and not named: the line must fit a small screen.
const MOST_NAMED: usize = 3;

fn at_odds_lines(fix: &Fix) -> [String; 2] {
    let unmatched = fix.unmatched.iter().map(|u| u.contact.as_str());
    let worst = fix
        .residuals
        .iter()
        .filter(|r| r.standardised.iter().any(|w| w.abs() > 3.0))
        .map(|r| r.contact.as_str());
    let mut named: Vec<&str> = unmatched.chain(worst).collect();
    named.sort_unstable();
    named.dedup();
    let first = if named.is_empty() {
        "no position stated: what was measured does not agree with the reckoning".to_owned()
    } else if named.len() == fix.residuals.len().max(2) {
        "no position stated: no one place explains the contacts".to_owned()
    } else if named.len() > MOST_NAMED {
        format!("no position stated: {} contacts disagree with the rest or the chart", named.len())
    } else {
        let verb = if named.len() == 1 { "disagrees" } else { "disagree" };
        format!("no position stated: {} {verb} with the rest or the chart", named.join(", "))
    };
    let second =
        fix.cautions.first().cloned().or_else(|| offset(&fix.reckoning, "the contacts' place"));
    [first, second.unwrap_or_default()]
}

/// Nautical miles with two significant places.
pub fn miles(range: GroundRange) -> String {
    let miles = range.nautical_miles();
    if miles < 9.95 { format!("{miles:.2}") } else { format!("{miles:.1}") }
}

/// A share of one as a percentage that never rounds up to certainty.
pub fn percent(share: f64) -> String {
    let hundredths = share * 100.0;
    if hundredths >= 99.95 && share < 1.0 {
        ">99.9 %".to_owned()
    } else if hundredths > 0.0 && hundredths < 0.05 {
        "<0.1 %".to_owned()
    } else {
        format!("{hundredths:.1} %")
    }
}

/// The same in whole percents, for tables.
pub fn whole_percent(share: f64) -> String {
    match share * 100.0 {
        p if p >= 99.5 && share < 1.0 => ">99 %".to_owned(),
        p if p > 0.0 && p < 0.5 => "<1 %".to_owned(),
        p => format!("{p:.0} %"),
    }
}

/// A contact as it would be typed to correct it.
pub fn as_typed(entry: &ContactEntry) -> String {
    let mut words = vec![label_as_typed(&entry.label)];
    words.extend(entry.range_nm.map(|range| format!("r{range}")));
    if let Some(degrees) = entry.bearing_deg {
        let letter = match entry.bearing_kind.as_deref() {
            Some("magnetic") => "m",
            Some("compass") => "c",
            Some("gyro") => "g",
            Some("relative") => "rel",
            _ => "",
        };
        words.push(format!("{}{letter}", bearing_as_typed(degrees)));
    }
    words.extend(entry.deflection.map(|read| format!("d{}/{}", read.port, read.starboard)));
    words.extend(entry.part.clone());
    if let Some(mark) = &entry.mark {
        let doubt = if entry.mark_confidence.is_some_and(|c| c < 0.9) { "?" } else { "" };
        words.push(format!("\"{mark}{doubt}\""));
    }
    words.join(" ")
}

/// A bearing as it was read, to its last figure: three of them before the point, so that it is taken for one.
fn bearing_as_typed(degrees: f64) -> String {
    let figures = degrees.to_string();
    let whole = figures.find('.').unwrap_or(figures.len());
    format!("{}{figures}", "0".repeat(3_usize.saturating_sub(whole)))
}

/// A label so that the entry line takes it for one, whatever it is.
pub fn label_as_typed(label: &str) -> String {
    let bare = (1..=2).contains(&label.len()) && label.bytes().all(|b| b.is_ascii_uppercase());
    if bare { label.to_owned() } else { format!("\"{label}\":") }
}

/// What a contact says in the table: range, bearing with its letter, part.
pub fn measured(entry: &ContactEntry) -> (String, String) {
    let range = entry.range_nm.map_or_else(|| "—".to_owned(), |r| format!("{r}"));
    let pair = entry.deflection.map(|read| {
        let pair = Deflections { port: read.port, starboard: read.starboard };
        let (said, ratio) = (pair.to_string(), pair.ratio_db());
        // Figures too long for the column are told by their ratio.
        let side = if ratio > 0.0 { 'P' } else { 'S' };
        if said.len() > 7 { format!("{:.1}dB{side}", ratio.abs()) } else { said }
    });
    let bearing = entry.bearing_deg.map_or_else(
        || pair.unwrap_or_else(|| "—".to_owned()),
        |degrees| {
            let letter = match entry.bearing_kind.as_deref() {
                Some("magnetic") => "M",
                Some("compass") => "C",
                Some("gyro") => "G",
                Some("relative") => "R",
                _ => "",
            };
            format!("{}{letter}", spoken_bearing(degrees))
        },
    );
    (range, bearing)
}

/// `0342`: as positions are labelled on a chart.
pub fn hours_minutes(time: Timestamp) -> String {
    words::clock_minutes(time).replace(':', "")
}

/// The keys, for the foot of the screen, the most needed first.
pub const KEYS: [(&str, &str); 13] = [
    ("?", "help"),
    ("Tab", "select"),
    ("Enter", "mend"),
    ("Del", "out"),
    ("^Z", "undo"),
    ("Space", "panel"),
    ("/", "radar"),
    ("q", "leave"),
    ("+ -", "zoom"),
    ("arrows", "move"),
    (".", "all in view"),
    ("Shift-Up", "earlier lines"),
    ("^Y", "redo"),
];

/// The keys while something is typed.
pub const KEYS_TYPING: [(&str, &str); 4] = [
    ("Enter", "take it"),
    ("Esc", "drop it"),
    ("Up Down", "earlier lines"),
    ("^C", "leave at once"),
];

/// What the keys do with the cursor out.
pub const CURSOR_KEYS: &str = "arrows move, Enter measures from here, Esc puts it away";

/// The help page; a line that starts with a tab is text under a heading, cut at the second tab.
pub const HELP: &[&str] = &[
    "TYPE A CONTACT: start typing anywhere, Enter takes it, Esc drops it",
    "\t17.3 042\trange 17.3 NM, bearing 042° true (also 042/17.3)",
    "\t17.3 042m Gannet Head\tmagnetic bearing, and what you take it for",
    "\t17.3 042 Gannet Head?\tthe same, unsure of the name",
    "\tr17.3    b 318 rel\trange alone; bearing alone, relative to the bow",
    "\t042 left\tthe left edge of an echo (also right, centre; near is meant if unsaid)",
    "\t30.5 d 3/2\trange, and deflections to port and starboard",
    "\t9.4 shore\trange of the nearest shore in any direction",
    "\t17.3 042 @0341   -2m\tmeasured at 03:41 UTC; two minutes ago",
    "\tThree figures are a bearing, one or two a range. t m c g r after a bearing: its kind.",
    "",
    "MEND AND MORE",
    "\tA 17.4 042\tcorrect contact A (what is not typed stays)",
    "\tmark A Tern Rock\tname it; unmark A: take the name away",
    "\tdel A   undo   redo\ttake out; take back; put back",
    "\th 2000 (all)  hdg 070m\town height in feet (of all read so far); heading",
    "\tdr 38 12.9 S, 21 30.5 W\ta new reckoning; add: sigma 4 @0340",
    "\ttrk 074 165\ttrack and speed made good from now on; add @0341 for a time",
    "\taccept\tthe reckoning starts from the fix as it stands; its contacts are done with",
    "\tdrift\tuse the wind or stream that the fix accepted has found",
    "\tagain D 16.8 040\techo D seen once more: two sights tell whether it moves",
    "\tcall D white ship   tas 160\tname an echo; true airspeed, or speed through water",
    "\t# haze to the north\ta note for the log",
    "\ttour\tthe tour, on the sample chart: from the first echo to a fix",
    "",
    "KEYS WHILE NOTHING IS TYPED",
    "\tarrows   + -   . \tmove the chart; zoom; all in view again",
    "\tTab  Shift-Tab\tselect a contact; Enter corrects it, Del takes it out",
    "\tCtrl-Z  Ctrl-Y\tundo, redo",
    "\tSpace\tnext panel, where there is room for one only",
    "\t/\tthe radar's picture as predicted, beside the chart or in its place",
    "\t< >\tits scale",
    "\t[ ]  { }\tyour own ring, nearer and farther; your own line, left and right",
    "\tEnter\tputs ring and line into the entry line, as a contact",
    "\t^\tnorth, track or heading up: chart and picture",
    "\t*\tthe cursor: reads its place; Enter measures from there; Esc puts it away",
    "\tTab while typing\tcompletes a mark's name",
    "\t:\tall that can be done, filtered as you type",
    "\t~\tnight or day colours",
    "\tmouse\tclick: the cursor, or ring and line; drag measures; wheel zooms",
    "\tShift-Up\tearlier lines (Up, once something is typed)",
    "\t!\tacknowledges the alarm at the top; it is kept in the log",
    "\tq   Ctrl-C\tleave; leave at once",
    "",
    "ON THE CHART",
    "\tdotted circle FIX\tthe fix; solid ellipse: holds you with 95 %",
    "\thalf circle DR\tthe reckoning; dashed ellipse: 95 %",
    "\tsquare 1 2 EP\tplaces that still fit; the likeliest place of too few contacts",
    "\tsquare EP 0349\twhere the fix is carried to by now: a reckoning, no fix; dashed: 95 %",
    "\tarc  line  A B\ta contact's range and bearing, with its letter",
    "\t◄ ○ ▲ * ■\theadland, islet, peak, light, town",
    "\tdots\tland; the line around it: the shore",
    "",
    "ON THE RADAR'S PICTURE",
    "\t×A\ta contact where it was measured, carried to now",
    "\tbars\ton a range trace: port signal to the left, starboard to the right",
    "",
    "THE VERDICT",
    "\tFIXED\tone place fits, and the contacts fix it without the reckoning",
    "\tAMBIGUOUS\tmore than one place fits: none is stated",
    "\tTOO FEW\ta direction is still free: measure another mark",
    "\tAT ODDS\tcontacts, names, chart or reckoning disagree",
    "",
    "THE PLANNED LANDFALL",
    "\tCONFIRMED\ta contact is it, at 20 : 1 or better: no clearance to descend",
    "\tNOT UNIQUE\ta contact may be it; something else fits as well",
    "\tDENIED\twhat stands for it is another mark, or ground inland",
    "\tCANNOT SAY\tthe contacts do not tell",
    "",
    "IN A DRILL (foreland drill): the picture is the set's own, and nothing is worked out",
    "\tdeclare confirmed\tit ends; also denied, cannot-say. Before that word, where you are:",
    "\t\tdeclare 38 12.9 S, 21 30.5 W sigma 0.5 confirmed",
    "\thint\tthe next hint of the lesson: 5 points",
    "\ttask   score\tthe task, or the score, to be read again",
    "\tTRUE   YOURS\ton the chart, once it is scored: where you were, what you declared",
    "",
    CAUTION,
];

/// Lines of the help page.
pub fn help_lines() -> u16 {
    HELP.len() as u16
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Bearing;
    use crate::watch::entry::{Entry, understood};

    #[test]
    fn certainty_is_never_rounded_up() {
        assert_eq!(percent(0.999_99), ">99.9 %");
        assert_eq!(percent(1.0), "100.0 %");
        assert_eq!(percent(0.0), "0.0 %");
        assert_eq!(percent(1e-6), "<0.1 %");
        assert_eq!(percent(0.996), "99.6 %");
    }

    #[test]
    fn the_offset_is_said_in_words() {
        let comparison = Comparison {
            offset: Some(GroundRange::from_nautical_miles(5.1).unwrap()),
            bearing: Some(Bearing::wrapped_degrees(214.2)),
            chi2: None,
            grade: Some(Grade::Allowed),
        };
        let said = |compared: &Comparison| offset(compared, "fix").unwrap_or_default();
        assert_eq!(said(&comparison), "fix is 5.1 NM 214° from DR, as its error allows");
        let unusual = Comparison { grade: Some(Grade::Unusual), ..comparison };
        assert_eq!(said(&unusual), "fix is 5.1 NM 214° from DR, UNUSUAL: beyond its 95 %");
        assert_eq!(offset(&Comparison::default(), "fix"), None);
    }

    #[test]
    fn a_contact_put_into_the_line_reads_back_as_itself() {
        for (label, text) in [
            ("A", "A r17.3 318rel left \"Left Rock?\""),
            ("T 1", "\"T 1\": 042.5m"),
            ("D", "D r30.5 d3/2.5"),
            ("E", "E r17.25 007.125m"),
            ("F", "F 000.25"),
        ] {
            let Ok(Entry::Measured(found)) = understood(text) else { panic!("{text}") };
            assert_eq!(found.label.as_deref(), Some(label));
            let entry = ContactEntry {
                label: label.to_owned(),
                range_nm: found.range_nm,
                bearing_deg: found.bearing.map(|b| b.0),
                bearing_kind: found.bearing.and_then(|b| b.1).map(|kind| kind.as_str().to_owned()),
                deflection: found.deflections.map(|read| crate::watch::log::DeflectionEntry {
                    port: read.port,
                    starboard: read.starboard,
                }),
                part: found.part.map(|p| p.as_str().to_owned()),
                mark: found.mark.clone(),
                mark_confidence: found.doubtful.then_some(0.7),
                ..ContactEntry::default()
            };
            assert_eq!(as_typed(&entry), text);
        }
    }
}
