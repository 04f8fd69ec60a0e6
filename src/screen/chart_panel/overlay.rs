use std::f64::consts::{FRAC_PI_2, PI};

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::furniture::ring_step;
use super::labels::{At, Labels, Need};
use super::port::Port;
use super::raster::{DOTS_ACROSS, DOTS_DOWN, Dot, Ink, Raster, Stroke};
use super::symbols::{dotted_circle, half_circle, saltire, square};
use crate::chart::{Mark, MarkId, MarkKind};
use crate::contact::{Contact, Part};
use crate::fix::{Estimate, Verdict};
use crate::geodesy::{Covariance, Ellipse, Position, destination};
use crate::screen::drill;
use crate::screen::plotting;
use crate::screen::state::State;
use crate::screen::view::shortened;
use crate::screen::wording;
use crate::screen::work::{Answer, Stand};
use crate::units::{Bearing, GroundRange, METRES_PER_NAUTICAL_MILE};

/// The most rivals drawn.
const MOST_RIVALS: usize = 5;

/// The most mark names tried: the rest would find no room.
const MOST_NAMES: usize = 60;

/// Marks that the chart does not name are shown up to this span: further out they are a smear.
const UNNAMED_SPAN_NM: f64 = 12.0;

/// The least half width of the arc that marks a contact's range, in dots.
const LEAST_ARC_DOTS: f64 = 3.0;

/// A name is cut to this many cells.
const NAME_CELLS: u16 = 22;

/// Draws the chart panel into its place.
pub fn draw(state: &State, area: Rect, buffer: &mut Buffer) {
    let port = state.focus.port(&state.watch, state.wall, (area.width, area.height));
    let shore = state.shore.as_ref().filter(|(drawn, _)| drawn.same_as(&port));
    let mut raster = match shore {
        Some((_, raster)) => raster.as_ref().clone(),
        None => super::shore(state.drawn_chart(&port), &port),
    };
    let picture = Picture { state, port, area };
    picture.lines(&mut raster);
    picture.cells(&raster, buffer);
    let mut labels = Labels::new(&raster);
    picture.furniture(&mut labels, buffer);
    picture.positions(&mut labels, buffer);
    picture.contact_labels(&mut labels, buffer);
    picture.marks(&mut labels, buffer);
    picture.cursor(buffer);
}

/// What is drawn, on what part of the world.
pub(super) struct Picture<'a> {
    pub state: &'a State,
    pub port: Port,
    pub area: Rect,
}

impl Picture<'_> {
    fn answer(&self) -> Option<&Answer> {
        self.state.answer()
    }

    /// Where the rings and the contacts are drawn from.
    pub fn stand(&self) -> Option<(Position, Stand)> {
        plotting::stand(self.state)
    }

    fn lines(&self, raster: &mut Raster) {
        if let (Some(from), Some(to)) = (self.state.cursor.from, self.state.cursor.at) {
            let (from, to) = (self.port.dot(from), self.port.dot(to));
            raster.line(from, to, Stroke::dashed(Ink::Selected, 1, 1));
        }
        if let Some((stand, _)) = self.stand() {
            self.rings(raster, stand);
        }
        self.reckoning(raster);
        if let Some(answer) = self.answer() {
            self.rivals(raster, answer);
        }
        for outline in self.state.watch.outlines() {
            let places = plotting::traced(self.state, outline);
            let dots = places.into_iter().map(|place| self.port.dot(place));
            raster.path(dots, Stroke::dashed(Ink::Contact, 1, 2));
        }
        for held in self.state.watch.contacts() {
            self.contact(raster, &held.contact);
        }
        if let Some(answer) = self.answer() {
            self.fix(raster, answer);
        }
        self.by_now(raster);
        self.after_a_drill(raster);
    }

    /// The place by now: a square, or the half circle of a reckoning that nothing was measured for;
    /// never the fix's circle.
    fn by_now(&self, raster: &mut Raster) {
        let Some(carried) = self.state.carried_off() else { return };
        let dot = self.port.dot(carried.position);
        let stroke = Stroke::dashed(Ink::Reckoning, 3, 2);
        self.ellipse(raster, dot, &carried.covariance.ellipse(0.95), stroke);
        if carried.stand == Stand::Reckoning {
            half_circle(raster, dot, Ink::Reckoning);
        } else {
            square(raster, dot, Ink::Reckoning);
        }
    }

    /// Where the craft truly was, and what was declared in its place: once a drill is scored.
    fn after_a_drill(&self, raster: &mut Raster) {
        let Some((truth, declared)) = drill::places(self.state) else { return };
        if let Some((position, sigma)) = declared {
            let dot = self.port.dot(position);
            let ellipse = Covariance::circular(sigma).ellipse(0.95);
            self.ellipse(raster, dot, &ellipse, Stroke::dashed(Ink::Rival, 3, 1));
            square(raster, dot, Ink::Rival);
        }
        saltire(raster, self.port.dot(truth), Ink::Fix);
    }

    fn cells(&self, raster: &Raster, buffer: &mut Buffer) {
        let drawing = self.state.theme.drawing();
        for row in 0..self.area.height {
            for column in 0..self.area.width {
                let (symbol, ink) = raster.cell(usize::from(column), usize::from(row), drawing);
                if let Some(cell) = buffer.cell_mut((self.area.x + column, self.area.y + row)) {
                    cell.set_char(symbol).set_style(self.state.theme.of(ink));
                }
            }
        }
    }

    /// Rings at whole steps, so that three or four are in view.
    fn rings(&self, raster: &mut Raster, stand: Position) {
        let centre = self.port.dot(stand);
        let step = ring_step(self.port.span_nm());
        let farthest = farthest_corner(raster, centre);
        for number in 1..=40 {
            let radius = self.port.dots(miles(step * f64::from(number)));
            if radius > farthest {
                break;
            }
            raster.circle(centre, radius, Stroke::dashed(Ink::Ring, 1, 3));
        }
    }

    fn reckoning(&self, raster: &mut Raster) {
        let Some((position, covariance)) = self.reckoned() else { return };
        let dot = self.port.dot(position);
        let stroke = Stroke::dashed(Ink::Reckoning, 3, 2);
        self.ellipse(raster, dot, &covariance.ellipse(0.95), stroke);
        half_circle(raster, dot, Ink::Reckoning);
    }

    fn reckoned(&self) -> Option<(Position, Covariance)> {
        let stated = || plotting::reckoning(self.state).map(|r| (r.position, r.covariance));
        self.answer().map(|answer| answer.reckoned).or_else(stated)
    }

    fn ellipse(&self, raster: &mut Raster, centre: Dot, ellipse: &Ellipse, stroke: Stroke) {
        raster.ellipse(
            centre,
            self.port.dots(ellipse.semi_major),
            self.port.dots(ellipse.semi_minor),
            self.port.angle(ellipse.major_axis),
            stroke,
        );
    }

    fn fix(&self, raster: &mut Raster, answer: &Answer) {
        if let (Some(position), Some(ellipse)) = (answer.fix.position, answer.fix.ellipse) {
            let dot = self.port.dot(position);
            self.ellipse(raster, dot, &ellipse, Stroke::solid(Ink::Fix));
            if let Some(covariance) = answer.fix.covariance {
                self.ellipse(raster, dot, &covariance.ellipse(0.5), Stroke::dashed(Ink::Fix, 1, 2));
            }
            dotted_circle(raster, dot, Ink::Fix);
        } else if let Some(probable) = self.likeliest(answer) {
            let dot = self.port.dot(probable.position);
            self.ellipse(raster, dot, &probable.ellipse(), Stroke::dashed(Ink::Rival, 3, 1));
            square(raster, dot, Ink::Rival);
        }
    }

    /// The likeliest place of too few contacts; with none it is the reckoning, drawn as that.
    fn likeliest(&self, answer: &Answer) -> Option<Estimate> {
        answer.fix.most_probable.filter(|_| self.state.watch.has_measured())
    }

    fn rivals(&self, raster: &mut Raster, answer: &Answer) {
        if answer.fix.verdict == Verdict::Fixed {
            return;
        }
        for rival in answer.fix.rivals.iter().take(MOST_RIVALS) {
            let dot = self.port.dot(rival.estimate.position);
            let stroke = Stroke::dashed(Ink::Rival, 2, 1);
            self.ellipse(raster, dot, &rival.estimate.ellipse(), stroke);
            square(raster, dot, Ink::Rival);
        }
    }

    /// A range is an arc, a bearing a line; with both, the line ends at the arc. Two deflections may
    /// have two lines.
    fn contact(&self, raster: &mut Raster, contact: &Contact) {
        let Some(origin) = plotting::origin(self.state, contact) else { return };
        let ink = plotting::ink(self.state, contact);
        let from = self.port.dot(origin);
        let radius = plotting::along(contact, origin).map(|range| self.port.dots(range));
        let bearings = contact.bearings();
        if let (true, Some(radius)) = (bearings.is_empty(), radius) {
            raster.circle(from, radius, Stroke::dashed(ink, 2, 2));
        }
        for (bearing, sigma) in bearings {
            if let Some(radius) = radius {
                let to = self.port.dot(plotting::echo(contact, origin, bearing));
                raster.line(from, to, Stroke::dashed(ink, 2, 2));
                let half =
                    (2.0 * sigma.radians()).max(LEAST_ARC_DOTS / radius.max(1.0)).min(PI / 8.0);
                let middle = self.port.angle(bearing);
                raster.arc(from, radius, middle - half, 2.0 * half, Stroke::solid(ink));
            } else {
                let far = GroundRange::clamped_metres(self.port.reach().metres() * 4.0);
                let to = self.port.dot(destination(origin, bearing, far));
                raster.line(from, to, Stroke::dashed(ink, 3, 2));
            }
        }
    }

    /// Each place with its sign beside it, then the planned landfall.
    fn positions(&self, labels: &mut Labels<'_>, buffer: &mut Buffer) {
        let theme = self.state.theme;
        for (position, sign, ink) in self.signs() {
            let at = cell(self.port.dot(position));
            for (column, row) in [(0, 0), (-1, 0), (1, 0), (0, -1), (0, 1)] {
                labels.reserve(At { column: at.column + column, row: at.row + row });
            }
            labels.beside(buffer, self.area, at, &sign, theme.of(ink), Need::Must);
        }
        if let Some(position) = self.state.watch.landfall() {
            let at = cell(self.port.dot(position));
            if labels.write(buffer, self.area, at, "X", theme.heading()) {
                labels.beside(buffer, self.area, at, "LANDFALL", theme.heading(), Need::May);
            }
        }
    }

    /// The signs of places: by now, of the answer, of the reckoning, and after a drill the true one and the
    /// one declared. What comes first has its choice of room.
    fn signs(&self) -> Vec<(Position, String, Ink)> {
        let by_now = self.state.carried_off().map(|carried| {
            let sign = if carried.stand == Stand::Reckoning { "DR" } else { "EP" };
            (carried.position, self.dated(sign, carried.time), Ink::Reckoning)
        });
        let mut signs: Vec<_> = by_now.into_iter().collect();
        signs.extend(self.answer().into_iter().flat_map(|answer| self.signs_of(answer)));
        signs.extend(self.sign_of_reckoning());
        if let Some((truth, declared)) = drill::places(self.state) {
            signs.push((truth, "TRUE".to_owned(), Ink::Fix));
            signs.extend(declared.map(|(place, _)| (place, "YOURS".to_owned(), Ink::Rival)));
        }
        signs
    }

    /// The fix; where none is, each place that still fits by its number, and the likeliest.
    fn signs_of(&self, answer: &Answer) -> Vec<(Position, String, Ink)> {
        let time = answer.fix.time;
        if let Some(position) = answer.fix.position {
            return vec![(position, self.dated("FIX", time), Ink::Fix)];
        }
        let numbered = (1..).zip(answer.fix.rivals.iter().take(MOST_RIVALS));
        let rivals = numbered
            .map(|(number, rival)| (rival.estimate.position, number.to_string(), Ink::Rival));
        let likeliest = self.likeliest(answer);
        let likeliest = likeliest.map(|it| (it.position, self.dated("EP", time), Ink::Rival));
        rivals.chain(likeliest).collect()
    }

    fn sign_of_reckoning(&self) -> Option<(Position, String, Ink)> {
        let (position, _) = self.reckoned()?;
        let answered = self.answer().map(|answer| answer.fix.time);
        let time = answered.or(plotting::reckoning(self.state).map(|reckoning| reckoning.time));
        let sign = time.map_or_else(|| "DR".to_owned(), |time| self.dated("DR", time));
        Some((position, sign, Ink::Reckoning))
    }

    /// A place's sign; beside a place carried on, each says when it was ours.
    fn dated(&self, sign: &str, time: jiff::Timestamp) -> String {
        match self.state.carried_off() {
            None => sign.to_owned(),
            Some(_) => format!("{sign} {}", wording::hours_minutes(time)),
        }
    }

    fn contact_labels(&self, labels: &mut Labels<'_>, buffer: &mut Buffer) {
        for held in self.state.watch.contacts() {
            let contact = &held.contact;
            let Some(origin) = plotting::origin(self.state, contact) else { continue };
            let ink = plotting::ink(self.state, contact);
            let place = match contact.bearings().first().map(|(bearing, _)| *bearing) {
                Some(bearing) if contact.range.is_some() => {
                    plotting::echo(contact, origin, bearing)
                }
                // A line alone is named two thirds of the way to the nearest edge it may reach.
                Some(bearing) => {
                    let reach = self.port.span_nm() / 3.0;
                    destination(origin, bearing, miles(reach))
                }
                None => {
                    let range = plotting::along(contact, origin).unwrap_or(GroundRange::ZERO);
                    destination(origin, Bearing::wrapped(FRAC_PI_2 * 0.6), range)
                }
            };
            let text = match contact.part {
                Part::Left => format!("{}<", contact.label),
                Part::Right => format!("{}>", contact.label),
                _ => contact.label.clone(),
            };
            let at = cell(self.port.dot(place));
            let style = self.state.theme.of(ink);
            labels.beside(buffer, self.area, at, &text, style, Need::Must);
        }
    }

    /// Marks in view: those that contacts were identified with first, then by how much they stand
    /// out. A name that finds no room is left out, its symbol stays.
    fn marks(&self, labels: &mut Labels<'_>, buffer: &mut Buffer) {
        let marks = self.state.drawn_chart(&self.port).marks();
        let centre = self.state.focus.centre;
        let mut shown: Vec<(u8, f64, MarkId, &Mark)> = marks
            .within(centre, self.port.reach())
            .into_iter()
            .filter_map(|id| Some((id, marks.get(id)?)))
            .map(|(id, mark)| (self.mark_rank(mark), mark.salience, id, mark))
            .filter(|(rank, ..)| *rank < 2 || self.port.span_nm() <= UNNAMED_SPAN_NM)
            .collect();
        shown.sort_by(|a, b| a.0.cmp(&b.0).then(b.1.total_cmp(&a.1)).then(a.2.0.cmp(&b.2.0)));
        let theme = self.state.theme;
        let mut names = 0;
        for (rank, _, _, mark) in shown {
            let at = cell(self.port.dot(mark.position));
            let style = if rank == 0 { theme.text() } else { theme.of(Ink::Mark) };
            if !labels.is_free(at) {
                continue;
            }
            if let Some(target) = self.buffer_cell(buffer, at) {
                target.set_char(glyph(mark.kind)).set_style(style);
            }
            labels.reserve(at);
            if rank < 2 && names < MOST_NAMES {
                let name = shortened(&mark.name, NAME_CELLS);
                let need = if rank == 0 { Need::Must } else { Need::May };
                names += usize::from(labels.beside(buffer, self.area, at, &name, style, need));
            }
        }
    }

    /// The operator's cursor, over everything, and where the measure began.
    fn cursor(&self, buffer: &mut Buffer) {
        let style = self.state.theme.selected();
        let signs = [(self.state.cursor.from, 'o'), (self.state.cursor.at, '+')];
        for (place, sign) in signs.into_iter().filter_map(|(at, sign)| Some((at?, sign))) {
            if let Some(target) = self.buffer_cell(buffer, cell(self.port.dot(place))) {
                target.set_char(sign).set_style(style);
            }
        }
    }

    fn buffer_cell<'b>(
        &self,
        buffer: &'b mut Buffer,
        at: At,
    ) -> Option<&'b mut ratatui::buffer::Cell> {
        let (column, row) = (u16::try_from(at.column).ok()?, u16::try_from(at.row).ok()?);
        (column < self.area.width && row < self.area.height)
            .then(|| buffer.cell_mut((self.area.x + column, self.area.y + row)))
            .flatten()
    }

    /// 0: a contact is this mark; 1: named by the chart; 2: found by its shape alone.
    fn mark_rank(&self, mark: &Mark) -> u8 {
        let identified =
            self.answer().is_some_and(|a| a.fix.identities.iter().any(|i| i.mark == mark.name));
        match (identified, mark.named) {
            (true, _) => 0,
            (false, true) => 1,
            (false, false) => 2,
        }
    }
}

/// The sign of a mark, one cell each.
pub(in crate::screen) fn glyph(kind: MarkKind) -> char {
    match kind {
        MarkKind::Headland => '◄',
        MarkKind::Islet => '○',
        MarkKind::Peak => '▲',
        MarkKind::Light => '*',
        MarkKind::Town => '■',
        MarkKind::Tower => '┴',
        MarkKind::Buoy => '¡',
        MarkKind::Other => '+',
    }
}

fn farthest_corner(raster: &Raster, from: Dot) -> f64 {
    let far = |value: f64, most: f64| value.abs().max((most - value).abs());
    far(from.x, raster.width()).hypot(far(from.y, raster.height()))
}

pub(super) fn cell(dot: Dot) -> At {
    let whole = |value: f64, size: usize| (value / size as f64).floor().clamp(-1e6, 1e6) as i32;
    At { column: whole(dot.x, DOTS_ACROSS), row: whole(dot.y, DOTS_DOWN) }
}

pub(super) fn miles(value: f64) -> GroundRange {
    GroundRange::clamped_metres(value * METRES_PER_NAUTICAL_MILE)
}
