use super::port::Port;
use super::raster::{DOTS_DOWN, Dot, Ink, Raster, Stroke};
use crate::chart::{Chart, Coast, Ground, LonLat, Run};
use crate::units::{Angle, Height};

/// Dots between two dots of the land stipple along its row.
const STIPPLE: usize = 4;

/// Ground from these heights on has a denser stipple, feet: of three steps the middle and the high.
const STEPS_FT: [f64; 2] = [500.0, 1_500.0];

/// How near to the shore, in dots, no stipple stands: the shore must stay a clean line.
const CLEAR_DOTS: f64 = 1.5;

/// Draws shore and land: the shore as a line, land as a light stipple.
///
/// Every segment of the shore in view is drawn where it is; at small scales many fall on one dot,
/// which thins the line without moving it, and of a great coast its thinned lines are drawn: no shore is
/// moved by a dot, half a cell across. A row of stipple is cut where the shore crosses it and
/// each piece is asked for at its middle, so that a slip at one crossing cannot flood the row.
/// Where the chart cannot tell land from sea there is no stipple: it ends undrawn where the chart
/// was cut.
///
/// The higher the charted ground, in three steps, the denser the stipple.
pub fn draw(chart: &Chart, port: &Port, raster: &mut Raster) {
    let coast = chart.coast();
    let shore = shore(coast, port);
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

/// The shore in view; of a great coast by its thinned lines.
fn shore(coast: &Coast, port: &Port) -> Vec<Segment> {
    let area = port.area();
    let thinned = coast.is_great().then(|| coast.thinned_runs_in(&area, off_by_m(port))).flatten();
    match thinned {
        Some(runs) => segments(runs, port),
        None => segments(coast.runs_in(&area), port),
    }
}

/// How far thinned lines may lie from the shore, in metres: with what is joined besides less than a dot.
fn off_by_m(port: &Port) -> f64 {
    LEAST_DOTS * port.metres_per_dot() / Short::STRETCH
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
        1 => y % DOTS_DOWN == 1 && x.is_multiple_of(2),
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

/// Lines in view; segments that start and end on one dot are joined to the next, so that the line
/// drawn lies nowhere half a dot off the shore.
fn segments<'a>(runs: impl Iterator<Item = Run<'a>>, port: &Port) -> Vec<Segment> {
    let short = Short::of(port);
    let mut found = Vec::new();
    for run in runs {
        let mut from: Option<(LonLat, Dot)> = None;
        let mut points = run.points().peekable();
        while let Some(point) = points.next() {
            let last = points.peek().is_none();
            let Some((place, start)) = from else {
                from = Some((point, port.dot(point.position())));
                continue;
            };
            // Laying a point flat costs far more than finding that it cannot matter.
            if !last && short.holds(place, point) {
                continue;
            }
            let to = port.dot(point.position());
            let moved = (to.x - start.x).abs().max((to.y - start.y).abs());
            // The last point of a run is the first of the next: it is never left out.
            if moved >= LEAST_DOTS || last {
                found.push(Segment { from: start, to });
                from = Some((point, to));
            }
        }
    }
    found
}

/// Segments shorter than this, in dots, are joined to the next.
const LEAST_DOTS: f64 = 0.5;

/// What surely is such a segment, told from longitudes and latitudes alone.
struct Short {
    /// In degrees of latitude, squared.
    squared: f64,
    /// Degrees of latitude in a degree of longitude, at most, from this latitude poleward.
    narrowing: f64,
    nearest: f64,
}

impl Short {
    /// More than a degree of any meridian or parallel of WGS84: the longest is the last of latitude,
    /// 111,694 m (computed).
    const DEGREE_M: f64 = 111_700.0;

    /// The flat picture stretches lengths by up to a part in 700 at its greatest reach of 300 NM.
    const STRETCH: f64 = 1.002;

    fn of(port: &Port) -> Self {
        let area = port.area();
        let nearest = if area.south > 0.0 { area.south } else { (-area.north).max(0.0) };
        let degrees = LEAST_DOTS * port.metres_per_dot() / (Self::DEGREE_M * Self::STRETCH);
        // Shore a little outside the area is drawn towards as well.
        let nearest = (nearest - 1.0).max(0.0);
        let narrowing = Angle::from_degrees(nearest).radians().cos();
        Self { squared: degrees * degrees, narrowing, nearest }
    }

    fn holds(&self, from: LonLat, to: LonLat) -> bool {
        let (east, north) = ((to.lon - from.lon) * self.narrowing, to.lat - from.lat);
        east * east + north * north < self.squared
            && from.lat.abs().min(to.lat.abs()) >= self.nearest
    }
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
                // What is merely assumed of a height is no news, and dear to ask for.
                let charted = ground.charted(port.position(dot));
                let step = charted.map_or(0, |ground| step_of(ground.height));
                if is_drawn(step, x, y) {
                    raster.land(dot);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::Chart;
    use crate::geodesy::Position;
    use crate::screen::drawing::Drawing;
    use crate::units::Bearing;

    /// The dots that are shore.
    fn inked(raster: &Raster) -> Vec<(usize, usize)> {
        const BITS: [[u32; DOTS_DOWN]; 2] = [[0x01, 0x02, 0x04, 0x40], [0x08, 0x10, 0x20, 0x80]];
        let mut found = Vec::new();
        for (column, row) in
            (0..raster.columns()).flat_map(|c| (0..raster.rows()).map(move |r| (c, r)))
        {
            let (sign, ink) = raster.cell(column, row, Drawing::Braille);
            for (x, y) in (0..2).flat_map(|x| (0..DOTS_DOWN).map(move |y| (x, y))) {
                if ink == Ink::Coast && (u32::from(sign) - 0x2800) & BITS[x][y] != 0 {
                    found.push((column * 2 + x, row * DOTS_DOWN + y));
                }
            }
        }
        found
    }

    /// Every segment of the shore as it is charted, however short.
    fn every_segment(coast: &Coast, port: &Port) -> (Raster, usize) {
        let mut raster = Raster::new(port.columns(), port.rows());
        let mut count = 0;
        for run in coast.runs_in(&port.area()) {
            let dots: Vec<Dot> = run.points().map(|point| port.dot(point.position())).collect();
            for pair in dots.windows(2) {
                raster.line(pair[0], pair[1], Stroke::solid(Ink::Coast));
                count += 1;
            }
        }
        (raster, count)
    }

    /// A dot is half a cell across and a quarter of one down.
    #[test]
    fn the_thinned_shore_lies_within_a_dot_of_the_whole_one_everywhere() {
        // Natural Earth (public domain) about the Aegean: see `SOURCE.md` beside it.
        let aegean = include_bytes!("../../../tests/reference/natural-earth-coasts/aegean.shp");
        let aegean = Chart::from_files("Aegean", &[("coast.shp", aegean)]).unwrap();
        let sample = Chart::sample().unwrap();
        for (chart, spans) in [(&aegean, [380.0, 200.0, 60.0]), (&sample, [300.0, 100.0, 20.0])] {
            let centre = chart.coast().extent().unwrap().centre();
            for (span, up) in spans.into_iter().zip([0.0, 37.0, 200.0]) {
                let port = Port::new(centre, span, 44, 17).turned(Bearing::wrapped_degrees(up));
                let mut thinned = Raster::new(44, 17);
                draw(chart, &port, &mut thinned);
                let (whole, count) = every_segment(chart.coast(), &port);
                let drawn = segments(chart.coast().runs_in(&port.area()), &port).len();
                assert!(drawn <= count && (span < 100.0 || drawn < count), "{drawn} of {count}");
                let (thinned, whole) = (inked(&thinned), inked(&whole));
                assert!(!whole.is_empty(), "{span} NM");
                let beside = |a: &(usize, usize), b: &(usize, usize)| {
                    a.0.abs_diff(b.0) <= 1 && a.1.abs_diff(b.1) <= 1
                };
                for (dots, others) in [(&thinned, &whole), (&whole, &thinned)] {
                    for dot in dots {
                        assert!(others.iter().any(|other| beside(dot, other)), "{span} NM {dot:?}");
                    }
                }
            }
        }
    }

    /// The greatest distance in dots from a vertex in the panel to the nearest segment.
    fn farthest(dots: &[Dot], segments: &[Segment], port: &Port) -> f64 {
        let (width, height) = (2.0 * port.columns() as f64, 4.0 * port.rows() as f64);
        let shown = |dot: &&Dot| (0.0..width).contains(&dot.x) && (0.0..height).contains(&dot.y);
        let off = |dot: &Dot, segment: &Segment| {
            let (a, b) = (segment.from, segment.to);
            let (x, y) = (b.x - a.x, b.y - a.y);
            let squared = x * x + y * y;
            let along = (dot.x - a.x) * x + (dot.y - a.y) * y;
            let share = if squared > 0.0 { (along / squared).clamp(0.0, 1.0) } else { 0.0 };
            (dot.x - a.x - share * x).hypot(dot.y - a.y - share * y)
        };
        let nearest = |dot: &Dot| {
            segments.iter().map(|segment| off(dot, segment)).fold(f64::INFINITY, f64::min)
        };
        dots.iter().filter(shown).map(nearest).fold(0.0, f64::max)
    }

    /// Half a cell across is a dot; down it is two.
    #[test]
    fn lines_thinned_twice_lie_within_half_a_cell_of_the_shore_and_it_of_them() {
        use rand::{RngExt, SeedableRng};
        const SEED: u64 = 20_261_126;
        println!("seed {SEED}");
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(SEED);
        // Natural Earth (public domain) about the Aegean: see `SOURCE.md` beside it.
        let aegean = include_bytes!("../../../tests/reference/natural-earth-coasts/aegean.shp");
        let aegean = Chart::from_files("Aegean", &[("coast.shp", aegean)]).unwrap();
        let sample = Chart::sample().unwrap();
        for chart in [&aegean, &sample] {
            let (coast, extent) = (chart.coast(), chart.coast().extent().unwrap());
            let (mut drawn_of, mut all) = (0, 0);
            for _ in 0..12 {
                let centre = Position::wrapped(
                    extent.south + rng.random::<f64>() * (extent.north - extent.south),
                    extent.west + rng.random::<f64>() * (extent.east - extent.west),
                );
                let span = 8.0 * 50.0_f64.powf(rng.random::<f64>());
                let up = Bearing::wrapped_degrees(360.0 * rng.random::<f64>());
                let port = Port::new(centre, span, 44, 17).turned(up);
                let area = port.area();
                let Some(runs) = coast.thinned_runs_in(&area, off_by_m(&port)) else {
                    continue;
                };
                let drawn = segments(runs, &port);
                let dot = |point: LonLat| port.dot(point.position());
                let lines: Vec<Vec<Dot>> = coast
                    .runs_in(&port.area())
                    .map(|run| run.points().map(dot).collect())
                    .collect();
                let whole: Vec<Segment> = lines
                    .iter()
                    .flat_map(|line| line.windows(2))
                    .map(|pair| Segment { from: pair[0], to: pair[1] })
                    .collect();
                let vertices: Vec<Dot> = lines.concat();
                let halves = |it: &Segment| {
                    let half =
                        Dot { x: 0.5 * (it.from.x + it.to.x), y: 0.5 * (it.from.y + it.to.y) };
                    [it.from, half, it.to]
                };
                let places: Vec<Dot> = drawn.iter().flat_map(halves).collect();
                let (there, back) =
                    (farthest(&vertices, &drawn, &port), farthest(&places, &whole, &port));
                assert!(there <= 1.0 && back <= 1.0, "{} {span}: {there} {back}", chart.name());
                (drawn_of, all) = (drawn_of + drawn.len(), all + whole.len());
            }
            assert!(2 * drawn_of < all, "{drawn_of} of {all}");
        }
    }

    /// What is passed over by its longitude and latitude would have been joined all the same.
    #[test]
    fn what_is_held_short_is_short_in_the_picture_too() {
        for (lat, span) in [(0.0, 400.0), (38.0, 400.0), (-62.0, 50.0), (84.0, 400.0)] {
            let centre = Position::new(lat, 20.0).unwrap();
            let port = Port::new(centre, span, 60, 30).turned(Bearing::wrapped_degrees(25.0));
            let (short, area) = (Short::of(&port), port.area());
            let mut held = 0;
            for i in 0..40_u32 {
                let part = |step: u32| f64::from(i * step % 41) / 40.0;
                let from = LonLat {
                    lon: area.west + part(7) * (area.east - area.west),
                    lat: area.south + part(11) * (area.north - area.south),
                };
                for j in 0..90_u32 {
                    let (sin, cos) = (f64::from(j) * 0.07).sin_cos();
                    let reach = 1.05 * short.squared.sqrt() * f64::from(j % 10 + 1) / 10.0;
                    let to = LonLat {
                        lon: from.lon + reach * sin / short.narrowing,
                        lat: from.lat + reach * cos,
                    };
                    if short.holds(from, to) {
                        let (a, b) = (port.dot(from.position()), port.dot(to.position()));
                        let moved = (a.x - b.x).abs().max((a.y - b.y).abs());
                        assert!(moved < LEAST_DOTS, "{lat}° {span} NM: {moved}");
                        held += 1;
                    }
                }
            }
            assert!(held > 2000, "{held}");
        }
    }
}
