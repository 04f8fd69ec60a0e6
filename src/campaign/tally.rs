use std::collections::BTreeMap;

use super::row::{Answer, FixRow, LookRow, Row};
use super::share::Share;
use crate::fix::LandfallVerdict;
use crate::units::METRES_PER_NAUTICAL_MILE;

/// Bands of the distance to run are as wide as one of these, nautical miles; else as twice the widest of
/// them, or twice that, and so on.
const WIDTHS_NM: [f64; 6] = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0];
const WIDEST_NM: f64 = 100.0;

/// The most bands.
const MOST_BANDS: f64 = 10.0;

/// What a campaign came to.
#[derive(Debug, Clone, PartialEq)]
pub struct Tally {
    /// Landfalls made.
    pub landfalls: usize,
    /// With a right first fix.
    pub right: Share,
    /// With a wrong one.
    pub wrong: Share,
    /// Without any, by what the last look came to.
    pub refused: Refused,
    /// Of all fixes: the truth in the 95 % and the 99.9 % ellipse; beyond the radius, of those that
    /// state one.
    pub in_95: Share,
    /// See `in_95`.
    pub in_999: Share,
    /// See `in_95`.
    pub beyond_radius: Share,
    /// Of the right fixes.
    pub first: Option<First>,
    /// Along the run where there were looks, the farthest out first.
    pub bands: Vec<Band>,
    /// By where the truth lay across the track at the end of the run, the leftmost first.
    pub sides: Vec<Side>,
    /// What the marks are worth, the most used first.
    pub marks: Vec<MarkUse>,
    /// What was said of the landfall at the first fix, or at the last look where there was none.
    pub said: Vec<Verdicts>,
    /// The numbers of the landfalls with a wrong fix.
    pub wrong_ones: Vec<u64>,
}

/// Landfalls without a fix.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Refused {
    /// In all.
    pub all: Share,
    /// At their last look, by the program's answer.
    pub last: Vec<(Answer, usize)>,
    /// Nothing ever showed.
    pub nothing: usize,
}

/// When and where the first right fix comes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct First {
    /// To run: of ten landfalls with one, one has it so early, five, and nine; nautical miles.
    pub to_run_nm: [f64; 3],
    /// From the first look at which anything shows, the same, minutes.
    pub after_min: [f64; 3],
    /// Its error, the same, nautical miles.
    pub error_nm: [f64; 3],
    /// The longer half axis of its 95 % ellipse, the same, nautical miles.
    pub axis_nm: [f64; 3],
}

/// A part of the run.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// To run, from and to, nautical miles.
    pub to_run_nm: [f64; 2],
    /// Looks in it at which anything showed.
    pub looks: usize,
    /// Of the looks: first fixes, right and wrong.
    pub right: Share,
    /// See `right`.
    pub wrong: Share,
    /// Of the looks, by what the program answered.
    pub answers: Vec<(Answer, usize)>,
    /// Of all landfalls: with a right fix by the end of the band.
    pub by_then: Share,
}

/// A part of the truth across the track.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Side {
    /// To the right of the track, from and to, in standard deviations of the reckoning there.
    pub sigmas: [f64; 2],
    /// Of the landfalls in it.
    pub right: Share,
    /// See `right`.
    pub wrong: Share,
}

/// What a mark is worth.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MarkUse {
    /// Its name.
    pub mark: String,
    /// Of the right fixes: an echo of it was measured.
    pub in_right: Share,
    /// Of the looks at which it showed and was measured: right fixes.
    pub read: Share,
    /// Of the looks at which it showed and was not: right fixes.
    pub missed: Share,
}

/// How often one thing was said of the landfall.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Verdicts {
    /// What.
    pub said: LandfallVerdict,
    /// Where an echo measured truly was the landfall's.
    pub there: usize,
    /// Where none was.
    pub not_there: usize,
}

impl MarkUse {
    /// How much likelier a look is a right fix with it than without, in hundredths.
    pub fn gain(&self) -> Option<f64> {
        Some(self.read.percent()? - self.missed.percent()?)
    }
}

impl Tally {
    /// Of rows, whatever their order.
    ///
    /// - `sigma_across_m`: of the reckoning at the end of the run.
    pub fn of(rows: &[Row], sigma_across_m: f64) -> Self {
        let n = rows.len();
        let mut rows: Vec<&Row> = rows.iter().collect();
        rows.sort_by_key(|row| row.landfall);
        let rows = rows.as_slice();
        let fixes: Vec<&FixRow> = rows.iter().filter_map(|row| row.fix.as_ref()).collect();
        let share = |wanted: &dyn Fn(&FixRow) -> bool, of: usize| {
            Share::new(fixes.iter().filter(|fix| wanted(fix)).count(), of)
        };
        let stated = fixes.iter().filter(|fix| fix.radius_m.is_some()).count();
        Self {
            landfalls: n,
            right: share(&|fix| fix.right, n),
            wrong: share(&|fix| !fix.right, n),
            refused: refused(rows),
            in_95: share(&|fix| fix.in_95, fixes.len()),
            in_999: share(&|fix| fix.in_999, fixes.len()),
            beyond_radius: share(&FixRow::is_beyond_radius, stated),
            first: first(rows),
            bands: bands(rows),
            sides: sides(rows, sigma_across_m),
            marks: marks(rows),
            said: said(rows),
            wrong_ones: rows.iter().filter(|row| is_wrong(row)).map(|row| row.landfall).collect(),
        }
    }
}

fn is_right(row: &Row) -> bool {
    row.fix.is_some_and(|fix| fix.right)
}

fn is_wrong(row: &Row) -> bool {
    row.fix.is_some_and(|fix| !fix.right)
}

fn miles(metres: i64) -> f64 {
    metres as f64 / METRES_PER_NAUTICAL_MILE
}

fn refused(rows: &[&Row]) -> Refused {
    let those: Vec<&&Row> = rows.iter().filter(|row| row.fix.is_none()).collect();
    let last = Answer::ALL
        .into_iter()
        .filter(|answer| *answer != Answer::Fixed)
        .map(|answer| {
            let at_last = |row: &&&&Row| row.looks.last().is_some_and(|look| look.answer == answer);
            (answer, those.iter().filter(at_last).count())
        })
        .collect();
    Refused {
        all: Share::new(those.len(), rows.len()),
        last,
        nothing: those.iter().filter(|row| row.looks.is_empty()).count(),
    }
}

/// The values that one, five and nine of ten do not pass.
fn tenths(mut values: Vec<f64>) -> Option<[f64; 3]> {
    values.sort_by(f64::total_cmp);
    let last = values.len().checked_sub(1)?;
    let at = |share: f64| values.get((share * last as f64).round() as usize).copied();
    Some([at(0.1)?, at(0.5)?, at(0.9)?])
}

fn first(rows: &[&Row]) -> Option<First> {
    let right: Vec<(&Row, &LookRow, FixRow)> = rows
        .iter()
        .filter_map(|row| Some((*row, row.looks.last()?, row.fix?)))
        .filter(|(_, _, fix)| fix.right)
        .collect();
    let of = |value: &dyn Fn(&(&Row, &LookRow, FixRow)) -> f64| {
        tenths(right.iter().map(value).collect::<Vec<f64>>())
    };
    // Early is far off: the order is turned.
    let [near, middle, far] = of(&|(_, look, _)| miles(look.to_run_m))?;
    Some(First {
        to_run_nm: [far, middle, near],
        after_min: of(&|(row, look, _)| {
            let began = row.looks.first().map_or(look.at_s, |first| first.at_s);
            f64::from(look.at_s.saturating_sub(began)) / 60.0
        })?,
        error_nm: of(&|(_, _, fix)| miles(i64::from(fix.error_m)))?,
        axis_nm: of(&|(_, _, fix)| miles(i64::from(fix.axis_m)))?,
    })
}

/// Bands of round numbers of miles that hold every look.
fn edges(rows: &[&Row]) -> Vec<[f64; 2]> {
    let looks = || rows.iter().flat_map(|row| &row.looks).map(|look| miles(look.to_run_m));
    let (Some(near), Some(far)) = (looks().reduce(f64::min), looks().reduce(f64::max)) else {
        return Vec::new();
    };
    let fits = |width: &f64| (far / width).floor() - (near / width).floor() < MOST_BANDS;
    // A file of rows may say anything: no run is so long that they are not enough.
    let wider = std::iter::successors(Some(WIDEST_NM), |width| Some(2.0 * width));
    let width = WIDTHS_NM.into_iter().chain(wider).find(fits).unwrap_or(f64::INFINITY);
    let (first, last) = ((near / width).floor() as i64, (far / width).floor() as i64);
    (first..=last).rev().map(|band| [(band + 1) as f64 * width, band as f64 * width]).collect()
}

fn bands(rows: &[&Row]) -> Vec<Band> {
    edges(rows)
        .into_iter()
        .map(|[from, to]| {
            let inside = |look: &LookRow| (to..from).contains(&miles(look.to_run_m));
            let looks: Vec<(&Row, &LookRow)> = rows
                .iter()
                .flat_map(|row| row.looks.iter().map(|look| (*row, look)))
                .filter(|(_, look)| inside(look))
                .collect();
            let (mut right, mut wrong) = (Share::default(), Share::default());
            for (row, look) in &looks {
                right.count(look.is_fixed() && is_right(row));
                wrong.count(look.is_fixed() && is_wrong(row));
            }
            let answers = Answer::ALL.map(|answer| {
                (answer, looks.iter().filter(|(_, look)| look.answer == answer).count())
            });
            let by_then = |row: &&&Row| {
                is_right(row) && row.looks.last().is_some_and(|look| miles(look.to_run_m) >= to)
            };
            Band {
                to_run_nm: [from, to],
                looks: looks.len(),
                right,
                wrong,
                answers: answers.to_vec(),
                by_then: Share::new(rows.iter().filter(by_then).count(), rows.len()),
            }
        })
        .filter(|band| band.looks > 0)
        .collect()
}

fn sides(rows: &[&Row], sigma_across_m: f64) -> Vec<Side> {
    const EDGES: [f64; 5] = [f64::NEG_INFINITY, -1.0, 0.0, 1.0, f64::INFINITY];
    EDGES
        .windows(2)
        .filter_map(|pair| Some([*pair.first()?, *pair.get(1)?]))
        .map(|sigmas| {
            let (mut right, mut wrong) = (Share::default(), Share::default());
            for row in rows {
                let across = row.across_m as f64 / sigma_across_m.max(1.0);
                if (sigmas[0]..sigmas[1]).contains(&across) {
                    right.count(is_right(row));
                    wrong.count(is_wrong(row));
                }
            }
            Side { sigmas, right, wrong }
        })
        .collect()
}

fn marks(rows: &[&Row]) -> Vec<MarkUse> {
    let fixes = rows.iter().filter(|row| is_right(row)).count();
    let blank = |mark: &str| MarkUse {
        mark: mark.to_owned(),
        in_right: Share::new(0, fixes),
        read: Share::default(),
        missed: Share::default(),
    };
    let mut found: BTreeMap<&str, MarkUse> = BTreeMap::new();
    for row in rows {
        for look in &row.looks {
            let right = look.is_fixed() && is_right(row);
            let names = |numbers: &[usize]| -> Vec<&str> {
                numbers.iter().filter_map(|at| row.marks.get(*at)).map(String::as_str).collect()
            };
            for name in names(&look.read) {
                let mark = found.entry(name).or_insert_with(|| blank(name));
                mark.read.count(right);
                mark.in_right.hits += usize::from(right);
            }
            for name in names(&look.missed) {
                found.entry(name).or_insert_with(|| blank(name)).missed.count(right);
            }
        }
    }
    let mut all: Vec<MarkUse> = found.into_values().collect();
    // By name where as many: the sort is stable.
    all.sort_by_key(|mark| std::cmp::Reverse(mark.in_right.hits));
    all
}

fn said(rows: &[&Row]) -> Vec<Verdicts> {
    let last: Vec<(LandfallVerdict, bool)> = rows
        .iter()
        .filter_map(|row| row.looks.last())
        .filter_map(|look| Some((look.verdict?, look.there?)))
        .collect();
    let count =
        |said: LandfallVerdict, there: bool| last.iter().filter(|it| **it == (said, there)).count();
    LandfallVerdict::ALL
        .into_iter()
        .map(|said| Verdicts { said, there: count(said, true), not_there: count(said, false) })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn look(to_run_nm: i64, answer: Answer, read: &[usize], missed: &[usize]) -> LookRow {
        LookRow {
            at_s: (60 - to_run_nm) as u32 * 20,
            to_run_m: to_run_nm * 1_852,
            contacts: 4,
            real: 4,
            answer,
            verdict: Some(LandfallVerdict::CannotSay),
            there: Some(false),
            read: read.to_vec(),
            missed: missed.to_vec(),
        }
    }

    fn row(landfall: u64, across_m: i64, looks: Vec<LookRow>, right: Option<bool>) -> Row {
        let fix = right.map(|right| FixRow {
            right,
            error_m: if right { 926 } else { 9_260 },
            in_95: right,
            in_999: right,
            axis_m: 1_852,
            radius_m: Some(3_704),
        });
        Row { landfall, across_m, marks: vec!["A".to_owned(), "B".to_owned()], looks, fix }
    }

    #[test]
    fn a_tally_is_what_a_hand_would_count() {
        let rows = vec![
            // Right at 33 miles, with A and not B, after a doubt at 42.
            row(
                1,
                -3_000,
                vec![look(42, Answer::Ambiguous, &[1], &[0]), look(33, Answer::Fixed, &[0], &[1])],
                Some(true),
            ),
            // Wrong at 12, with both.
            row(2, 500, vec![look(12, Answer::Fixed, &[0, 1], &[])], Some(false)),
            // Never.
            row(3, 900, vec![look(12, Answer::AtOdds, &[], &[0, 1])], None),
            row(4, 2_500, Vec::new(), None),
        ];
        let tally = Tally::of(&rows, 2_000.0);
        assert_eq!((tally.right, tally.wrong), (Share::new(1, 4), Share::new(1, 4)));
        assert_eq!(tally.refused.all, Share::new(2, 4));
        assert_eq!(tally.refused.nothing, 1);
        assert!(tally.refused.last.contains(&(Answer::AtOdds, 1)));
        assert_eq!((tally.in_95, tally.beyond_radius), (Share::new(1, 2), Share::new(1, 2)));
        assert_eq!(tally.wrong_ones, [2]);
        let first = tally.first.unwrap();
        assert!((first.to_run_nm[1] - 33.0).abs() < 1e-9, "{first:?}");
        assert!((first.after_min[1] - 3.0).abs() < 1e-9, "{first:?}");
        assert!((first.error_nm[0] - 0.5).abs() < 1e-9, "{first:?}");
        // 12 to 42 NM: bands of 5 miles, those with a look.
        let bands: Vec<([f64; 2], usize, usize)> = tally
            .bands
            .iter()
            .map(|band| (band.to_run_nm, band.looks, band.by_then.hits))
            .collect();
        assert_eq!(bands, [([45.0, 40.0], 1, 0), ([35.0, 30.0], 1, 1), ([15.0, 10.0], 2, 1)]);
        // Left by more than 2,000 m one, right by less two, by more one.
        let sides: Vec<[usize; 3]> = tally
            .sides
            .iter()
            .map(|side| [side.right.of, side.right.hits, side.wrong.hits])
            .collect();
        assert_eq!(sides, [[1, 1, 0], [0, 0, 0], [2, 0, 1], [1, 0, 0]]);
        // A was measured at two looks and seen at two more, B the other way about.
        let [a, b] = tally.marks.as_slice() else { panic!("{:?}", tally.marks) };
        assert_eq!((a.mark.as_str(), a.in_right), ("A", Share::new(1, 1)));
        assert_eq!((a.read, a.missed), (Share::new(1, 2), Share::new(0, 2)));
        assert_eq!((b.read, b.missed), (Share::new(0, 2), Share::new(1, 2)));
        assert_eq!(a.gain(), Some(50.0));
        let cannot_say =
            tally.said.iter().find(|it| it.said == LandfallVerdict::CannotSay).unwrap();
        assert_eq!((cannot_say.there, cannot_say.not_there), (0, 3));
        // Whatever their order.
        let turned: Vec<Row> = rows.into_iter().rev().collect();
        assert_eq!(Tally::of(&turned, 2_000.0), tally);
    }

    #[test]
    fn rows_that_say_anything_make_no_bands_without_end() {
        let far = |to_run_m: i64| LookRow { to_run_m, ..look(12, Answer::TooFew, &[], &[]) };
        let rows = vec![row(1, 0, vec![far(i64::MAX), far(0), far(i64::MIN)], None)];
        let bands = Tally::of(&rows, 2_000.0).bands;
        assert_eq!(bands.iter().map(|band| band.looks).sum::<usize>(), 3, "{bands:?}");
    }

    #[test]
    fn of_nothing_nothing_is_told() {
        let tally = Tally::of(&[], 2_000.0);
        assert_eq!((tally.landfalls, tally.right.percent(), tally.first), (0, None, None));
        assert!(tally.bands.is_empty() && tally.marks.is_empty());
        let [low, high] = tally.wrong.interval();
        assert!(low.abs() < 1e-9 && (high - 100.0).abs() < 1e-9);
    }
}
