//! What the radar in use can do.
//!
//! Comes in: a [`Set`], its figures from a file or built in; heights; the weather. Goes out: how
//! far it can look over the curve of the Earth ([`EffectiveEarth`]), how a slant range turns into
//! a distance on the chart ([`geometry`]), how strong an echo of a given size is
//! ([`Set::signal_to_noise_db`]), what the sea sends back ([`sea_clutter_db`]) and ground by its
//! class ([`terrain_gamma_db`]), what rain and air take ([`rain_loss_db_per_km`],
//! [`gas_loss_db_per_km`]), what [`Rain`] itself sends back ([`rain_clutter_per_m`]), what arrives
//! behind an edge ([`knife_edge_loss_db`]) or past the horizon ([`SmoothSea`]), the chance that an
//! echo shows ([`Detector`]), and what two fixed lobes tell of a bearing ([`Lobes`]). It knows no
//! chart, only what classes of ground there are: the coast comes in `paint`.

mod detection;
mod diffraction;
mod equation;
pub mod geometry;
mod horizon;
mod land;
mod lobes;
mod rain;
mod sea;
mod set;
mod set_file;
mod set_text;
mod weather;

pub use detection::Detector;
pub use diffraction::{
    SmoothSea, knife_edge_both_ways, knife_edge_loss_db, knife_edge_sum, knife_edge_v,
};
pub use equation::NOISE_POWER_DBW_PER_HZ;
pub use horizon::{EffectiveEarth, Refraction, RefractionError};
pub use land::{land_clutter_db, terrain_gamma_db};
pub use lobes::{LobeBearing, LobeRatio, Lobes};
pub use rain::{RAIN_TOP_M, Rain, rain_clutter_per_m};
pub use sea::{MOST_SEA_STATE, sea_clutter_db};
pub use set::{Polarisation, Set, SetKind};
pub use set_file::{SetError, SetFault};
pub use weather::{gas_loss_db_per_km, rain_loss_db_per_km};
