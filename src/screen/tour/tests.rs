use std::path::Path;
use std::sync::{Arc, LazyLock};

use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use ratatui::layout::Size;

use super::lines::cut;
use super::*;
use crate::chart::Chart;
use crate::contact::Sightings;
use crate::fix::Verdict;
use crate::screen::state::{Command, Echo, Keeping, Message};
use crate::screen::theme::{Colours, Theme};
use crate::screen::update;
use crate::screen::work::solve;
use crate::watch::{Tally, Watch};

static CHART: LazyLock<Arc<Chart>> = LazyLock::new(|| Arc::new(Chart::sample().unwrap()));

const TOUR: &str = include_str!("../../../charts-sample/tour.toml");

fn lead() -> Lead {
    Lead::new("tour", TOUR, &Sightings::parse(TOUR, "tour", Path::new("")).unwrap())
}

/// A display whose workers answer at once.
struct Play {
    state: State,
    kept: u64,
    remembered: Vec<Told>,
    /// All that the tour said, with the step it was at.
    said: Vec<(Step, String)>,
}

impl Play {
    /// The tour, from its first step on.
    fn begun() -> Self {
        let lead = lead();
        let watch = lead.start.clone();
        Self::new(watch, Tour::begun(lead, None))
    }

    /// The sample as it opens for somebody who has never been here.
    fn offered() -> Self {
        let text = include_str!("../../../charts-sample/landfall.toml");
        let sightings = Sightings::parse(text, "landfall", Path::new("")).unwrap();
        let tour = Tour::ready(lead(), true, Some("tour.txt".into()));
        Self::new(Watch::from_sightings(&sightings), tour)
    }

    fn new(watch: Watch, tour: Tour) -> Self {
        let keeping = Keeping::Ready("watch.log".into());
        let mut state = State::new(Arc::clone(&CHART), watch, keeping, Theme::new(Colours::None));
        state.tour = tour;
        let mut play = Self { state, kept: 0, remembered: Vec::new(), said: Vec::new() };
        play.tell(Message::Time("2026-06-01T12:00:00Z".parse().unwrap()));
        play.tell(Message::Resized(Size::new(80, 24)));
        let first = play.state.first_question().into_iter().collect();
        play.obey(first);
        play
    }

    fn tell(&mut self, message: Message) {
        let commands = update(&mut self.state, message);
        self.note();
        self.obey(commands);
    }

    fn obey(&mut self, commands: Vec<Command>) {
        for command in commands {
            match command {
                Command::Solve { asked, sightings } => {
                    let answer = Box::new(solve(&CHART, &sightings));
                    self.tell(Message::Answered { asked, answer });
                }
                Command::Keep { .. } => {
                    self.kept += 1;
                    let path = "watch.log".into();
                    self.tell(Message::Kept(Tally {
                        path,
                        begun: true,
                        kept: self.kept,
                        unkept: 0,
                    }));
                }
                Command::Remember { told, .. } => self.remembered.push(told),
                _ => {}
            }
        }
    }

    fn note(&mut self) {
        if let Some((step, said)) = self.state.tour.step().zip(self.says())
            && self.said.last().is_none_or(|last| *last != (step, said.clone()))
        {
            self.said.push((step, said));
        }
    }

    /// What the tour says now, whole.
    fn says(&self) -> Option<String> {
        rows(&self.state, 80).map(|rows| rows.join(" ").trim().to_owned())
    }

    fn key(&mut self, code: KeyCode) {
        self.tell(Message::Key(KeyEvent::new(code, KeyModifiers::NONE)));
    }

    fn control(&mut self, c: char) {
        self.tell(Message::Key(KeyEvent::new(KeyCode::Char(c), KeyModifiers::CONTROL)));
    }

    fn typed(&mut self, line: &str) {
        line.chars().for_each(|c| self.key(KeyCode::Char(c)));
    }

    fn enter(&mut self, line: &str) {
        self.typed(line);
        self.key(KeyCode::Enter);
    }

    fn at(&self, step: Step) {
        assert_eq!(self.state.tour.step(), Some(step), "{:?}", self.says());
    }

    fn told(&self, part: &str) {
        assert!(self.says().unwrap().contains(part), "{:?} lacks {part}", self.says());
    }

    /// The echo of this place in the lead, as it is typed.
    fn echo(&self, at: usize) -> String {
        self.state.tour.lead.as_ref().unwrap().readings[at].typed()
    }

    fn verdict(&self) -> Verdict {
        self.state.answer().unwrap().fix.verdict
    }

    /// The first two echoes are in.
    fn with_two() -> Self {
        let mut play = Self::begun();
        for at in 0..2 {
            play.enter(&play.echo(at));
        }
        play.at(Step::Unsettled);
        play
    }

    /// A fix stands.
    fn fixed() -> Self {
        let mut play = Self::with_two();
        play.enter(&play.echo(2));
        play.at(Step::Fix);
        play
    }
}

#[test]
fn by_doing_what_it_says_every_step_is_told_and_a_fix_stands() {
    let mut play = Play::begun();
    play.at(Step::Verdict);
    play.told("NO CONTACT");
    play.control('n');
    play.at(Step::First);
    let first = play.echo(0);
    play.told(&first);
    play.typed(&first);
    play.at(Step::Echo);
    play.key(KeyCode::Enter);
    play.at(Step::Second);
    assert_eq!(play.verdict(), Verdict::Ambiguous);
    let second = play.echo(1);
    play.told(&second);
    play.enter(&second);
    play.at(Step::Unsettled);
    play.told("AMBIGUOUS");
    play.key(KeyCode::Char(' '));
    play.at(Step::Unsettled);
    play.key(KeyCode::Char(' '));
    play.at(Step::Take);
    // The engine itself asks for it, by name.
    let asked = play.state.answer().unwrap().fix.next[0].mark.clone();
    let readings = &play.state.tour.lead.as_ref().unwrap().readings;
    let third = readings.iter().find(|reading| reading.mark == asked).unwrap().typed();
    play.told(&format!("It asks for {asked}."));
    play.told(&third);
    play.enter(&third);
    play.at(Step::Fix);
    assert_eq!(play.verdict(), Verdict::Fixed);
    play.control('n');
    play.at(Step::Mend);
    play.control('z');
    play.at(Step::Mend);
    play.told("^Y");
    assert_ne!(play.verdict(), Verdict::Fixed);
    play.control('y');
    play.at(Step::End);
    assert_eq!(play.verdict(), Verdict::Fixed);
    play.control('n');
    assert_eq!(play.state.tour.step(), None);
    let told: Vec<Step> = play.said.iter().map(|(step, _)| *step).collect();
    assert!(Step::ALL.iter().all(|step| told.contains(step)), "{told:?}");
    // Truth of the sample's own account: the fix holds it.
    let truth = "38 17.1 S, 21 34.1 W".parse().unwrap();
    let fix = &play.state.answer().unwrap().fix;
    let (position, error) = fix.position.zip(fix.covariance).unwrap();
    let off = crate::geodesy::distance(position, truth).nautical_miles();
    assert!(off < error.ellipse(0.95).semi_major.nautical_miles(), "{off}");
}

#[test]
fn whoever_types_on_unled_is_not_held_up() {
    let mut play = Play::begun();
    // Both the first contact and the next ones, in another order than it tells, none of its keys.
    for at in [3, 0] {
        play.enter(&play.echo(at));
    }
    play.at(Step::Fix);
    assert_eq!(play.verdict(), Verdict::Fixed);
    play.enter("undo");
    play.enter("redo");
    play.at(Step::End);
}

#[test]
fn what_is_half_typed_or_refused_goes_no_further() {
    let mut play = Play::begun();
    play.control('n');
    play.typed("12.0 0");
    play.at(Step::First);
    let before = play.says();
    play.typed("7");
    assert_eq!(play.says(), before, "it does not talk while somebody types");
    play.key(KeyCode::Enter);
    assert!(matches!(play.state.echo, Echo::Refused(_)));
    play.at(Step::First);
    play.told("says why not");
    // The next character begins anew.
    play.enter("# a note for the log");
    play.at(Step::First);
    let figures = play.echo(0);
    play.told(&figures);
    // A contact that is dropped is none.
    play.typed(&figures);
    play.at(Step::Echo);
    play.key(KeyCode::Esc);
    play.at(Step::First);
}

#[test]
fn figures_that_the_radar_does_not_show_are_told_before_enter_and_after() {
    let mut play = Play::begun();
    play.typed("12.0 057");
    play.at(Step::Echo);
    let right = play.echo(0);
    play.told(&format!("your radar shows {right}"));
    play.key(KeyCode::Enter);
    play.at(Step::First);
    play.told(&format!("Correct it: A {right}"));
    play.enter(&format!("A {right}"));
    play.at(Step::Second);
    // A range alone is a contact, and not the echo.
    play.enter("r13.3");
    play.at(Step::Second);
    play.told("no echo like B");
    play.control('z');
    play.at(Step::Second);
    play.enter(&play.echo(1));
    play.control('n');
    play.at(Step::Take);
    play.enter("22.5 181");
    play.at(Step::Take);
    play.told(&format!("Correct it: C {}", play.echo(2)));
    // A fix on a contact that is none of the echoes is not what it leads to.
    play.enter(&play.echo(3));
    play.at(Step::Take);
    play.enter(&format!("C {}", play.echo(2)));
    play.at(Step::Fix);
}

#[test]
fn what_is_taken_back_takes_the_tour_back_with_it() {
    let mut play = Play::with_two();
    play.control('z');
    play.at(Step::Second);
    play.control('z');
    play.at(Step::First);
    play.control('y');
    play.at(Step::Second);
    play.control('y');
    play.at(Step::Unsettled);
    play.control('n');
    play.at(Step::Take);
    play.enter("del A");
    play.at(Step::Second);
    // A fix that is deleted, not taken back, is asked for again.
    let mut play = Play::fixed();
    play.enter("del C");
    play.at(Step::Take);
    // What is taken back while the fix is read is the next step's own.
    let mut play = Play::fixed();
    play.enter("undo");
    play.at(Step::Mend);
    play.told("Taken back");
}

#[test]
fn a_correction_does_for_taking_back() {
    let mut play = Play::fixed();
    play.control('n');
    play.at(Step::Mend);
    let first = play.echo(0);
    play.enter(&format!("A {first}"));
    play.at(Step::End);
}

#[test]
fn next_and_back_by_hand_wait_there_and_nothing_is_lost() {
    let mut play = Play::begun();
    for step in &Step::ALL[1..] {
        play.enter("tour next");
        play.at(*step);
    }
    for step in Step::ALL.iter().rev().skip(1) {
        play.control('p');
        play.at(*step);
    }
    play.control('p');
    play.at(Step::Verdict);
    let mut play = Play::with_two();
    play.enter("tour back");
    play.at(Step::Second);
    assert!(play.state.tour.is_done_already());
    // It waits there whatever else comes, until it is told to go on.
    play.key(KeyCode::Char('/'));
    play.at(Step::Second);
    play.control('n');
    play.at(Step::Unsettled);
    // Skipped to a step whose ground is not there: it goes on once that step has come about.
    let mut play = Play::begun();
    (0..5).for_each(|_| play.control('n'));
    play.at(Step::Take);
    for at in [0, 3] {
        play.enter(&play.echo(at));
    }
    play.at(Step::Fix);
    let count = play.state.watch.contacts().len();
    play.control('x');
    assert_eq!((play.state.tour.step(), play.state.watch.contacts().len()), (None, count));
    assert_eq!(play.state.keeping, Keeping::In("watch.log".into(), 2));
}

#[test]
fn its_words_are_answered_before_enter_and_its_keys_are_the_watchs_while_it_is_not_on() {
    let mut play = Play::begun();
    play.typed("tour off");
    assert!(
        matches!(&play.state.echo, Echo::Understood(said) if said.contains("what was entered"))
    );
    play.at(Step::Verdict);
    play.key(KeyCode::Enter);
    assert_eq!(play.says(), None);
    play.control('n');
    play.enter("tour back");
    assert!(matches!(&play.state.echo, Echo::Refused(why) if why.contains("no tour is under way")));
    play.key(KeyCode::Esc);
    play.enter("tour");
    play.at(Step::Verdict);
    play.enter("tour");
    assert!(matches!(&play.state.echo, Echo::Refused(why) if why.contains("tour next")));
}

#[test]
fn it_is_offered_on_the_sample_and_refused_for_good() {
    let mut play = Play::offered();
    assert!(play.state.tour.is_offered() && play.says().is_none());
    play.enter("no tour");
    assert!(!play.state.tour.is_offered());
    assert_eq!(play.remembered, [Told::Refused]);
    // It can be had all the same: the landfall that was worked is put away, and nothing was entered.
    play.key(KeyCode::Char(':'));
    play.typed("tour");
    play.key(KeyCode::Enter);
    play.at(Step::Verdict);
    assert!(play.state.watch.contacts().is_empty());
    assert_eq!(play.remembered, [Told::Refused, Told::Begun]);
    play.control('x');
    assert_eq!(play.remembered.last(), Some(&Told::Left));
}

#[test]
fn nothing_that_was_entered_gives_way_to_it() {
    let mut play = Play::offered();
    play.enter("24.1 141");
    assert!(!play.state.tour.is_offered());
    let before = play.state.watch.contacts().len();
    play.enter("tour");
    assert!(
        matches!(&play.state.echo, Echo::Refused(why) if why.contains("foreland watch --tour"))
    );
    assert_eq!((play.says(), play.state.watch.contacts().len()), (None, before));
    // On a chart of one's own there is none.
    let mut play = Play::new(lead().start, Tour::default());
    play.enter("tour");
    assert!(matches!(&play.state.echo, Echo::Refused(why) if why.contains("sample chart")));
}

#[test]
fn what_it_tells_to_type_comes_from_the_sightings_alone() {
    let text = TOUR.replace("range_nm = 12.0", "range_nm = 12.4");
    let lead = Lead::new("tour", &text, &Sightings::parse(&text, "tour", Path::new("")).unwrap());
    let mut play = Play::new(lead.start.clone(), Tour::begun(lead, None));
    play.control('n');
    play.told("12.4 NM on 075");
    play.told("12.4 075");
    assert!(!play.says().unwrap().contains("12.0"));
}

#[test]
fn all_that_it_says_fits_two_lines_of_eighty_columns_and_stays_readable_on_narrow_ones() {
    let mut all = Vec::new();
    let mut play = Play::fixed();
    play.control('z');
    all.append(&mut play.said);
    let mut play = Play::begun();
    for line in ["12.0 057", "361", "A 12.0 075", "13.3 095.5", "22.5 181"] {
        play.enter(line);
        play.key(KeyCode::Esc);
    }
    play.control('n');
    all.append(&mut play.said);
    let mut play = Play::begun();
    play.tell(Message::Resized(Size::new(160, 50)));
    for step in 0..play.state.tour.lead.as_ref().unwrap().readings.len() {
        play.enter(&play.echo(step));
        play.enter("tour back");
        play.enter("tour next");
    }
    play.control('n');
    play.control('n');
    all.append(&mut play.said);
    let steps: Vec<Step> = all.iter().map(|(step, _)| *step).collect();
    assert!(Step::ALL.iter().all(|step| steps.contains(step)));
    for (_, text) in &all {
        for (columns, most) in [(160, 1), (80, 2), (72, 3), (44, 6)] {
            let rows = cut(text, columns);
            assert!(rows.len() <= most, "{columns} columns: {} rows: {text}", rows.len());
            let last = rows.len() - 1;
            for (at, row) in rows.iter().enumerate() {
                let keys = if at == last { KEYS.chars().count() + 2 } else { 0 };
                let width = usize::from(LEAD) + row.chars().count() + keys;
                assert!(width <= usize::from(columns), "{columns} columns: {width}: {row}");
            }
            assert_eq!(rows.join(" ").trim(), text.trim());
        }
    }
    assert!(OFFER.chars().count() + 6 <= 80);
}
