//! The rows that a measurement not yet taken would add.

use crate::contact::Part;
use crate::fix::case::Case;
use crate::fix::prospect::{Asked, Prospect};
use crate::fix::report::Measure;
use crate::geodesy::{LocalPlane, PlanePoint, Position};
use crate::identity::{
    Answer, Answering, Charted, Level, Problem, RatioReading, Reading, Row, Sight, Solution, rows,
};

/// Readings of one thing are correlated by exp(-t/τ), t seconds apart (common practice, no
/// published source for the time).
const CORRELATED_S: f64 = 30.0;

/// The one candidate of a problem made up for one measurement.
struct Looked<'a> {
    prospect: &'a dyn Prospect,
    part: Asked,
    candidate: usize,
}

impl Answering for Looked<'_> {
    fn point(&self, _: usize, _: usize, from: Position, bias: f64) -> Option<Answer> {
        self.prospect.part(self.part, self.candidate, from, bias)
    }
}

fn part_of(measure: Measure) -> Asked {
    match measure {
        Measure::Range | Measure::Bearing | Measure::RangeAndBearing => Asked::Near,
        Measure::Left => Asked::Left,
        Measure::Right => Asked::Right,
        Measure::Shore => Asked::Shore,
    }
}

/// How closely the part of a mark that answers is gone into.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::fix) enum Care {
    /// Its charted point does: quick.
    Rough,
    /// The chart's shore is asked.
    Fine,
}

/// What a measurement of a candidate would read, as rows whose residual is the negative of what is
/// expected; none where the set cannot read it.
pub(in crate::fix) fn foreseen(
    case: &Case<'_>,
    solution: &Solution,
    candidate: usize,
    measure: Measure,
    care: Care,
) -> Option<Vec<Row>> {
    let mark = case.problem.candidates.get(candidate)?;
    let looked = Looked { prospect: case.prospect, part: part_of(measure), candidate };
    let fine: &dyn Answering = if care == Care::Fine { &looked } else { &Charted };
    let answer = fine.point(0, 0, solution.position, solution.bearing_bias().0);
    let at =
        LocalPlane::new(solution.position).to_plane(answer.map_or(mark.position, |a| a.position));
    let slant = at.east.hypot(at.north).hypot(case.problem.own_height_m - mark.height_m);
    if slant > case.prospect.reach() || slant < case.prospect.blind() {
        return None;
    }
    let problem = Problem {
        candidates: vec![*mark],
        sights: vec![sight(case, measure, slant)?],
        prior: case.problem.prior,
        shared: case.problem.shared,
        own_height_m: case.problem.own_height_m,
        reach_m: case.problem.reach_m,
        any_shore: None,
    };
    let rows = rows(&problem, fine, &[Some(0)], solution.position, &solution.state);
    (!rows.is_empty()).then_some(rows)
}

fn sight(case: &Case<'_>, measure: Measure, slant: f64) -> Option<Sight> {
    let prospect = case.prospect;
    let reading = |sigma| Some(Reading { value: 0.0, sigma });
    let ranged = matches!(measure, Measure::Range | Measure::RangeAndBearing | Measure::Shore);
    let borne = !matches!(measure, Measure::Range | Measure::Shore);
    let edge = matches!(measure, Measure::Left | Measure::Right);
    let ratio: Option<RatioReading> = prospect.ratio();
    if borne && !prospect.tells_directions() || edge && ratio.is_some() {
        return None;
    }
    let sigma = if edge { prospect.edge_sigma() } else { prospect.bearing_sigma() };
    Some(Sight {
        own_height_m: case.problem.own_height_m,
        level: Level::NOW,
        range: if ranged { reading(prospect.range_sigma(slant)) } else { None },
        bearing: if borne && ratio.is_none() { reading(sigma) } else { None },
        ratio: ratio.filter(|_| borne),
        told: Vec::new(),
        run: PlanePoint::default(),
        elapsed_s: 0.0,
        belief: None,
        off_chart: 0.0,
        surely: None,
        part: match measure {
            Measure::Range | Measure::Bearing | Measure::RangeAndBearing => Part::Near,
            Measure::Left => Part::Left,
            Measure::Right => Part::Right,
            Measure::Shore => Part::Shore,
        },
        traced: None,
    })
}

/// What rows add once those that repeat an earlier reading of the same mark are seen for what they
/// are: the mark's own error is the same, and the reading's nearly so if it was taken just now.
///
/// The mean of two readings whose errors e are correlated by ρ, of a mark with error m, has the
/// variance m² + e²(1+ρ)/2; what that adds to the first, as if it stood alone, is the difference of
/// the weights. Rows that add nothing are left out.
pub(super) fn fresh(
    case: &Case<'_>,
    solution: &Solution,
    targets: &[Option<usize>],
    candidate: usize,
    rows: &[Row],
) -> Vec<Row> {
    rows.iter()
        .copied()
        .filter_map(|mut row| {
            let last = solution
                .rows
                .iter()
                .filter(|old| old.is_direction() == row.is_direction())
                .filter(|old| targets.get(old.sight).copied().flatten() == Some(candidate))
                .filter_map(|old| case.problem.sights.get(old.sight))
                .map(|sight| sight.elapsed_s.abs())
                .fold(f64::INFINITY, f64::min);
            if last.is_infinite() {
                return Some(row);
            }
            if last < CORRELATED_S {
                return None;
            }
            let mark = case.problem.candidates.get(candidate).map_or(0.0, |c| c.sigma_m);
            // By how much one metre of the mark's place changes the reading.
            let by_place = row.slope[0].hypot(row.slope[1]);
            let own = (mark * by_place).powi(2).min(row.variance);
            let correlated = (-last / CORRELATED_S).exp();
            let both = own + (row.variance - own) * 0.5 * (1.0 + correlated);
            let added = 1.0 / both - 1.0 / row.variance;
            if added <= 1e-6 / row.variance {
                return None;
            }
            row.variance = 1.0 / added;
            Some(row)
        })
        .collect()
}

/// Where the part of a mark lies that a measurement from one place would be of.
pub(super) fn place_of(
    case: &Case<'_>,
    solution: &Solution,
    candidate: usize,
    measure: Measure,
) -> Option<Position> {
    let bias = solution.bearing_bias().0;
    let answer = case.prospect.part(part_of(measure), candidate, solution.position, bias)?;
    let aim = answer.aim.filter(|_| measure != Measure::Shore);
    Some(aim.unwrap_or(answer.position))
}
