use super::fix_table::contact_rows;
use super::page::columns;
use super::words::{
    clock, contacts_words, distance_words, from_nearest_mark, long_axis, offset_words, percent,
};
use crate::chart::Chart;
use crate::command::CAUTION;
use crate::contact::Sightings;
use crate::fix::{Estimate, Fix, OutlineFit, Protection, Rival, Verdict};
use crate::geodesy::{Ellipse, Position, course};

/// The account of a fix for people: where, how sure, how old, what was left over, what next, what
/// to beware of, and how the bearings came to be true.
pub fn fix_text(chart: &Chart, sightings: &Sightings, fix: &Fix) -> String {
    let mut report = Report::default();
    report.verdict(chart, sightings, fix);
    report.landfall(sightings, fix);
    report.reckoning(fix);
    report.contacts(sightings, fix);
    report.rivals(chart, fix);
    report.next(fix);
    report.block("CAUTIONS", &fix.cautions);
    report.conversion(sightings);
    report.block("HEIGHTS", &height_lines(sightings));
    for line in broken(CAUTION) {
        report.line(line.trim_start());
    }
    report.text
}

/// How many other places are told.
const RIVALS_SHOWN: usize = 4;

#[derive(Default)]
struct Report {
    text: String,
}

impl Report {
    fn line(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
    }

    /// A titled block, its lines set in and broken where long; nothing where there are none.
    fn block(&mut self, title: &str, lines: &[String]) {
        let broken: Vec<String> = lines.iter().flat_map(|line| broken(line)).collect();
        self.table(title, &broken);
    }

    /// A titled block whose lines are left whole.
    fn table(&mut self, title: &str, lines: &[String]) {
        if lines.is_empty() {
            return;
        }
        self.line(title);
        for line in lines {
            self.line(&format!("  {line}"));
        }
        self.line("");
    }

    fn verdict(&mut self, chart: &Chart, sightings: &Sightings, fix: &Fix) {
        let title = match fix.verdict {
            Verdict::Fixed => "FIX",
            Verdict::Ambiguous
                if fix.rivals.iter().filter(|r| r.probability >= 0.01).count() < 2 =>
            {
                "NO FIX: ambiguous, one place fits, but not as surely as asked"
            }
            Verdict::Ambiguous => "NO FIX: ambiguous, more than one place fits",
            Verdict::TooFew => "NO FIX: too few contacts, a direction is left free",
            Verdict::AtOdds => "NO FIX: the contacts are at odds",
        };
        self.line(&format!("{title}    {}", clock(fix.time)));
        self.line(&format!("  on {}, from {}", chart.name(), contacts_words(sightings, fix)));
        self.line("");
        if let Some(position) = fix.position {
            self.block("WHERE", &place_lines(chart, position));
        }
        self.block("HOW SURE", &sure_lines(fix));
        if let Some(estimate) = fix.most_probable {
            self.estimate("MOST PROBABLE, contacts and reckoning together", chart, estimate);
        }
        if let Some(estimate) = fix.contacts_only.filter(|_| fix.verdict == Verdict::AtOdds) {
            self.estimate("CONTACTS ALONE, without the reckoning: not a fix", chart, estimate);
        }
    }

    fn estimate(&mut self, title: &str, chart: &Chart, estimate: Estimate) {
        let mut lines = place_lines(chart, estimate.position);
        lines.push(ellipse_words(estimate.ellipse()));
        self.block(title, &lines);
    }

    fn reckoning(&mut self, fix: &Fix) {
        self.block("RECKONING", &offset_words(fix).into_iter().collect::<Vec<_>>());
    }

    fn contacts(&mut self, sightings: &Sightings, fix: &Fix) {
        if !sightings.contacts.is_empty() {
            let title = if fix.position.is_some() {
                "CONTACTS (left over: measured less expected; w: the same in standard deviations)"
            } else {
                "CONTACTS (left over: measured less expected at the best place; w: in standard \
                 deviations)"
            };
            self.table(title, &columns(&contact_rows(sightings, fix)));
        }
        self.block("OUTLINES", &fix.outlines.iter().map(outline_words).collect::<Vec<_>>());
        let unmatched: Vec<String> = fix
            .unmatched
            .iter()
            .map(|contact| {
                let places: Vec<String> = contact
                    .places
                    .iter()
                    .map(|place| {
                        let steer = place.steer.whole_degrees();
                        format!("{}; it bears {steer}° true", place.position)
                    })
                    .collect();
                let places = if places.is_empty() {
                    String::new()
                } else {
                    format!("; it would lie at {}", places.join(", or at "))
                };
                format!("{}: {}{places}", contact.contact, contact.why)
            })
            .collect();
        self.block("UNMATCHED", &unmatched);
    }

    fn rivals(&mut self, chart: &Chart, fix: &Fix) {
        let title = if fix.position.is_some() { "RIVALS" } else { "PLACES THAT FIT, best first" };
        let mut lines: Vec<String> = fix
            .rivals
            .iter()
            .take(RIVALS_SHOWN)
            .enumerate()
            .flat_map(|(i, rival)| rival_lines(chart, i + 1, rival))
            .collect();
        let more = fix.rivals.len().saturating_sub(RIVALS_SHOWN);
        if more > 0 {
            lines.push(format!("and {more} more, each less likely (--format json lists them)"));
        }
        self.block(title, &lines);
    }

    fn next(&mut self, fix: &Fix) {
        let lines: Vec<String> = fix.next.iter().map(|next| next.words.clone()).collect();
        self.block("NEXT", &lines);
    }

    fn landfall(&mut self, sightings: &Sightings, fix: &Fix) {
        let (Some(planned), Some(landfall)) = (sightings.landfall, &fix.landfall) else { return };
        let mut lines = vec![landfall.why.clone()];
        if let Some(position) = fix.position {
            let line = course(position, planned);
            let towards = line.initial.whole_degrees();
            let far = distance_words(line.distance);
            lines.push(format!(
                "the place planned, {planned}: {far} on {towards}° true from the fix"
            ));
        }
        lines.extend(landfall.settle_by.iter().map(|by| format!("settle it by {by}")));
        let word = landfall.verdict.as_str().to_uppercase().replace('-', " ");
        self.block(&format!("LANDFALL {word}"), &lines);
    }

    fn conversion(&mut self, sightings: &Sightings) {
        let mut lines = sightings.own.conversion.clone();
        for contact in &sightings.contacts {
            let chain = contact.chain(&sightings.reckoning, &sightings.own);
            if let Some(chain) = chain.filter(|chain| !chain.is_empty()) {
                lines.push(format!("{}: {chain}", contact.label));
            }
        }
        self.block("BEARINGS TO TRUE", &lines);
    }
}

/// From which height each was read, where one was read from another than own height.
fn height_lines(sightings: &Sightings) -> Vec<String> {
    let contacts = sightings.contacts.iter().map(|contact| (contact.own_height, &contact.label));
    let outlines = sightings.outlines.iter().map(|outline| (outline.own_height, &outline.label));
    let mut read: Vec<(i64, &String)> = contacts
        .chain(outlines)
        .map(|(height, label)| (height.feet().round() as i64, label))
        .collect();
    let own = sightings.own.height.feet().round() as i64;
    if read.iter().all(|(feet, _)| *feet == own) {
        return Vec::new();
    }
    // The highest first, as on the way down.
    read.sort_by_key(|(feet, _)| std::cmp::Reverse(*feet));
    let told = read.chunk_by(|a, b| a.0 == b.0).filter_map(|alike| {
        let (feet, _) = alike.first()?;
        let labels: Vec<&str> = alike.iter().map(|(_, label)| label.as_str()).collect();
        Some(format!("read from {feet} ft: {}", labels.join(", ")))
    });
    told.chain([format!("own height at the end: {own} ft")]).collect()
}

/// How a traced outline came out, on one line.
fn outline_words(fit: &OutlineFit) -> String {
    let points = format!("{}  outline of {} points", fit.outline, fit.points);
    let counts = format!("counts as {:.1} points", fit.effective);
    match fit.rms {
        Some(rms) if fit.used => {
            format!("{points}  fits the shore to {} rms; {counts}", distance_words(rms))
        }
        _ => format!("{points}  not used"),
    }
}

fn place_lines(chart: &Chart, position: Position) -> Vec<String> {
    let mut lines = vec![position.to_string()];
    lines.extend(from_nearest_mark(chart, position));
    lines
}

fn sure_lines(fix: &Fix) -> Vec<String> {
    let mut lines: Vec<String> = fix.ellipse.map(ellipse_words).into_iter().collect();
    let none = format!("none of the places found: {}", percent(fix.none_of_these));
    match fix.probability {
        Some(probability) => {
            lines.push(format!("this place rather than another: {}; {none}", percent(probability)));
        }
        None if !fix.rivals.is_empty() => lines.push(none),
        None => {}
    }
    if fix.position.is_some() {
        lines.push(protection_words(&fix.protection));
        lines.extend(fix.bearing_bias.map(|(bias, sigma)| {
            let (bias, sigma) = (bias.degrees(), sigma.degrees());
            format!("all bearings read {bias:+.1}° (sigma {sigma:.1}°) against true")
        }));
    }
    if let Some(test) = fix.consistency.filter(|_| fix.position.is_some()) {
        let chance = percent(test.p);
        lines.push(format!(
            "what is left over: chi-square {:.1} of {}, chance {chance}",
            test.chi2, test.dof
        ));
    }
    lines
}

fn protection_words(protection: &Protection) -> String {
    let odds = thousands((1.0 / protection.risk).round() as u64);
    match protection.radius {
        Some(radius) if protection.assured => {
            format!("error under {} but for 1 chance in {odds}", distance_words(radius))
        }
        _ => {
            let why = protection.why.as_deref().unwrap_or("no radius holds");
            format!("cannot be assured at 1 in {odds}: {why}")
        }
    }
}

/// `1,000`, `100,000`.
fn thousands(number: u64) -> String {
    let digits = number.to_string();
    let mut words = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            words.push(',');
        }
        words.push(digit);
    }
    words
}

fn ellipse_words(ellipse: Ellipse) -> String {
    let way = long_axis(ellipse).map_or_else(
        || "round".to_owned(),
        |axis| {
            let back = axis.reciprocal().whole_degrees();
            format!("long axis {}°/{back}°", axis.whole_degrees())
        },
    );
    format!(
        "95 % ellipse: {} by {}, {way}",
        distance_words(ellipse.semi_major),
        distance_words(ellipse.semi_minor)
    )
}

fn rival_lines(chart: &Chart, number: usize, rival: &Rival) -> Vec<String> {
    let place = rival.estimate.position;
    let from = from_nearest_mark(chart, place).map_or_else(String::new, |from| format!(", {from}"));
    let mut lines = vec![
        format!("{number}. {place}{from}: {}", percent(rival.probability)),
        format!("   {}", ellipse_words(rival.estimate.ellipse())),
    ];
    let marks: Vec<String> = rival.identities.iter().map(|i| i.words(" is ")).collect();
    if !marks.is_empty() {
        lines.push(format!("   {}", marks.join(", ")));
    }
    lines
}

/// The widest line of a block, in characters.
const WIDTH: usize = 96;

/// A line broken between words where it is too long, what follows set in further.
fn broken(line: &str) -> Vec<String> {
    let inset: usize = line.chars().take_while(|c| *c == ' ').count();
    let mut lines = vec![" ".repeat(inset)];
    let mut started = false;
    for word in line.split_whitespace() {
        let last = lines.last_mut().map_or(0, |last| last.chars().count());
        if started && last + 1 + word.chars().count() > WIDTH {
            lines.push(" ".repeat(inset + 2));
            started = false;
        }
        if let Some(last) = lines.last_mut() {
            if started {
                last.push(' ');
            }
            last.push_str(word);
        }
        started = true;
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lines_break_between_words() {
        let broken = broken(&format!("  {} end", "word ".repeat(19)));
        assert_eq!(broken.len(), 2);
        assert!(broken[0].starts_with("  word") && broken[0].chars().count() <= WIDTH);
        assert_eq!(broken[1], "    end");
        assert_eq!(super::broken("short"), ["short"]);
    }
}
