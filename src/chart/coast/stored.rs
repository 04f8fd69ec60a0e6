//! The coast as it is kept outside the program: run by run, each with what is known of its line, so
//! that any part of it can be taken in by itself.

use std::ops::Range;

use rstar::RTree;

use super::build::indexed;
use super::clip::Clipped;
use super::run::{Cut, Edge, IndexedRun};
use super::tiles::Tiles;
use super::{Coast, LandSide, LineEntry, LonLat, RUN_SEGMENTS, Window};
use crate::chart::bytes::{Damage, Decoder, Encoder};
use crate::chart::geobox::GeoBox;

/// What is known of a coast as a whole.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::chart) struct CoastFacts {
    pub(in crate::chart) extent: Option<GeoBox>,
    layers: Vec<Clipped>,
    pub(in crate::chart) has_open: bool,
    pub(in crate::chart) lines: usize,
    pub(in crate::chart) points: usize,
}

pub(in crate::chart) fn write_box(out: &mut Encoder, area: &GeoBox) {
    for edge in [area.south, area.west, area.north, area.east] {
        out.f64(edge);
    }
}

pub(in crate::chart) fn read_box(input: &mut Decoder<'_>) -> Result<GeoBox, Damage> {
    let (south, west) = (input.finite()?, input.finite()?);
    let (north, east) = (input.finite()?, input.finite()?);
    let on_earth = (-90.0..=90.0).contains(&south) && (-90.0..=90.0).contains(&north);
    if !on_earth || south > north || !(-180.0..=180.0).contains(&west) || east < west {
        return Err(Damage::new("a box in it is none"));
    }
    // As it was, and not made anew: the last digit counts.
    Ok(GeoBox { south, west, north, east })
}

impl CoastFacts {
    pub(in crate::chart) fn write(&self, out: &mut Encoder) {
        out.option(self.extent.as_ref(), write_box);
        out.list(&self.layers, |out, layer| {
            write_box(out, &layer.area);
            layer.sides.iter().for_each(|side| out.flag(*side));
        });
        out.flag(self.has_open);
        out.count(self.lines);
        out.count(self.points);
    }

    pub(in crate::chart) fn read(input: &mut Decoder<'_>) -> Result<Self, Damage> {
        Ok(Self {
            extent: input.option(read_box)?,
            layers: input.list(36, |input| {
                let area = read_box(input)?;
                let sides = [input.flag()?, input.flag()?, input.flag()?, input.flag()?];
                Ok(Clipped { area, sides })
            })?,
            has_open: input.flag()?,
            lines: input.count()?,
            points: input.count()?,
        })
    }
}

/// A run of a coast, to be kept.
pub(in crate::chart) struct KeptRun<'a> {
    coast: &'a Coast,
    run: &'a IndexedRun,
}

impl KeptRun<'_> {
    /// The corners of its box.
    pub(in crate::chart) fn corners(&self) -> ([f64; 2], [f64; 2]) {
        (self.run.low, self.run.high)
    }

    pub(in crate::chart) fn write(&self, out: &mut Encoder) {
        let Some(line) = self.coast.lines.get(self.run.line as usize) else { return };
        let first = self.run.first as usize;
        let points = self.coast.points.get(first..=first + usize::from(self.run.segments));
        out.u32(self.run.line);
        out.u32(self.run.first);
        out.u32(line.points.start as u32);
        out.u32(line.points.end as u32);
        out.u32(line.group);
        let side = match line.side {
            LandSide::Left => 0,
            LandSide::Right => 1,
            LandSide::Unknown => 2,
        };
        let edge = match self.run.edge {
            Edge::Shore => 0,
            Edge::Seam => 1,
            Edge::Clip => 2,
        };
        let bits = [line.closed, line.hole, line.cut_start, line.cut_end];
        let bits = bits.iter().enumerate().map(|(i, bit)| u8::from(*bit) << i).sum::<u8>();
        out.u8(bits | side << 4 | edge << 6);
        out.u8(self.run.segments);
        for point in points.unwrap_or_default() {
            out.f64(point.lon);
            out.f64(point.lat);
        }
    }
}

/// What is known of the line of a stored run.
#[allow(clippy::struct_excessive_bools, reason = "each is a fact of its own")]
#[derive(Debug, Clone, PartialEq)]
struct StoredLine {
    points: Range<u32>,
    group: u32,
    closed: bool,
    hole: bool,
    cut_start: bool,
    cut_end: bool,
    side: LandSide,
}

#[derive(Debug)]
struct StoredRun {
    line: u32,
    first: u32,
    of: StoredLine,
    edge: Edge,
    /// Where its points stand among those taken in.
    points: Range<usize>,
}

/// Takes in runs in any order, and makes a coast of them.
#[derive(Debug, Default)]
pub(in crate::chart) struct StoredRuns {
    runs: Vec<StoredRun>,
    points: Vec<LonLat>,
}

impl StoredRuns {
    /// Takes in all runs of a leaf.
    pub(in crate::chart) fn read(&mut self, bytes: &[u8]) -> Result<(), Damage> {
        let mut input = Decoder::new(bytes);
        while !input.is_done() {
            self.read_run(&mut input)?;
        }
        Ok(())
    }

    fn read_run(&mut self, input: &mut Decoder<'_>) -> Result<(), Damage> {
        let (line, first) = (input.u32()?, input.u32()?);
        let (points, group) = (input.u32()?..input.u32()?, input.u32()?);
        let (bits, segments) = (input.u8()?, input.u8()?);
        let bit = |i: u8| bits >> i & 1 == 1;
        let side = match bits >> 4 & 3 {
            0 => LandSide::Left,
            1 => LandSide::Right,
            2 => LandSide::Unknown,
            _ => return Err(Damage::new("a land side in it is none")),
        };
        let edge = match bits >> 6 {
            0 => Edge::Shore,
            1 => Edge::Seam,
            2 => Edge::Clip,
            _ => return Err(Damage::new("a kind of edge in it is none")),
        };
        let within = first >= points.start
            && u64::from(first) + u64::from(segments) < u64::from(points.end)
            && (1..=RUN_SEGMENTS).contains(&usize::from(segments));
        if !within {
            return Err(Damage::new("a run in it lies outside its line"));
        }
        let start = self.points.len();
        for _ in 0..=segments {
            let (lon, lat) = (input.finite()?, input.finite()?);
            if lat.abs() > 90.0 || lon.abs() > 1e6 {
                return Err(Damage::new("a point in it lies off the Earth"));
            }
            self.points.push(LonLat { lon, lat });
        }
        let of = StoredLine {
            points,
            group,
            closed: bit(0),
            hole: bit(1),
            cut_start: bit(2),
            cut_end: bit(3),
            side,
        };
        self.runs.push(StoredRun { line, first, of, edge, points: start..self.points.len() });
        Ok(())
    }

    /// The coast of these runs. With `window` it is only that part of the whole which holds every
    /// run that touches the window's box.
    pub(in crate::chart) fn coast(
        mut self,
        facts: CoastFacts,
        window: Option<Enclosing>,
    ) -> Result<Coast, Damage> {
        self.runs.sort_by_key(|run| (run.line, run.first));
        let mut coast = Coast {
            extent: facts.extent,
            layers: facts.layers,
            has_open: facts.has_open,
            whole: Some((facts.lines, facts.points)),
            ..Coast::default()
        };
        coast.points.reserve_exact(self.points.len());
        let runs = Vec::with_capacity(self.runs.len());
        let mut gathered = Gathered { coast, points: &self.points, runs, ends: Vec::new() };
        let mut numbers = Vec::new();
        for line in self.runs.chunk_by(|a, b| a.line == b.line) {
            numbers.extend(line.first().map(|run| run.line));
            gathered.line(line)?;
        }
        let Gathered { mut coast, runs, ends, .. } = gathered;
        coast.runs = RTree::bulk_load(runs);
        coast.tiles = Tiles::new(coast.extent);
        if let Some(enclosing) = window {
            coast.window = Some(Window::new(&coast, &enclosing, &ends, &numbers));
        } else if coast.lines.len() != facts.lines || coast.points.len() != facts.points {
            return Err(Damage::new("some of its coast is missing"));
        }
        Ok(coast)
    }
}

/// An end of what was taken in of a ring.
#[derive(Debug, Clone, Copy)]
pub(super) struct ChainEnd {
    /// Number of its line in the coast made.
    pub(super) line: u32,
    pub(super) at: LonLat,
}

/// Where a part of the coast is taken in, and the rings that hold its north-west corner.
#[derive(Debug, Clone)]
pub(in crate::chart) struct Enclosing {
    pub(in crate::chart) area: GeoBox,
    /// Line and group of each, by their numbers in the whole coast.
    pub(in crate::chart) corner: Vec<(u32, u32)>,
}

/// A coast while its lines are put together from stored runs.
struct Gathered<'a> {
    coast: Coast,
    /// All points taken in, which the runs tell their own of.
    points: &'a [LonLat],
    runs: Vec<IndexedRun>,
    ends: Vec<ChainEnd>,
}

impl Gathered<'_> {
    /// Puts one line's runs into it: its stretches one after another, with a seam that is in no
    /// index where the line goes on outside.
    fn line(&mut self, runs: &[StoredRun]) -> Result<(), Damage> {
        let Some(head) = runs.first() else { return Ok(()) };
        let line = self.coast.lines.len() as u32;
        let (start, first_cut) = (self.coast.points.len(), self.coast.cuts.len());
        let mut reached: Option<u32> = None;
        for run in runs {
            if run.of != head.of {
                return Err(Damage::new("two runs in it do not agree on their line"));
            }
            let own = self.points.get(run.points.clone()).unwrap_or_default();
            self.begin(line, own, run.first, reached)?;
            let first = self.coast.points.len() - 1;
            self.coast.points.extend(own.iter().skip(1));
            self.runs.push(indexed(own, line, first, run.edge));
            let segments = first..first + own.len() - 1;
            Cut::add(&mut self.coast.cuts, first_cut, segments, run.edge);
            reached = Some(run.first + (own.len() - 1) as u32);
        }
        self.end(line);
        self.coast.lines.push(LineEntry {
            points: start..self.coast.points.len(),
            cuts: first_cut..self.coast.cuts.len(),
            closed: head.of.closed,
            hole: head.of.hole,
            side: head.of.side,
            group: head.of.group,
            cut_start: head.of.cut_start,
            cut_end: head.of.cut_end,
        });
        Ok(())
    }

    /// Makes sure that the point which a run begins with is the last there is: it was reached by the run
    /// before, or a stretch begins with it.
    fn begin(
        &mut self,
        line: u32,
        own: &[LonLat],
        first: u32,
        reached: Option<u32>,
    ) -> Result<(), Damage> {
        if reached.is_some_and(|last| first < last) {
            return Err(Damage::new("two runs in it overlap"));
        }
        if reached == Some(first) {
            let meet = self.coast.points.last() == own.first();
            return if meet { Ok(()) } else { Err(Damage::new("two runs in it do not meet")) };
        }
        if reached.is_some() {
            let at = self.coast.points.len() - 1;
            self.end(line);
            self.coast.cuts.push(Cut { range: at..at + 1, clip: false });
        }
        self.ends.extend(own.first().map(|at| ChainEnd { line, at: *at }));
        self.coast.points.extend(own.first());
        Ok(())
    }

    /// Notes that a stretch ends with the last point there is.
    fn end(&mut self, line: u32) {
        self.ends.extend(self.coast.points.last().map(|at| ChainEnd { line, at: *at }));
    }
}

impl Coast {
    /// What is known of it as a whole.
    pub(in crate::chart) fn facts(&self) -> CoastFacts {
        CoastFacts {
            extent: self.extent,
            layers: self.layers.clone(),
            has_open: self.has_open,
            lines: self.lines.len(),
            points: self.points.len(),
        }
    }

    /// Every run, to be kept.
    pub(in crate::chart) fn kept_runs(&self) -> impl Iterator<Item = KeptRun<'_>> {
        self.runs.iter().map(|run| KeptRun { coast: self, run })
    }
}
