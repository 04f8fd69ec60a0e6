use crate::geodesy::Position;
use crate::radar::{EffectiveEarth, Rain};
use crate::units::{Bearing, Height, True};

/// Where the antenna is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vantage {
    /// On the chart.
    pub position: Position,
    /// Above mean sea level.
    pub height: Height,
    /// Own heading, where relative bearings are wanted, or lobes look ahead.
    pub heading: Option<Bearing<True>>,
}

/// What lies between the antenna and the coast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conditions {
    /// 0 to 6, as [`crate::radar::MOST_SEA_STATE`] has it.
    pub sea_state: u8,
    /// Rain, and where it falls.
    pub rain: Rain,
    /// How much the ray bends.
    pub earth: EffectiveEarth,
}

impl Default for Conditions {
    /// Sea state 2, no rain, the standard atmosphere.
    fn default() -> Self {
        Self { sea_state: 2, rain: Rain::NONE, earth: EffectiveEarth::standard() }
    }
}
