use super::port::Port;
use super::raster::{DOTS_DOWN, Dot, Ink, Raster, Stroke};
use crate::chart::{Chart, Coast, Ground, Run};
use crate::units::Height;

/// Dots between two dots of the land stipple along its row.
const STIPPLE: usize = 4;

/// Ground from these heights on has a denser stipple, feet: of three steps the middle and the high.
const STEPS_FT: [f64; 2] = [500.0, 1_500.0];

/// How near to the shore, in dots, no stipple stands: the shore must stay a clean line.
const CLEAR_DOTS: f64 = 1.5;

/// Draws shore and land: the shore as a line, land as a light stipple.
///
/// Every segment of the shore in view is drawn where it is; at small scales many fall on one dot,
/// which thins the line without moving it. A row of stipple is cut where the shore crosses it and
/// each piece is asked for at its middle, so that a slip at one crossing cannot flood the row.
/// Where the chart cannot tell land from sea there is no stipple: it ends undrawn where the chart
/// was cut.
///
/// The higher the ground, in three steps, the denser the stipple.
pub fn draw(chart: &Chart, port: &Port, raster: &mut Raster) {
    let coast = chart.coast();
    let shore = segments(coast.runs_in(&port.area()), port);
    for segment in &shore {
        raster.line(segment.from, segment.to, Stroke::solid(Ink::Coast));
    }
    let rows = raster.rows() * DOTS_DOWN;
    let mut crossings: Vec<Vec<f64>> = vec![Vec::new(); rows];
    let clips = segments(coast.clip_runs_in(&port.area()), port);
    for segment in shore.iter().chain(&clips) {
        segment.cross_rows(&mut crossings);
    }
    for (y, row) in crossings.iter_mut().enumerate().filter(|(y, _)| y % 2 == 1) {
        row.push(0.0);
        row.push(raster.width());
        row.sort_by(f64::total_cmp);
        stipple(coast, chart.ground(), port, raster, y, row);
    }
}

/// The step of a height: 0, 1 or 2.
fn step_of(height: Height) -> usize {
    STEPS_FT.iter().filter(|least| height.feet() >= **least).count()
}

/// Whether a dot of land of this step is drawn: one in sixteen, one in eight, one in four.
fn is_drawn(step: usize, x: usize, y: usize) -> bool {
    // Every other row of the sparsest is shifted by half its step.
    let shift = if y % (2 * DOTS_DOWN) == 1 { 0 } else { STIPPLE / 2 };
    match step {
        0 => y % DOTS_DOWN == 1 && x % STIPPLE == shift,
        1 => y % DOTS_DOWN == 1 && x.is_multiple_of(2) || y % DOTS_DOWN == 3 && x % STIPPLE == 1,
        _ => x % 2 == usize::from(y % DOTS_DOWN == 3),
    }
}

/// One segment of the shore, in dots.
struct Segment {
    from: Dot,
    to: Dot,
}

impl Segment {
    /// Notes where it crosses the middle of each row of dots.
    fn cross_rows(&self, rows: &mut [Vec<f64>]) {
        let (top, bottom) = (self.from.y.min(self.to.y), self.from.y.max(self.to.y));
        if bottom < 0.0 || !(bottom - top).is_finite() {
            return;
        }
        let first = (top - 0.5).ceil().max(0.0) as usize;
        for (y, row) in rows.iter_mut().enumerate().skip(first) {
            let middle = y as f64 + 0.5;
            if middle > bottom {
                break;
            }
            let part = (middle - self.from.y) / (self.to.y - self.from.y);
            if part.is_finite() {
                row.push(self.from.x + part * (self.to.x - self.from.x));
            }
        }
    }
}

/// Lines in view; segments that start and end on one dot are joined to the next.
fn segments<'a>(runs: impl Iterator<Item = Run<'a>>, port: &Port) -> Vec<Segment> {
    let mut found = Vec::new();
    for run in runs {
        let mut from: Option<Dot> = None;
        let mut points = run.points().peekable();
        while let Some(point) = points.next() {
            let to = port.dot(point.position());
            let Some(start) = from else {
                from = Some(to);
                continue;
            };
            let moved = (to.x - start.x).abs().max((to.y - start.y).abs());
            // The last point of a run is the first of the next: it is never left out.
            if moved >= 0.5 || points.peek().is_none() {
                found.push(Segment { from: start, to });
                from = Some(to);
            }
        }
    }
    found
}

fn stipple(
    coast: &Coast,
    ground: &Ground,
    port: &Port,
    raster: &mut Raster,
    y: usize,
    row: &[f64],
) {
    let width = raster.width();
    for pair in row.windows(2) {
        let &[start, end] = pair else { continue };
        let (start, end) = (start.max(0.0), end.min(width));
        let inner =
            |edge: f64, clear: f64| if edge <= 0.0 || edge >= width { edge } else { edge + clear };
        let (from, to) = (inner(start, CLEAR_DOTS), inner(end, -CLEAR_DOTS));
        let first = (from - 0.5).ceil().max(0.0) as usize;
        if first as f64 + 0.5 >= to {
            continue;
        }
        let middle = Dot { x: 0.5 * (start + end), y: y as f64 + 0.5 };
        if coast.is_land(port.position(middle)) != Some(true) {
            continue;
        }
        for x in (first..).take_while(|x| *x as f64 + 0.5 < to) {
            // What no step draws is not asked for.
            if (0..=STEPS_FT.len()).any(|step| is_drawn(step, x, y)) {
                let dot = Dot { x: x as f64 + 0.5, ..middle };
                let step = step_of(ground.of_land(port.position(dot)).height);
                if is_drawn(step, x, y) {
                    raster.land(dot);
                }
            }
        }
    }
}
