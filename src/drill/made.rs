use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use thiserror::Error;

use super::exercise::{Declaration, Exercise};
use super::order::{Carry, Order};
use crate::chart::{Chart, GeoBox, Mark, MarkId, MarkKind};
use crate::geodesy::{Position, course, destination};
use crate::paint::{Afloat, Conditions, Vantage, expect};
use crate::radar::{Rain, Set};
use crate::units::{
    Angle, Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, SlantRange, True,
};

/// Places tried before a chart is given up.
const TRIES: usize = 300;

/// The landfall is so far off at the first look, nautical miles, and as a share of what the set is
/// good for where that is less.
const OFF_NM: [f64; 2] = [12.0, 24.0];
const OFF_SHARE: f64 = 0.8;

/// No shore is nearer than this.
const CLEAR_NM: f64 = 4.0;

/// Marks that must show, or there is nothing to work with; from this chance on a mark shows.
const LEAST_MARKS: usize = 4;
const SHOWS: f64 = 0.5;

/// They must lie over so many degrees of bearing, or a fix is a poor one.
const LEAST_SPREAD_DEG: f64 = 40.0;

/// A landfall that shows with less than this may also rightly be left open.
const PLAIN: f64 = 0.9;

/// Knots of wind or stream that nobody reckoned with, one standard deviation on each axis.
const WIND_OFF_KN: f64 = 8.0;
const STREAM_OFF_KN: f64 = 1.0;

/// The step between bearings at which the coast is asked for, degrees: only the marks are used.
const STEP_DEG: f64 = 10.0;

/// Why no landfall is made on a chart.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum MadeError {
    /// It has no headland or island to make.
    #[error("the chart has no headland and no island to make a landfall on")]
    NoMarks,
    /// Nowhere off it do enough marks show.
    #[error(
        "no place was found off this coast from which {LEAST_MARKS} marks show and the sea is clear \
         for {CLEAR_NM:.0} NM: it may be too small, or cut too close to its shore"
    )]
    NoPlace,
}

/// A landfall on any chart: where, from where, with what wind, in what weather, all of it from the
/// seed.
///
/// # Errors
/// A chart that has no coast to make.
pub fn landfall(
    chart: &Chart,
    set: &Set,
    set_name: &str,
    seed: u64,
) -> Result<Exercise, MadeError> {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    random.set_stream(u64::MAX);
    let marks = worth_making(chart, set);
    if marks.is_empty() {
        return Err(MadeError::NoMarks);
    }
    for _ in 0..TRIES {
        let at = random.random_range(0..marks.len());
        let Some((id, mark)) = marks.get(at).copied() else { continue };
        if let Some(scene) = Scene::draw(&mut random, chart, set, (id, mark), &marks) {
            return Ok(scene.order(&mut random, chart, set, set_name, seed).exercise());
        }
    }
    Err(MadeError::NoPlace)
}

/// Places of a box, evenly over the Earth, from the seed.
pub fn places_over(extent: &GeoBox, seed: u64) -> impl Iterator<Item = Position> + use<> {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    random.set_stream(u64::MAX - 1);
    let (extent, sine) = (*extent, |degrees: f64| Angle::from_degrees(degrees).radians().sin());
    let (low, high) = (sine(extent.south), sine(extent.north));
    std::iter::repeat_with(move || {
        let (north, east) = (random.random::<f64>(), random.random::<f64>());
        let latitude = Angle::from_radians((low + north * (high - low)).asin()).degrees();
        Position::wrapped(latitude, extent.west + east * (extent.east - extent.west))
    })
}

/// So far about the landfall, beside what the set is good for, a chart that was opened about a place must be
/// at hand, nautical miles: where it is made from, the run, and what is looked at beside it.
const ROOM_NM: f64 = OFF_NM[1] + 160.0;

/// How far about a place a large chart is opened for a landfall made near it.
pub fn reach(set: &Set) -> GroundRange {
    miles(set.greatest_scale().nautical_miles() + ROOM_NM + MADE_WITHIN_NM)
}

/// It is then made on a mark about so near the place, nautical miles.
const MADE_WITHIN_NM: f64 = 100.0;

/// Headlands and islands, those with a name where there are any; none near the edge of what is at hand.
fn worth_making<'a>(chart: &'a Chart, set: &Set) -> Vec<(MarkId, &'a Mark)> {
    let room = miles(set.greatest_scale().nautical_miles() + ROOM_NM);
    let has_room = |mark: &Mark| {
        let opened = chart.opened_about();
        opened.is_none_or(|opened| opened.holds(&GeoBox::around(mark.position, room)))
    };
    let all: Vec<(MarkId, &Mark)> = chart
        .marks()
        .iter()
        .filter(|(_, mark)| matches!(mark.kind, MarkKind::Headland | MarkKind::Islet))
        .filter(|(_, mark)| has_room(mark))
        .collect();
    let named: Vec<_> = all.iter().copied().filter(|(_, mark)| mark.named).collect();
    if named.is_empty() { all } else { named }
}

/// Where it is made, from where, and in what weather.
struct Scene {
    landfall: Position,
    from: Position,
    toward: Bearing<True>,
    height_ft: f64,
    conditions: Conditions,
    weather: String,
    scale_nm: f64,
    /// The chance that the landfall shows.
    chance: f64,
}

impl Scene {
    /// Draws one; none where the sea is not clear there, or too little shows.
    fn draw(
        random: &mut ChaCha8Rng,
        chart: &Chart,
        set: &Set,
        (id, mark): (MarkId, &Mark),
        marks: &[(MarkId, &Mark)],
    ) -> Option<Self> {
        let most_nm = OFF_NM[1].min(OFF_SHARE * set.greatest_scale().nautical_miles());
        let off_nm = random.random_range(0.5 * most_nm..most_nm).max(OFF_NM[0].min(most_nm));
        let away = Bearing::wrapped_degrees(random.random_range(0.0..360.0));
        let from = destination(mark.position, away, miles(off_nm));
        let shore = chart.coast();
        let at_sea = shore.is_land(from) == Some(false);
        if !at_sea || shore.nearest(from, miles(CLEAR_NM)).is_some() {
            return None;
        }
        let height_ft = height_ft(random, set);
        let (conditions, weather) = weather(random);
        let wanted = SlantRange::clamped_metres(1.2 * off_nm * METRES_PER_NAUTICAL_MILE);
        let scale_nm = set.smallest_scale_holding(wanted);
        let height = Height::from_feet(height_ft).ok()?;
        let vantage = Vantage { position: from, height, heading: None };
        let shown = expect(chart, &vantage, set, &conditions, miles(scale_nm), STEP_DEG);
        let showing: Vec<Bearing<True>> = shown
            .marks
            .iter()
            .filter(|it| {
                it.paint_probability >= SHOWS && marks.iter().any(|(id, _)| *id == it.mark)
            })
            .map(|it| it.bearing)
            .collect();
        let chance = shown.marks.iter().find(|it| it.mark == id)?.paint_probability;
        let enough = showing.len() >= LEAST_MARKS && spread_deg(&showing) >= LEAST_SPREAD_DEG;
        enough.then(|| Self {
            landfall: mark.position,
            from,
            toward: course(from, mark.position).initial,
            height_ft,
            conditions,
            weather,
            scale_nm,
            chance,
        })
    }

    fn order(
        self,
        random: &mut ChaCha8Rng,
        chart: &Chart,
        set: &Set,
        set_name: &str,
        seed: u64,
    ) -> Order {
        let airborne = set.is_airborne() || set.lobes.is_some() || self.height_ft > 300.0;
        let (through_kn, off_kn) =
            if airborne { (165.0, WIND_OFF_KN) } else { (9.0, STREAM_OFF_KN) };
        let hours =
            if airborne { random.random_range(0.3..1.2) } else { random.random_range(2.0..6.0) };
        let reckoned_with = reckoned_with(random, airborne);
        let truly = reckoned_with.off(off_kn * normal(random), off_kn * normal(random));
        // Nobody steers for the landfall itself: the track made good lies some degrees to a side.
        let aside = Angle::from_degrees(8.0 * normal(random));
        let accepted = self.accepted();
        Order {
            lesson: None,
            seed,
            set_name: set_name.to_owned(),
            set: set.clone(),
            from: self.from,
            heading: self.toward.turned(aside),
            through_kn,
            height_ft: self.height_ft,
            reckoned_with,
            truly,
            hours,
            carry_sigma_kn: off_kn,
            start_sigma_nm: 0.7,
            conditions: self.conditions,
            weather: self.weather,
            afloat: ships(random, chart, self.from),
            landfall: self.landfall,
            accepted,
            untold: false,
            turn: None,
            scans: 4,
            every_s: if airborne { 60 } else { 180 },
            scale_nm: self.scale_nm,
        }
    }

    /// What may rightly be said of the landfall.
    fn accepted(&self) -> Vec<Declaration> {
        match self.chance {
            chance if chance >= PLAIN => vec![Declaration::Confirmed],
            chance if chance >= SHOWS => vec![Declaration::Confirmed, Declaration::CannotSay],
            _ => vec![Declaration::Denied, Declaration::CannotSay],
        }
    }
}

/// The wind or the stream that is known of.
fn reckoned_with(random: &mut ChaCha8Rng, airborne: bool) -> Carry {
    let toward_or_from = random.random_range(0.0..360.0);
    if airborne {
        Carry::wind(toward_or_from, random.random_range(0.0..30.0))
    } else {
        Carry { toward_deg: toward_or_from, knots: random.random_range(0.0..1.5) }
    }
}

/// Over how many degrees directions lie: all round less the widest gap between neighbours.
fn spread_deg(bearings: &[Bearing<True>]) -> f64 {
    let mut degrees: Vec<f64> = bearings.iter().map(|bearing| bearing.degrees()).collect();
    degrees.sort_by(f64::total_cmp);
    let Some((first, last)) = degrees.first().zip(degrees.last()) else { return 0.0 };
    let over_north = first + 360.0 - last;
    let gaps = degrees.windows(2).filter_map(|pair| Some(pair.get(1)? - pair.first()?));
    360.0 - gaps.fold(over_north, f64::max)
}

fn miles(nm: f64) -> GroundRange {
    GroundRange::clamped_metres(nm * METRES_PER_NAUTICAL_MILE)
}

fn normal(random: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(random)
}

/// A height that the set is meant for.
fn height_ft(random: &mut ChaCha8Rng, set: &Set) -> f64 {
    let aloft =
        set.is_airborne() || set.lobes.is_some() || set.greatest_scale().nautical_miles() > 60.0;
    let (low, high) = if aloft { (1_000.0, 5_000.0) } else { (20.0, 60.0) };
    let (least, most) = set.usable_height_ft.unwrap_or((0.0, f64::INFINITY));
    let height: f64 = random.random_range(low..high);
    ((height / 10.0).round() * 10.0).clamp(least, most)
}

fn weather(random: &mut ChaCha8Rng) -> (Conditions, String) {
    const SEAS: [&str; 6] = [
        "a calm sea",
        "a calm sea",
        "a slight sea",
        "a moderate sea",
        "a rough sea",
        "a very rough sea",
    ];
    let state = random.random_range(1..=4_u8);
    let sea = SEAS.get(usize::from(state)).copied().unwrap_or("the sea");
    let mut conditions = Conditions { sea_state: state, ..Conditions::default() };
    if random.random_range(0.0..1.0) < 0.25 {
        let from = random.random_range(3.0..10.0);
        conditions.rain =
            Rain { mm_h: random.random_range(4.0..14.0), from: miles(from), to: miles(from + 3.0) };
        return (conditions, format!("cloud, {sea}, showers some miles off"));
    }
    (conditions, format!("cloud, {sea}, no rain"))
}

/// Up to three ships, at sea, within some miles.
fn ships(random: &mut ChaCha8Rng, chart: &Chart, about: Position) -> Vec<Afloat> {
    const MOST: usize = 3;
    const WITHIN_NM: f64 = 18.0;
    let count = random.random_range(0..=MOST);
    (0..count)
        .filter_map(|_| {
            let (off, toward) =
                (random.random_range(2.0..WITHIN_NM), random.random_range(0.0..360.0));
            let m2 = 10f64.powf(random.random_range(2.5..4.0));
            let position = destination(about, Bearing::wrapped_degrees(toward), miles(off));
            let height = Height::from_feet(random.random_range(20.0..90.0)).ok()?;
            (chart.coast().is_land(position) == Some(false)).then_some(Afloat {
                position,
                height,
                m2,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn directions_lie_over_as_many_degrees_with_north_among_them() {
        let over = |degrees: &[f64]| {
            let bearings: Vec<_> =
                degrees.iter().map(|degrees| Bearing::wrapped_degrees(*degrees)).collect();
            spread_deg(&bearings).round()
        };
        assert_eq!(over(&[40.0, 70.0, 100.0]).to_bits(), 60.0_f64.to_bits());
        assert_eq!(over(&[330.0, 30.0, 0.0]).to_bits(), 60.0_f64.to_bits());
        assert_eq!(over(&[350.0, 170.0]).to_bits(), 180.0_f64.to_bits());
        assert_eq!(over(&[200.0]).to_bits(), 0.0_f64.to_bits());
        assert_eq!(over(&[]).to_bits(), 0.0_f64.to_bits());
    }
}
