//! The watch without a screen: entries in, one a line; each change out, one a line.

mod alarms;
mod clock;
mod part;
mod told;

use std::fs::File;
use std::io::{self, BufRead, Write};
use std::sync::mpsc::{Receiver, RecvTimeoutError, sync_channel};
use std::thread;
use std::time::Duration;

use jiff::Timestamp;
use serde_json::{Map, Value};

use super::super::common::{CAUTION, Common, Format};
use super::super::failure::{Done, Failure};
use super::{Sitting, now, parting};
use crate::fix::Fix;
use crate::reckon::FlowFound;
use crate::screen::{
    Answer, Keeping, Outlook, carried_lines, expected, no_contact_lines, solve, verdict_lines,
    whole_percent,
};
use crate::text::{plain, plain_json};
use crate::watch::entry::{
    Entry, EntryError, MARKS_NOT_AT_HAND, MOST_CHARACTERS, spoken_bearing, understood,
};
use crate::watch::log::{SaidEntry, What};
use crate::watch::{Echo, Held, LeftOut, Offer, Watch, words};
use alarms::Alarms;

/// The longest line looked at, in bytes; the rest of a longer one is passed over.
const MOST_BYTES: u64 = 8 * MOST_CHARACTERS as u64;

/// How often it is looked for what must not be overlooked, while nothing is typed.
const TICK: Duration = Duration::from_secs(2);

/// What `?` tells; the whole grammar stands in the reference.
const HELP: [&str; 14] = [
    "17.3 042: a contact, range in miles and true bearing; 042m is magnetic, 337r or rel off the bow",
    "17.3 042 Gannet Head: a contact with the mark you take it for; near, centre, left, right, shore",
    "30.5 d 3/2: range, and the deflections to port and starboard of a set with two lobes",
    "A 17.4 042: corrects contact A; mark A Gannet Head names it; del A takes it out",
    "dr 38 12.9 S, 21 30.5 W sigma 4: a new reckoning; trk 074 165: track and speed made good",
    "h 2000: own height in feet from now on; h 2000 all: for all that was read so far too",
    "hdg 070: own heading; bank 10r: right wing down by so many degrees",
    "accept: the reckoning starts from the fix as it stands; drift: use the wind or stream it found",
    "again D 16.8 040: echo D seen a second time; call D white ship: its name; tas 160: airspeed",
    "undo, redo; # and a note for the log",
    "now: where the fix is carried to by now, and what should show from there",
    "!: acknowledges the alarms that stand",
    "@03:41:10 or -2m after a contact: when it was measured",
    "q or the end of input leaves; every entry said as kept is on disk",
];

/// What `tour` tells here.
const NO_TOUR: &str = "the tour is on the display: foreland watch --tour, in a terminal";

/// Takes entries from standard input until it ends.
pub(super) fn run(mut sitting: Sitting, common: &Common) -> Result<Done, Failure> {
    let mut out = Out::new(common)?;
    let mut last = Last::default();
    greet(&mut sitting, &mut last, &mut out)?;
    let mut alarms = Alarms::new(&mut out)?;
    let typed = typed()?;
    let mut shown = now();
    loop {
        let Last { answer: latest, part, .. } = &mut last;
        part::take_in(&mut sitting, latest.as_ref(), part, &mut out)?;
        let known = (last.answer.as_ref(), last.part.lacks());
        alarms.look(&mut sitting, known, now(), &mut out)?;
        let received = typed.recv_timeout(TICK);
        clock::look(&mut sitting, &mut shown, now(), &mut out)?;
        let line = match received {
            Ok(line) => line?,
            Err(RecvTimeoutError::Timeout) => continue,
            Err(RecvTimeoutError::Disconnected) => break,
        };
        let line = line.trim();
        match line.to_ascii_lowercase().as_str() {
            "" => {}
            "q" => break,
            "!" => alarms.acknowledge(&mut sitting, now(), &mut out)?,
            "?" | "help" => HELP.iter().try_for_each(|line| out.say("help", line))?,
            "tour" => out.say("refused", NO_TOUR)?,
            "now" if last.part.lacks() => out.say("now", part::LACKING)?,
            "now" => by_now(&sitting, last.answer.as_ref(), &mut out)?,
            _ if last.part.lacks() && names_a_mark(line) => {
                out.say("refused", MARKS_NOT_AT_HAND)?;
            }
            _ => enter(&mut sitting, &mut last, line, &mut out)?,
        }
    }
    end(&mut sitting, last.lost, common, &mut out)
}

/// Takes an entry, says what became of it, and answers where it changes what is known.
fn enter(sitting: &mut Sitting, last: &mut Last, line: &str, out: &mut Out) -> Result<(), Failure> {
    let count = match take(sitting, last.fix(), line, now()) {
        Taken::Refused(why) => return out.say("refused", &why),
        Taken::Kept { said, count } => {
            last.lost = None;
            out.say("kept", &said)?;
            count
        }
        Taken::Lost { said, count, why } => {
            out.say("not kept", &format!("{said}: IN MEMORY ONLY, not on disk: {why}"))?;
            last.lost = Some(why);
            count
        }
    };
    if count { answer(sitting, last, out) } else { Ok(()) }
}

/// Says where entries were kept; an error where not all were. `lost`: why the last was not.
fn end(
    sitting: &mut Sitting,
    lost: Option<String>,
    common: &Common,
    out: &mut Out,
) -> Result<Done, Failure> {
    // Once more: what was refused may find the disk again.
    let last = sitting.keeper.try_again().err().map(|error| error.to_string());
    let keeping = Keeping::from(sitting.keeper.tally());
    let lost = last.or(lost).filter(|_| matches!(keeping, Keeping::Failed(..)));
    for line in parting(&keeping, 0, &common.chart).lines() {
        out.say("end", line)?;
    }
    match lost {
        None => Ok(Done::OK),
        Some(why) => Err(Failure::input(format!("not every entry was kept: {why}"))),
    }
}

/// The lines of standard input as they are asked for, to its end.
fn typed() -> Result<Receiver<Result<String, Failure>>, Failure> {
    // One line waits here; the others, where they come from.
    let (lines, typed) = sync_channel(1);
    let read = move || {
        let mut input = io::stdin().lock();
        while let Some(line) = next_line(&mut input).transpose() {
            let failed = line.is_err();
            if lines.send(line).is_err() || failed {
                return;
            }
        }
    };
    match thread::Builder::new().name("entries".to_owned()).spawn(read) {
        Ok(_) => Ok(typed),
        Err(error) => Err(Failure::Fault(format!("no thread to read entries by: {error}"))),
    }
}

/// What became of a line.
enum Taken {
    /// It is on the disk, and in the watch; `count` where it changes what is known.
    Kept {
        said: String,
        count: bool,
    },
    Refused(String),
    /// The log could not be written: it is in the watch, and in memory only.
    Lost {
        said: String,
        count: bool,
        why: String,
    },
}

fn names_a_mark(line: &str) -> bool {
    understood(line).is_ok_and(|entry| entry.names_a_mark())
}

fn take(sitting: &mut Sitting, standing: Option<&Fix>, line: &str, wall: Timestamp) -> Taken {
    let marks = sitting.chart.marks();
    let refused =
        |error: &EntryError| Taken::Refused(sitting.watch.said_of(line, error.to_string()));
    let entry = match understood(line) {
        Ok(entry) => entry,
        Err(error) => return refused(&error),
    };
    let changed = match (&entry, standing) {
        (Entry::Accept, Some(fix)) => sitting.watch.acceptance(fix),
        _ => sitting.watch.change(&entry, wall, marks),
    };
    let what = match changed {
        Ok(what) => what,
        Err(error) => return refused(&error),
    };
    let mut said = sitting.watch.say_on(&what, &sitting.chart, wall);
    if sitting.watch.holds_time_of(&entry) {
        said += " (time held: no track and speed)";
    }
    let time = sitting.watch.own_time(wall);
    let kept = sitting.keeper.keep(time, what.clone(), Some(line.to_owned()));
    if let Err(error) = sitting.watch.apply(&what) {
        return Taken::Refused(error.to_string());
    }
    let count = !matches!(what, What::Note { .. });
    match kept {
        Ok(()) => Taken::Kept { said, count },
        Err(error) => Taken::Lost { said, count, why: error.to_string() },
    }
}

fn greet(sitting: &mut Sitting, last: &mut Last, out: &mut Out) -> Result<(), Failure> {
    out.say("chart", sitting.chart.name())?;
    for notice in sitting.notices.iter().chain(sitting.chart.cautions()) {
        out.say("caution", notice)?;
    }
    out.say("caution", CAUTION)?;
    for held in sitting.watch.contacts() {
        let said = words::contact(&held.entry);
        let out_of_fix = sitting.watch.left_out(held);
        let why = out_of_fix.map_or_else(String::new, |why| format!("; {}", words::left_out(&why)));
        out.say("contact", &format!("{}: {said}{why}", held.contact.label))?;
    }
    last.moving = moving(&sitting.watch);
    answer(sitting, last, out)
}

/// What was said last.
#[derive(Default)]
struct Last {
    answer: Option<Answer>,
    said: Option<SaidEntry>,
    offer: Option<Offer>,
    flow: Option<FlowFound>,
    echoes: Vec<Echo>,
    moving: Vec<String>,
    told: Vec<told::Said>,
    part: part::Part,
    /// Why the last entry is in memory only; none once the disk has them all.
    lost: Option<String>,
}

/// Labels of the contacts that move.
fn moving(watch: &Watch) -> Vec<String> {
    let moves = |held: &&Held| watch.left_out(held) == Some(LeftOut::Moves);
    watch.contacts().iter().filter(moves).map(|held| held.contact.label.clone()).collect()
}

impl Last {
    fn fix(&self) -> Option<&Fix> {
        self.answer.as_ref().map(|answer| &answer.fix)
    }
}

/// Marks that should show by now that are named.
const MOST_SHOWN: usize = 8;

/// The place that stands carried on to now, a reckoning and no fix, and what should show from there.
fn by_now(sitting: &Sitting, answer: Option<&Answer>, out: &mut Out) -> Result<(), Failure> {
    let watch = &sitting.watch;
    let Some(answer) = answer else {
        return out
            .say("now", "no reckoning: type where you think you are, dr 38 12.9 S, 21 30.5 W");
    };
    let by = watch.own_time(now());
    let Some(carried) = answer.carried(watch, by) else {
        return out.say("now", &answer.why_not_carried(watch, by));
    };
    let [full, ..] = carried_lines(&carried);
    out.say("now", &full)?;
    let from = Outlook::new(carried, watch, 0);
    let shows = expected(&sitting.chart, &from.vantage, &from.set);
    let mut marks: Vec<_> = shows
        .marks
        .iter()
        .filter(|mark| mark.paint_probability >= 0.5)
        .filter_map(|mark| Some((mark, sitting.chart.marks().get(mark.mark)?)))
        .filter(|(_, charted)| charted.named)
        .collect();
    marks.sort_by(|a, b| a.0.range.metres().total_cmp(&b.0.range.metres()));
    if marks.is_empty() {
        out.say("shows", "no named mark should paint from there")?;
    }
    for (mark, charted) in marks.iter().take(MOST_SHOWN) {
        let bearing = spoken_bearing(mark.bearing.degrees().round() % 360.0);
        let (range, chance) = (mark.range.nautical_miles(), whole_percent(mark.paint_probability));
        out.say("shows", &format!("{}, {range:.1} NM {bearing} true, {chance}", charted.name))?;
    }
    Ok(())
}

/// The verdict on what is known now, in the display's own words, and whatever else has changed: the
/// landfall's, a drift found, echoes that no chart explains.
fn answer(sitting: &mut Sitting, last: &mut Last, out: &mut Out) -> Result<(), Failure> {
    let Some(sightings) = sitting.watch.sightings() else {
        return out.say("no reckoning", "type where you think you are: dr 38 12.9 S, 21 30.5 W");
    };
    if !part::take_in(sitting, None, &mut last.part, out)? {
        last.answer = None;
        return out.say("no fix", part::LACKING);
    }
    let answer = solve(&sitting.chart, &sightings);
    let (word, lines) = if sitting.watch.has_measured() {
        (answer.fix.verdict.as_str(), verdict_lines(&answer))
    } else {
        ("no contact", no_contact_lines(&sitting.chart, &sitting.watch, &answer))
    };
    for line in lines.iter().filter(|line| !line.is_empty()) {
        out.say(word, line)?;
    }
    told::say(&sitting.watch, &answer.fix, last, out)?;
    landfall(&sitting.watch, &answer, last, out)?;
    found(&sitting.watch, last, out)?;
    left_out(&sitting.watch, last, out)?;
    let echoes = sitting.watch.echoes();
    for echo in echoes.iter().filter(|echo| !last.echoes.contains(echo)) {
        out.say("echo", &words::echo(echo))?;
    }
    last.echoes = echoes.to_vec();
    keep_said(sitting, &answer, &lines, last);
    last.answer = Some(answer);
    Ok(())
}

fn landfall(watch: &Watch, answer: &Answer, last: &Last, out: &mut Out) -> Result<(), Failure> {
    let before = last.fix().and_then(|fix| fix.landfall.as_ref());
    if answer.fix.landfall.as_ref() != before
        && let Some(landfall) = &answer.fix.landfall
    {
        if let Some((time, said)) = watch.landfall_accepted() {
            return out.say("landfall", &format!("{said} {}", words::with_the_fix(time)));
        }
        let by = landfall.settle_by.as_ref().map(|by| format!("; settle it by {by}"));
        let by = by.unwrap_or_default();
        out.say("landfall", &format!("{}: {}{by}", landfall.verdict.as_str(), landfall.why))?;
    }
    Ok(())
}

/// A drift on offer and the wind or stream known, where they have changed.
fn found(watch: &Watch, last: &mut Last, out: &mut Out) -> Result<(), Failure> {
    if let Some(offer) = watch.offer().filter(|offer| last.offer.as_ref() != Some(offer)) {
        out.say("drift", &format!("{}; \"drift\" uses it", words::offer(offer)))?;
    }
    last.offer = watch.offer().copied();
    let flow = watch.flow_found();
    if let Some(flow) = flow.filter(|flow| last.flow != Some(*flow)) {
        let said = words::flow(watch.craft(), &flow);
        out.say("flow", &format!("{said}, by what is steered and made good"))?;
    }
    last.flow = flow;
    Ok(())
}

/// Contacts that have come to feed no fix since, and those that may feed one again.
fn left_out(watch: &Watch, last: &mut Last, out: &mut Out) -> Result<(), Failure> {
    let moving = moving(watch);
    for label in moving.iter().filter(|label| !last.moving.contains(label)) {
        out.say("left out", &format!("contact {label} {}", words::left_out(&LeftOut::Moves)))?;
    }
    for label in last.moving.iter().filter(|label| !moving.contains(label)) {
        if watch.find(label).is_some() {
            out.say(
                "taken in",
                &format!("contact {label} is not known to move: it may feed the fix"),
            )?;
        }
    }
    last.moving = moving;
    Ok(())
}

/// Keeps what was said, where it is another than was said last.
fn keep_said(sitting: &mut Sitting, answer: &Answer, lines: &[String], last: &mut Last) {
    if sitting.watch.has_measured() {
        let said = Watch::said(&answer.fix, lines.to_vec());
        if last.said.as_ref() != Some(&said) && sitting.keeper.is_open() {
            let time = sitting.watch.own_time(now());
            // What fails here waits in memory for the next entry, which tells of it.
            let _ = sitting.keeper.keep(time, What::Said(said.clone()), None);
        }
        last.said = Some(said);
    }
}

/// One line of standard input; what is beyond the longest is passed over. `None` at the end.
fn next_line(input: &mut impl BufRead) -> Result<Option<String>, Failure> {
    let failed = |error: io::Error| Failure::input(format!("standard input: {error}"));
    let mut bytes = Vec::new();
    let read = io::Read::take(&mut *input, MOST_BYTES).read_until(b'\n', &mut bytes);
    if read.map_err(failed)? == 0 {
        return Ok(None);
    }
    if bytes.last() != Some(&b'\n') && bytes.len() as u64 == MOST_BYTES {
        input.skip_until(b'\n').map_err(failed)?;
    }
    Ok(Some(String::from_utf8_lossy(&bytes).trim_end_matches(['\r', '\n']).to_owned()))
}

/// Where lines go: standard output, or the file asked for.
struct Out {
    to: Box<dyn Write>,
    name: String,
    format: Format,
    closed: bool,
}

impl Out {
    fn new(common: &Common) -> Result<Self, Failure> {
        let (to, name): (Box<dyn Write>, _) = match &common.output {
            Some(path) => {
                let name = path.display().to_string();
                let file = File::create(path).map_err(|error| {
                    Failure::input(format!("{name}: cannot be written: {error}"))
                })?;
                (Box::new(file), name)
            }
            None => (Box::new(io::stdout()), "standard output".to_owned()),
        };
        Ok(Self { to, name, format: common.format, closed: false })
    }

    /// Says one thing as one line that a terminal only shows, at once.
    fn say(&mut self, what: &str, text: &str) -> Result<(), Failure> {
        self.say_with(what, text, &Map::new())
    }

    /// The same; of an object's line these fields are part too.
    fn say_with(
        &mut self,
        what: &str,
        text: &str,
        fields: &Map<String, Value>,
    ) -> Result<(), Failure> {
        if self.closed {
            return Ok(());
        }
        let text = plain(text);
        let line = match self.format {
            Format::Text => format!("{what}: {text}\n"),
            Format::Json => {
                let mut object = fields.clone();
                object.insert("event".to_owned(), what.into());
                object.insert("text".to_owned(), text.into());
                format!("{}\n", plain_json(&Value::Object(object).to_string()))
            }
        };
        match self.to.write_all(line.as_bytes()).and_then(|()| self.to.flush()) {
            // Nobody listens any more; what is typed is still kept.
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => self.closed = true,
            Err(error) => {
                return Err(Failure::input(format!("{}: cannot be written: {error}", self.name)));
            }
            Ok(()) => {}
        }
        Ok(())
    }
}
