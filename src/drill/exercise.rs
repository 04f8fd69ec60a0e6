use std::fmt::Write;

use jiff::{SignedDuration, Timestamp};

use super::path::{Moment, Path};
use crate::chart::Chart;
use crate::contact::{Own, Radar, Reckoning, Sightings};
use crate::geodesy::Position;
use crate::paint::{Afloat, Conditions, Frame, Picture, PictureError, Vantage, picture_with};
use crate::radar::Set;
use crate::units::{Angle, Bearing, Height, METRES_PER_NAUTICAL_MILE, SlantRange, True};

/// Cells of range and of bearing in a picture: a bearing to half a degree.
const CELLS: (usize, usize) = (512, 720);

/// One landfall to be solved: what the trainee is told, and the truth behind it.
#[derive(Debug, Clone, PartialEq)]
pub struct Exercise {
    /// Everything of chance in it comes from this.
    pub seed: u64,
    /// The lesson it belongs to, from 1; none where it was made for its own sake.
    pub lesson: Option<usize>,
    /// The name or path of the set.
    pub set_name: String,
    /// The set.
    pub set: Set,
    /// Where the reckoning has it.
    pub reckoning: Reckoning,
    /// Own height and heading, as the instruments have them.
    pub own: Own,
    /// Where the landfall is planned.
    pub landfall: Position,
    /// What the sea and the sky are like, as seen from the craft.
    pub weather: String,
    /// When the set first looks round.
    pub first: Timestamp,
    /// Seconds between two looks.
    pub every_s: i64,
    /// How many looks there are.
    pub scans: usize,
    /// The scale that the screen begins on, nautical miles.
    pub scale_nm: f64,
    pub(super) hidden: Hidden,
}

/// What is true, and not told.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Hidden {
    pub path: Path,
    pub height: Height,
    /// The heading and every bearing is shown by so much too great.
    pub bias: Angle,
    pub conditions: Conditions,
    pub afloat: Vec<Afloat>,
    /// What may rightly be said of the landfall.
    pub landfall: Vec<Declaration>,
    /// Nothing that shows tells one place from another: to state none is right.
    pub untold: bool,
}

/// What is said of the landfall.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Declaration {
    /// It is made: what stands for it on the screen is it.
    Confirmed,
    /// What stands for it is something else.
    Denied,
    /// The picture does not tell.
    CannotSay,
}

impl Declaration {
    /// Every word that is taken.
    pub const WORDS: [&'static str; 3] = ["confirmed", "denied", "cannot-say"];

    /// As files write it.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Confirmed => "confirmed",
            Self::Denied => "denied",
            Self::CannotSay => "cannot-say",
        }
    }

    /// The declaration of a word.
    pub fn parse(word: &str) -> Option<Self> {
        [Self::Confirmed, Self::Denied, Self::CannotSay]
            .into_iter()
            .find(|declaration| declaration.as_str() == word)
    }
}

/// One look round.
#[derive(Debug, Clone, PartialEq)]
pub struct Scan {
    /// When.
    pub time: Timestamp,
    /// Own heading as the compass has it.
    pub heading: Bearing<True>,
    /// Own bank as the horizon has it, right wing down positive.
    pub bank: Angle,
    /// What the screen shows.
    pub picture: Picture,
}

impl Exercise {
    /// When the set looks round for the time of this number, the first being none.
    pub fn time_of(&self, scan: usize) -> Timestamp {
        let seconds = self.every_s.saturating_mul(i64::try_from(scan).unwrap_or(i64::MAX));
        self.first.checked_add(SignedDuration::from_secs(seconds)).unwrap_or(self.first)
    }

    /// When it looks for the last time.
    pub fn last(&self) -> Timestamp {
        self.time_of(self.scans.saturating_sub(1))
    }

    /// What the screen shows at the look of this number, on the scale it begins on.
    ///
    /// # Errors
    /// None: a heading is always known.
    pub fn scan(&self, chart: &Chart, number: usize) -> Result<Scan, PictureError> {
        self.look(chart, self.time_of(number), self.scale_nm, number as u64)
    }

    /// What the screen shows at a time, on a scale.
    ///
    /// - `chance`: tells looks apart: those of one number have the same noise.
    ///
    /// # Errors
    /// None: a heading is always known.
    pub fn look(
        &self,
        chart: &Chart,
        time: Timestamp,
        scale_nm: f64,
        chance: u64,
    ) -> Result<Scan, PictureError> {
        let Moment { position, heading, bank } = self.hidden.path.at(time);
        let vantage = Vantage { position, height: self.hidden.height, heading: Some(heading) };
        let frame = Frame {
            scale: SlantRange::clamped_metres(scale_nm * METRES_PER_NAUTICAL_MILE),
            bins: CELLS.0,
            bearings: CELLS.1,
            bank,
            seed: self.seed.wrapping_mul(0x9e37_79b9_7f4a_7c15).wrapping_add(chance),
        };
        let hidden = &self.hidden;
        let (conditions, afloat) = (&hidden.conditions, hidden.afloat.as_slice());
        let picture = picture_with(chart, &vantage, &self.set, conditions, &frame, afloat)?;
        let picture = match picture {
            Picture::Plan(plan) => {
                let cells = hidden.bias.degrees() * CELLS.1 as f64 / 360.0;
                Picture::Plan(plan.turned(cells.round() as isize))
            }
            Picture::Trace(trace) => Picture::Trace(trace),
        };
        Ok(Scan { time, heading: heading.turned(hidden.bias), bank, picture })
    }

    /// Own heading as the compass has it, and own bank as the horizon has it, at a time: what a trainee
    /// may read at any moment.
    pub fn compass(&self, time: Timestamp) -> (Bearing<True>, Angle) {
        let Moment { heading, bank, .. } = self.hidden.path.at(time);
        (heading.turned(self.hidden.bias), bank)
    }

    /// The sightings of one who has measured nothing yet.
    pub fn sightings(&self) -> Sightings {
        let radar = Radar {
            set: self.set.clone(),
            set_name: self.set_name.clone(),
            range_sigma_nm: None,
            bearing_sigma_deg: None,
        };
        let mut sightings = Sightings::new(self.reckoning.clone(), self.own.clone(), radar);
        sightings.landfall = Some(self.landfall);
        sightings
    }

    /// What is told, as the beginning of a sightings file: contacts and `[declare]` go below it.
    pub fn as_file(&self) -> String {
        let Reckoning { time, position, track, speed, .. } = &self.reckoning;
        let sigma_m = self.reckoning.covariance.sigma_towards(Bearing::ZERO);
        let mut text = format!(
            "[reckoning]\ntime = \"{time}\"\nposition = \"{:.6},{:.6}\"\nsigma_nm = {:.2}\n",
            position.latitude(),
            position.longitude(),
            sigma_m / METRES_PER_NAUTICAL_MILE,
        );
        if let Some((track, speed)) = track.zip(*speed) {
            let _ = writeln!(
                text,
                "track_deg = {:.1}\nspeed_kn = {:.1}\ntrack_sigma_deg = {:.1}\nspeed_sigma_kn = {:.1}",
                track.degrees(),
                speed.knots(),
                self.reckoning.track_sigma.degrees(),
                self.reckoning.speed_sigma.knots()
            );
        }
        let heading = self.own.heading.map_or(0.0, Bearing::degrees);
        let _ = writeln!(
            text,
            "\n[own]\nheight_ft = {:.0}\nheading_deg = {heading:.1}\nheading_kind = \"true\"\n\
             heading_sigma_deg = {:.1}\n\n[radar]\nset = {}\n\n[landfall]\nposition = \"{:.6},{:.6}\"",
            self.own.height.feet(),
            self.own.heading_sigma.degrees(),
            toml::Value::String(self.set_name.clone()),
            self.landfall.latitude(),
            self.landfall.longitude(),
        );
        text
    }
}
