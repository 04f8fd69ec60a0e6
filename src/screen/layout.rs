use ratatui::layout::{Rect, Size};

use super::state::Panel;

/// The narrowest screen that holds the display.
pub const LEAST_COLUMNS: u16 = 72;

/// The lowest screen that holds the display.
pub const LEAST_ROWS: u16 = 20;

/// From this width on every panel is shown beside the chart.
const WIDE_COLUMNS: u16 = 120;

/// The least width beside the chart that a picture is given.
const PICTURE_COLUMNS: u16 = 44;

/// From this height on the side holds every panel.
const HIGH_ROWS: u16 = 36;

/// From this height between verdict and entry line on, what stands below the chart holds every panel.
const HIGH_BODY_ROWS: u16 = 52;

/// Where everything stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Layout {
    /// The verdict: always there, always at the top.
    pub verdict: Rect,
    /// The chart.
    pub chart: Rect,
    /// The radar's picture, where it is open: beside the chart, or in its place.
    pub picture: Option<Rect>,
    /// The line between chart and panels, where there is one.
    pub rule: Rect,
    /// The panels shown, with their places.
    pub panels: Vec<(Panel, Rect)>,
    /// What the tour says, right over the entry line; no lines while none is under way.
    pub tour: Rect,
    /// The entry line and its echo.
    pub entry: Rect,
    /// What the keys do, and the caution.
    pub foot: Rect,
}

impl Layout {
    /// Places everything on a screen; `shown` is the panel on a small one, `picture` whether the
    /// radar's picture is open, `told` and `tour` how many lines the verdict and a tour have.
    /// `None` where the screen is too small to show anything that could be trusted.
    pub fn new(size: Size, shown: Panel, picture: bool, (told, tour): (u16, u16)) -> Option<Self> {
        if size.width < LEAST_COLUMNS || size.height < LEAST_ROWS {
            return None;
        }
        let (width, height) = (size.width, size.height);
        let verdict = Rect::new(0, 0, width, told);
        let entry = Rect::new(0, height - 4, width, 2);
        let foot = Rect::new(0, height - 2, width, 2);
        let tour = Rect::new(0, entry.y - tour, width, tour);
        let body = Rect::new(0, told, width, tour.y - told);
        let (chart, rule, panels) =
            if width < 100 && height >= 44 { tall(body, shown) } else { beside(body, shown) };
        let (chart, picture) = if picture { with_picture(chart) } else { (chart, None) };
        Some(Self { verdict, chart, picture, rule, panels, tour, entry, foot })
    }

    /// All that lies between verdict and entry line, or the tour over that: where a page stands.
    pub fn body(&self) -> Rect {
        let top = self.verdict.bottom();
        Rect { y: top, height: self.tour.y - top, ..self.verdict }
    }
}

/// A chart and the picture beside it where both have room, else the picture in its place.
fn with_picture(chart: Rect) -> (Rect, Option<Rect>) {
    if chart.width < 2 * PICTURE_COLUMNS {
        return (chart, Some(chart));
    }
    let left = Rect { width: chart.width / 2, ..chart };
    let right = Rect { x: left.right(), width: chart.width - left.width, ..chart };
    (left, Some(right))
}

/// Chart above, panels side by side below it: every one where there is room, else two.
fn tall(body: Rect, shown: Panel) -> (Rect, Rect, Vec<(Panel, Rect)>) {
    let all = body.height >= HIGH_BODY_ROWS;
    let chart_height = if all { body.height / 2 } else { body.height * 3 / 5 };
    let chart = Rect { height: chart_height, ..body };
    let below = Rect { y: body.y + chart.height, height: body.height - chart.height, ..body };
    let left = Rect { width: body.width / 2, ..below };
    let right = Rect { x: left.width + 1, width: body.width - left.width - 1, ..below };
    let rule = Rect { x: left.width, width: 1, ..below };
    if !all {
        let second = if shown == Panel::Contacts { Panel::Expected } else { shown };
        return (chart, rule, vec![(Panel::Contacts, left), (second, right)]);
    }
    let halves = |side: Rect| {
        let upper = Rect { height: side.height / 2, ..side };
        (upper, Rect { y: upper.bottom(), height: side.height - upper.height, ..side })
    };
    let ((contacts, advice), (expected, along)) = (halves(left), halves(right));
    (chart, rule, every_panel([contacts, expected, advice, along]))
}

/// Chart to the left, panels to its right.
fn beside(body: Rect, shown: Panel) -> (Rect, Rect, Vec<(Panel, Rect)>) {
    let wide = body.width >= WIDE_COLUMNS;
    let side_width = if wide { (body.width * 2 / 5).clamp(54, 68) } else { 35 };
    let chart = Rect { width: body.width - side_width - 1, ..body };
    let rule = Rect { x: chart.width, width: 1, ..body };
    let side = Rect { x: chart.width + 1, width: side_width, ..body };
    if !wide || body.height + 6 < HIGH_ROWS {
        return (chart, rule, vec![(shown, side)]);
    }
    let contacts = Rect { height: side.height * 3 / 10, ..side };
    let expected = Rect { y: contacts.bottom(), height: side.height / 4, ..side };
    let advice = Rect { y: expected.bottom(), height: side.height / 4, ..side };
    let along = Rect { y: advice.bottom(), height: side.bottom() - advice.bottom(), ..side };
    (chart, rule, every_panel([contacts, expected, advice, along]))
}

/// Every panel in its place, in the order in which the space bar goes round.
fn every_panel(places: [Rect; 4]) -> Vec<(Panel, Rect)> {
    [Panel::Contacts, Panel::Expected, Panel::Advice, Panel::Along]
        .into_iter()
        .zip(places)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_overlaps_and_the_verdict_is_never_hidden() {
        for width in (LEAST_COLUMNS..240).step_by(7) {
            for height in (LEAST_ROWS..90).step_by(5) {
                let size = Size { width, height };
                let told = 2 + height % 3;
                let tour = height % 2 * 2;
                let layout = Layout::new(size, Panel::Expected, true, (told, tour)).unwrap();
                assert_eq!((layout.verdict.y, layout.verdict.height), (0, told));
                let mut areas = vec![layout.verdict, layout.chart, layout.entry, layout.foot];
                areas.extend(Some(layout.tour).filter(|_| tour > 0));
                assert_eq!(layout.body().bottom(), layout.entry.y - tour);
                areas.extend(layout.panels.iter().map(|(_, area)| *area));
                areas.extend(layout.picture.filter(|picture| *picture != layout.chart));
                let screen = Rect::new(0, 0, width, height);
                for (i, area) in areas.iter().enumerate() {
                    assert_eq!(area.intersection(screen), *area, "{width}x{height}");
                    assert!(area.width >= 30 && area.height >= 2, "{width}x{height} {area:?}");
                    for other in &areas[i + 1..] {
                        assert!(!area.intersects(*other), "{width}x{height}");
                    }
                }
            }
        }
        assert!(
            Layout::new(Size { width: 71, height: 24 }, Panel::Contacts, false, (2, 0)).is_none()
        );
    }
}
