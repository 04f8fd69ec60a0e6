//! The track on the coast, as a drawing to stand in a page.

use std::fmt::Write;

use super::rings::{self, Point};
use super::{Told, markup, words};
use crate::chart::GeoBox;
use crate::debrief::smooth::Kind;
use crate::fix::Estimate;
use crate::geodesy::{Position, course};
use crate::units::{Angle, METRES_PER_NAUTICAL_MILE};

/// Pixels across and down.
const WIDTH: f64 = 900.0;
const HEIGHT: f64 = 640.0;
const MARGIN: f64 = 30.0;
/// A drawing shows a mile and a half at least, degrees of latitude.
const LEAST_SPAN: f64 = 0.025;
/// Nearer together than this, in pixels, coast points are drawn as one.
const FINEST: f64 = 0.4;

/// Degrees to pixels, about the middle of what is shown.
struct Paper {
    middle: Position,
    /// How a degree of longitude shrinks.
    shrink: f64,
    scale: f64,
    /// Half of what is shown, degrees of latitude and of longitude.
    half: (f64, f64),
}

impl Paper {
    /// Holds all places, with room about them.
    fn holding(places: &[Position]) -> Option<Self> {
        let first = places.first()?;
        let east = |place: &Position| {
            (place.longitude() - first.longitude() + 180.0).rem_euclid(360.0) - 180.0
        };
        let span = |of: &dyn Fn(&Position) -> f64| {
            places.iter().map(of).fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)))
        };
        let ((west, east), (south, north)) = (span(&east), span(&|place| place.latitude()));
        let latitude = f64::midpoint(south, north);
        let middle = Position::wrapped(latitude, first.longitude() + f64::midpoint(west, east));
        let shrink = Angle::from_degrees(latitude).radians().cos().max(0.02);
        let across = ((east - west) * shrink * 1.15).max(LEAST_SPAN);
        let down = ((north - south) * 1.15).max(LEAST_SPAN);
        let scale = ((WIDTH - 2.0 * MARGIN) / across).min((HEIGHT - 2.0 * MARGIN) / down);
        let half = (0.5 * HEIGHT / scale, 0.5 * WIDTH / scale / shrink);
        Some(Self { middle, shrink, scale, half })
    }

    fn at(&self, [lon, lat]: Point) -> (f64, f64) {
        let east = (lon - self.middle.longitude() + 180.0).rem_euclid(360.0) - 180.0;
        (
            0.5 * WIDTH + east * self.shrink * self.scale,
            0.5 * HEIGHT - (lat - self.middle.latitude()) * self.scale,
        )
    }

    fn of(&self, position: Position) -> (f64, f64) {
        self.at([position.longitude(), position.latitude()])
    }
}

/// The drawing; empty where there is no place to draw.
pub fn drawing(told: &Told<'_>) -> String {
    let Some(paper) = Paper::holding(&places(told)) else { return String::new() };
    let mut svg = format!(
        "<svg viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" xmlns=\"http://www.w3.org/2000/svg\">\n\
         <title>Track, fixes and contacts</title>\n\
         <rect width=\"{WIDTH}\" height=\"{HEIGHT}\" class=\"sea\"/>\n"
    );
    coast(told, &paper, &mut svg);
    track(told, &paper, &mut svg);
    let debrief = told.debrief;
    for contact in &debrief.contacts {
        // Its name stands in the table: on the coast there is no room for both.
        if let Some(position) = contact.plotted {
            dot(&mut svg, paper.of(position), "contact", &contact.label);
        }
    }
    for echo in &debrief.echoes {
        let called = echo.name.as_deref().map_or_else(String::new, |name| format!(" {name}"));
        ellipse(&mut svg, &paper, &echo.place, "echo");
        dot(&mut svg, paper.of(echo.place.position), "echo", &format!("{}{called}", echo.label));
    }
    for missed in debrief.missed() {
        dot(&mut svg, paper.of(missed.position), "missed", &missed.mark);
    }
    for fix in &debrief.fixes {
        ellipse(&mut svg, &paper, &fix.place, "fix");
        let time = fix.time.strftime("%H:%M").to_string();
        dot(&mut svg, paper.of(fix.place.position), "fix", &time);
        if let Some(reckoned) = &fix.reckoned {
            let ((x1, y1), (x2, y2)) = (paper.of(reckoned.position), paper.of(fix.place.position));
            let _ = writeln!(
                svg,
                "<line x1=\"{x1:.1}\" y1=\"{y1:.1}\" x2=\"{x2:.1}\" y2=\"{y2:.1}\" class=\"off\"/>"
            );
        }
    }
    scale(&paper, &mut svg);
    svg.push_str("</svg>\n");
    svg
}

/// Everything that must be on the paper.
fn places(told: &Told<'_>) -> Vec<Position> {
    let debrief = told.debrief;
    let mut places: Vec<Position> =
        debrief.track.iter().map(|point| point.place.position).collect();
    places.extend(debrief.fixes.iter().map(|fix| fix.place.position));
    places.extend(debrief.contacts.iter().filter_map(|contact| contact.plotted));
    places.extend(debrief.echoes.iter().map(|echo| echo.place.position));
    places
}

fn coast(told: &Told<'_>, paper: &Paper, svg: &mut String) {
    let Some(chart) = told.chart else { return };
    let (up, out) = paper.half;
    let (lat, lon) = (paper.middle.latitude(), paper.middle.longitude());
    let area = GeoBox::new(lat - up, lon - out.min(179.0), lat + up, lon + out.min(179.0));
    for run in chart.coast().runs_in(&area) {
        let mut drawn: Vec<(f64, f64)> = Vec::new();
        let all = run.points();
        let last = all.len().saturating_sub(1);
        for (at, point) in all.enumerate() {
            let (x, y) = paper.at([point.lon, point.lat]);
            let far = drawn.last().is_none_or(|(px, py)| (x - px).hypot(y - py) >= FINEST);
            if far || at == last {
                drawn.push((x, y));
            }
        }
        polyline(svg, &drawn, "coast");
    }
}

fn track(told: &Told<'_>, paper: &Paper, svg: &mut String) {
    for pair in told.debrief.track.windows(2) {
        let [from, to] = pair else { continue };
        let ends = [paper.of(from.place.position), paper.of(to.place.position)];
        let smoothed = to.kind == Kind::Smoothed;
        polyline(svg, &ends, if smoothed { "smoothed" } else { "reckoned" });
    }
}

fn polyline(svg: &mut String, points: &[(f64, f64)], class: &str) {
    if points.len() < 2 {
        return;
    }
    let points: Vec<String> = points.iter().map(|(x, y)| format!("{x:.1},{y:.1}")).collect();
    let _ = writeln!(svg, "<polyline points=\"{}\" class=\"{class}\"/>", points.join(" "));
}

fn ellipse(svg: &mut String, paper: &Paper, place: &Estimate, class: &str) {
    for ring in rings::ellipse(place) {
        let points: Vec<(f64, f64)> = ring.iter().map(|point| paper.at(*point)).collect();
        polyline(svg, &points, class);
    }
}

fn dot(svg: &mut String, (x, y): (f64, f64), class: &str, label: &str) {
    let _ = writeln!(
        svg,
        "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"3\" class=\"{class}\"/><text x=\"{:.1}\" \
         y=\"{:.1}\">{}</text>",
        x + 6.0,
        y - 4.0,
        markup(&words::name(label))
    );
}

/// A bar of whole miles.
fn scale(paper: &Paper, svg: &mut String) {
    let degree = Position::wrapped(paper.middle.latitude() + 0.5, paper.middle.longitude());
    let half = course(paper.middle, degree).distance.metres() / METRES_PER_NAUTICAL_MILE;
    let mile = 0.5 * paper.scale / half.max(1e-9);
    let fitting = [100.0, 50.0, 20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1];
    let miles = fitting.into_iter().find(|miles| miles * mile < WIDTH / 4.0).unwrap_or(0.1);
    let (x, y) = (MARGIN, HEIGHT - 14.0);
    let _ = writeln!(
        svg,
        "<line x1=\"{x}\" y1=\"{y}\" x2=\"{:.1}\" y2=\"{y}\" class=\"scale\"/>\
         <text x=\"{x}\" y=\"{:.1}\">{miles} NM</text>",
        x + miles * mile,
        y - 5.0
    );
}

/// The name of a line, its class, and its points: seconds and figure.
pub type PlotLine<'a> = (&'a str, &'a str, Vec<(f64, f64)>);

/// What a plot of figures against time shows.
pub struct Plot<'a> {
    /// What it is called.
    pub title: &'a str,
    /// The unit of its figures.
    pub unit: &'a str,
    /// Each with its name, its class and its points.
    pub lines: Vec<PlotLine<'a>>,
    /// What each second is called, for the marks below.
    pub ticks: Vec<(f64, String)>,
}

/// How far down a plot reaches, in pixels.
const DOWN: f64 = 220.0;

/// Seconds and figures to pixels.
struct Axes {
    from: f64,
    to: f64,
    /// The greatest figure that is shown.
    most: f64,
}

impl Axes {
    /// Holds all points of some lines; none where there is no point.
    fn holding(lines: &[PlotLine<'_>]) -> Option<Self> {
        let points = || lines.iter().flat_map(|(_, _, points)| points);
        let most = points().map(|(_, value)| *value).fold(0.0, f64::max);
        let (from, to) =
            points().fold((f64::MAX, f64::MIN), |(l, h), (t, _)| (l.min(*t), h.max(*t)));
        let most = if most > 0.0 { most * 1.1 } else { 1.0 };
        (from <= to).then_some(Self { from, to, most })
    }

    fn across(&self, seconds: f64) -> f64 {
        60.0 + (WIDTH - 100.0) * (seconds - self.from) / (self.to - self.from).max(1.0)
    }

    fn up(&self, value: f64) -> f64 {
        DOWN - 30.0 - (DOWN - 60.0) * value / self.most
    }
}

impl Plot<'_> {
    /// The plot; empty without a point.
    pub fn draw(&self) -> String {
        let Some(axes) = Axes::holding(&self.lines) else { return String::new() };
        let mut svg = format!(
            "<svg viewBox=\"0 0 {WIDTH} {DOWN}\" role=\"img\" \
             xmlns=\"http://www.w3.org/2000/svg\">\n<title>{0}</title>\n\
             <text x=\"10\" y=\"16\">{0}, {1}</text>\n",
            markup(self.title),
            markup(self.unit)
        );
        grid(&axes, &mut svg);
        for (at, words) in &self.ticks {
            let _ = writeln!(
                svg,
                "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{}</text>",
                axes.across(*at),
                DOWN - 10.0,
                markup(words)
            );
        }
        for (number, line) in self.lines.iter().enumerate() {
            plotted(&axes, number, line, &mut svg);
        }
        svg.push_str("</svg>\n");
        svg
    }
}

/// Lines at nothing, half and all, with their figures.
fn grid(axes: &Axes, svg: &mut String) {
    for share in [0.0, 0.5, 1.0] {
        let (value, y) = (share * axes.most, axes.up(share * axes.most));
        let _ = writeln!(
            svg,
            "<line x1=\"60\" y1=\"{y:.1}\" x2=\"{:.1}\" y2=\"{y:.1}\" class=\"grid\"/>\
             <text x=\"10\" y=\"{:.1}\">{value:.1}</text>",
            WIDTH - 40.0,
            y + 4.0
        );
    }
}

/// One line with its points, and its name above.
fn plotted(axes: &Axes, number: usize, (name, class, points): &PlotLine<'_>, svg: &mut String) {
    let drawn: Vec<(f64, f64)> =
        points.iter().map(|(t, value)| (axes.across(*t), axes.up(*value))).collect();
    polyline(svg, &drawn, class);
    for (x, y) in &drawn {
        let _ = writeln!(svg, "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"3\" class=\"{class}\"/>");
    }
    let x = 240.0 + 220.0 * number as f64;
    let _ = writeln!(
        svg,
        "<circle cx=\"{x:.1}\" cy=\"12\" r=\"3\" class=\"{class}\"/>\
         <text x=\"{:.1}\" y=\"16\">{}</text>",
        x + 8.0,
        markup(name)
    );
}
