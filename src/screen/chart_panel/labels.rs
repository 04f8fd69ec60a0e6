use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::Span;

use super::raster::{Ink, Raster};

/// Text on the chart, placed so that no two pieces touch and as little line as can be is hidden.
pub(super) struct Labels<'a> {
    raster: &'a Raster,
    taken: Vec<bool>,
}

/// A cell of the panel: column and row, which may lie outside.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct At {
    pub column: i32,
    pub row: i32,
}

/// The width of a text in cells.
pub(super) fn width(text: &str) -> i32 {
    i32::try_from(Span::raw(text).width()).unwrap_or(i32::MAX / 4)
}

/// How much line a label may hide.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Need {
    /// It stands somewhere, whatever is under it.
    Must,
    /// It is left out rather than hide much.
    May,
}

/// The most cells of line that a label hides which need not be there.
const MOST_HIDDEN: usize = 2;

impl<'a> Labels<'a> {
    pub fn new(raster: &'a Raster) -> Self {
        Self { raster, taken: vec![false; raster.columns() * raster.rows()] }
    }

    fn index(&self, column: i32, row: i32) -> Option<usize> {
        let (column, row) = (usize::try_from(column).ok()?, usize::try_from(row).ok()?);
        (column < self.raster.columns() && row < self.raster.rows())
            .then(|| row * self.raster.columns() + column)
    }

    /// Whether a cell lies in the panel and holds no text yet.
    pub fn is_free(&self, at: At) -> bool {
        let index = self.index(at.column, at.row);
        index.and_then(|i| self.taken.get(i)).is_some_and(|taken| !taken)
    }

    /// Keeps a cell clear of later text.
    pub fn reserve(&mut self, at: At) {
        if let Some(taken) = self.index(at.column, at.row).and_then(|i| self.taken.get_mut(i)) {
            *taken = true;
        }
    }

    /// Writes text at a place, if it is free; says whether it was.
    pub fn write(
        &mut self,
        buffer: &mut Buffer,
        area: Rect,
        at: At,
        text: &str,
        style: Style,
    ) -> bool {
        let width = width(text);
        let free = (0..width).all(|i| self.is_free(At { column: at.column + i, row: at.row }));
        if free {
            self.put(buffer, area, at, text, style);
        }
        free
    }

    fn put(&mut self, buffer: &mut Buffer, area: Rect, at: At, text: &str, style: Style) {
        let width = width(text);
        // A cell of air on either side keeps neighbours apart.
        for i in -1..=width {
            self.reserve(At { column: at.column + i, row: at.row });
        }
        let (Ok(column), Ok(row)) = (u16::try_from(at.column), u16::try_from(at.row)) else {
            return;
        };
        buffer.set_stringn(
            area.x + column,
            area.y + row,
            text,
            usize::from(area.width.saturating_sub(column)),
            style,
        );
    }

    /// Writes text beside a cell: on the side where it hides least. Says whether it stands.
    pub fn beside(
        &mut self,
        buffer: &mut Buffer,
        area: Rect,
        cell: At,
        text: &str,
        style: Style,
        need: Need,
    ) -> bool {
        let width = width(text);
        let sides = [
            (2, 0),
            (-1 - width, 0),
            (2, -1),
            (2, 1),
            (-1 - width, -1),
            (-1 - width, 1),
            (-width / 2, -1),
            (-width / 2, 1),
            (-width / 2, -2),
            (-width / 2, 2),
        ];
        let best = sides
            .into_iter()
            .map(|(column, row)| At { column: cell.column + column, row: cell.row + row })
            .filter(|at| {
                (0..width).all(|i| self.is_free(At { column: at.column + i, row: at.row }))
            })
            .map(|at| (self.hidden(at, width), at))
            .min_by_key(|(hidden, _)| *hidden);
        match best {
            Some((hidden, at)) if need == Need::Must || hidden <= MOST_HIDDEN => {
                self.put(buffer, area, at, text, style);
                true
            }
            _ => false,
        }
    }

    /// Cells of line, rings aside, under text at a place.
    fn hidden(&self, at: At, width: i32) -> usize {
        (0..width)
            .filter_map(|i| self.index(at.column + i, at.row))
            .filter(|i| {
                let (column, row) = (i % self.raster.columns(), i / self.raster.columns());
                self.raster.ink(column, row) > Ink::Ring
            })
            .count()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::screen::chart_panel::raster::{Dot, Stroke};

    #[test]
    fn no_two_labels_touch_and_lines_stay_seen() {
        let mut raster = Raster::new(30, 5);
        let (from, to) = (Dot { x: 20.0, y: 8.0 }, Dot { x: 59.0, y: 8.0 });
        raster.line(from, to, Stroke::solid(Ink::Coast));
        let area = Rect::new(0, 0, 30, 5);
        let mut buffer = Buffer::empty(area);
        let mut labels = Labels::new(&raster);
        let cell = At { column: 10, row: 2 };
        for name in ["North", "South", "Aft"] {
            labels.beside(&mut buffer, area, cell, name, Style::new(), Need::May);
        }
        let text: Vec<String> = (0..5)
            .map(|y| (0..30).map(|x| buffer[(x, y)].symbol()).collect::<String>().trim_end().into())
            .collect();
        assert_eq!(text, ["", "            South", "    North", "            Aft", ""]);
        let crowded = At { column: 29, row: 0 };
        let long = "a name that is longer than the panel";
        assert!(!labels.beside(&mut buffer, area, crowded, long, Style::new(), Need::Must));
    }
}
