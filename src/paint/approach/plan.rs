use thiserror::Error;

use super::spread::spread;
use crate::chart::Chart;
use crate::geodesy::{Position, along_track, course, destination};
use crate::radar::Set;
use crate::units::{Angle, Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, Speed, True};

/// The furthest ahead that a landfall is looked for, and that a run may go, in nautical miles.
pub const MOST_RUN_NM: f64 = 1_000.0;

/// How much farther than the set's largest scale a run goes where nothing ends it.
const SCALES_AHEAD: f64 = 1.5;

/// Standard deviations of the reckoning along the track by which displaced tracks are run longer,
/// before the start and past the end.
const LONGER: f64 = 3.0;

/// Metres between the places of a track at which land is looked for.
const LAND_STEP_M: f64 = 0.25 * METRES_PER_NAUTICAL_MILE;

/// A planned track, and how far the reckoning along it is to be believed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plan {
    /// Where the run starts, by the reckoning.
    pub from: Position,
    /// Track to make good: a rhumb line.
    pub track: Bearing<True>,
    /// Speed to make good.
    pub speed: Speed,
    /// Antenna above mean sea level, all along.
    pub height: Height,
    /// One standard deviation of the start on each axis, circular.
    pub sigma: GroundRange,
    /// One standard deviation of the track made good, the same all along.
    pub track_sigma: Angle,
    /// One standard deviation of the speed made good, the same all along.
    pub speed_sigma: Speed,
}

/// Where a run ends, and why there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Run {
    /// Its length along the track.
    pub length: GroundRange,
    /// What ends it.
    pub ends: RunEnd,
}

/// What ends a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RunEnd {
    /// It was asked to end there.
    Asked,
    /// The planned landfall, or the place of the track nearest to it.
    Landfall,
    /// The track meets land.
    Land,
    /// One and a half times the set's largest scale.
    Scale,
}

impl RunEnd {
    /// As reports write it.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Asked => "asked",
            Self::Landfall => "landfall",
            Self::Land => "land",
            Self::Scale => "scale",
        }
    }
}

/// A planned landfall as the track comes to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LandfallPlan {
    /// The place planned.
    pub planned: Position,
    /// The place of the track nearest to it.
    pub nearest: Position,
    /// Along the track to there.
    pub run: GroundRange,
    /// How far the planned place lies off the track there, metres, to the right positive.
    pub cross_track_m: f64,
}

/// Why a plan cannot be run.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum PlanError {
    /// The track leads away from the landfall.
    #[error(
        "the landfall lies abeam or behind: {distance_nm:.1} NM off on {bearing} true, the track is {track}"
    )]
    Behind {
        /// How far off it lies.
        distance_nm: f64,
        /// In which direction.
        bearing: Bearing<True>,
        /// The track planned.
        track: Bearing<True>,
    },
    /// Farther than runs go.
    #[error("the landfall lies {distance_nm:.0} NM off, past the {MOST_RUN_NM} NM that a run goes")]
    TooFar {
        /// How far off it lies.
        distance_nm: f64,
    },
}

impl Plan {
    /// The place at a run of so many metres, negative before the start.
    pub fn at(&self, run_m: f64) -> Position {
        along_track(self.from, self.track, run_m)
    }

    /// The place at a run on a track displaced by `across` standard deviations of what the
    /// reckoning is off by there, to the right positive.
    pub fn displaced(&self, run_m: f64, across: f64) -> Position {
        let on_track = self.at(run_m);
        let off_m = across * self.sigma_across_m(run_m);
        let right = if off_m < 0.0 { -90.0 } else { 90.0 };
        let abeam = self.track.turned(Angle::from_degrees(right));
        destination(on_track, abeam, GroundRange::clamped_metres(off_m.abs()))
    }

    /// One standard deviation across the track after a run, metres: the start's, and the track's
    /// over the run.
    pub fn sigma_across_m(&self, run_m: f64) -> f64 {
        self.sigma.metres().hypot(self.track_sigma.radians() * run_m)
    }

    /// One standard deviation along the track after a run, metres: the start's, and the speed's over
    /// the time.
    pub fn sigma_along_m(&self, run_m: f64) -> f64 {
        let seconds = self.seconds(run_m);
        self.sigma.metres().hypot(self.speed_sigma.metres_per_second() * seconds)
    }

    /// When a place of the track is passed, at the earliest and the latest: 2.5 and 97.5 % of the
    /// reckoning's error along, seconds from the start.
    pub fn due_s(&self, run_m: f64) -> (f64, f64) {
        let due = spread(self, &[Some(run_m); 5], run_m);
        let last_s = due.latest_s.unwrap_or(f64::from(u32::MAX));
        (due.earliest_s, last_s)
    }

    /// Where a displaced track is run from and to, so that what the reckoning's error brings in from
    /// before the start and past the end is seen.
    pub(super) fn longer_m(&self, length_m: f64) -> (f64, f64) {
        (-LONGER * self.sigma.metres(), length_m + LONGER * self.sigma_along_m(length_m))
    }

    /// The time that a run takes, seconds.
    pub fn seconds(&self, run_m: f64) -> f64 {
        run_m / self.speed.metres_per_second().max(1e-9)
    }

    /// The place of the track nearest to a landfall.
    ///
    /// # Errors
    /// A landfall not ahead, or past [`MOST_RUN_NM`].
    pub fn landfall(&self, planned: Position) -> Result<LandfallPlan, PlanError> {
        /// Each turn leaves a small share of the error that a plane would make.
        const TURNS: usize = 20;
        let first = course(self.from, planned);
        let distance_nm = first.distance.nautical_miles();
        if distance_nm > MOST_RUN_NM {
            return Err(PlanError::TooFar { distance_nm });
        }
        let mut run_m = 0.0;
        for _ in 0..TURNS {
            let line = course(self.at(run_m), planned);
            run_m += line.distance.metres() * line.initial.minus(self.track).radians().cos();
        }
        if run_m <= 0.0 {
            let (bearing, track) = (first.initial, self.track);
            return Err(PlanError::Behind { distance_nm, bearing, track });
        }
        let nearest = self.at(run_m);
        let line = course(nearest, planned);
        let across = line.initial.minus(self.track).radians().sin();
        Ok(LandfallPlan {
            planned,
            nearest,
            run: GroundRange::clamped_metres(run_m),
            cross_track_m: line.distance.metres() * across,
        })
    }

    /// How far the run goes: as asked, else to the landfall, else to where the track comes from sea
    /// upon land, else one and a half times the set's largest scale.
    pub fn run(
        &self,
        chart: &Chart,
        set: &Set,
        asked: Option<GroundRange>,
        landfall: Option<&LandfallPlan>,
    ) -> Run {
        if let Some(length) = asked {
            return Run { length, ends: RunEnd::Asked };
        }
        if let Some(landfall) = landfall {
            return Run { length: landfall.run, ends: RunEnd::Landfall };
        }
        let most_m = SCALES_AHEAD * set.greatest_scale().metres();
        match self.meets_land_m(chart, most_m) {
            Some(run_m) => Run { length: GroundRange::clamped_metres(run_m), ends: RunEnd::Land },
            None => Run { length: GroundRange::clamped_metres(most_m), ends: RunEnd::Scale },
        }
    }

    fn meets_land_m(&self, chart: &Chart, most_m: f64) -> Option<f64> {
        let land = |run_m: f64| chart.coast().is_land(self.at(run_m)) == Some(true);
        let steps = (most_m / LAND_STEP_M) as usize;
        let mut before = land(0.0);
        for step in 1..=steps {
            let run_m = step as f64 * LAND_STEP_M;
            let on = land(run_m);
            if on && !before {
                let (mut sea_m, mut land_m) = (run_m - LAND_STEP_M, run_m);
                while land_m - sea_m > 10.0 {
                    let middle = 0.5 * (sea_m + land_m);
                    if land(middle) { land_m = middle } else { sea_m = middle }
                }
                return Some(land_m);
            }
            before = on;
        }
        None
    }
}
