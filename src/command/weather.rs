//! The weather and the air on the command line, alike for every command that predicts.

use std::ops::RangeInclusive;

use clap::Args;

use super::failure::Failure;
use super::figures::{number, range, within};
use crate::paint::Conditions;
use crate::radar::{EffectiveEarth, MOST_SEA_STATE, Rain};
use crate::units::GroundRange;

/// The gradients of refractivity that may be asked for, N units for each kilometre up: wider than
/// any that is measured over more than a few metres.
const GRADIENT_N_KM: RangeInclusive<f64> = -1000.0..=1000.0;

/// The heaviest rain taken, in millimetres an hour: more than falls anywhere for long.
const MOST_RAIN_MM_H: f64 = 250.0;

/// Sea, rain and refraction.
#[derive(Debug, Clone, Args)]
pub(super) struct WeatherArgs {
    /// Sea state, 0 to 6
    #[arg(long, value_name = "S", default_value = "2", allow_hyphen_values = true,
          value_parser = sea_state)]
    sea_state: u8,
    /// Rain, millimetres an hour: over the whole path where no extent is given
    #[arg(long, value_name = "P", default_value = "0", allow_hyphen_values = true,
          value_parser = rain)]
    rain_mm_h: f64,
    /// The rain begins at this distance, nautical miles
    #[arg(long, value_name = "NM", allow_hyphen_values = true, requires = "rain_mm_h",
          value_parser = range)]
    rain_from_nm: Option<GroundRange>,
    /// The rain ends at this distance, nautical miles
    #[arg(long, value_name = "NM", allow_hyphen_values = true, requires = "rain_mm_h",
          value_parser = range)]
    rain_to_nm: Option<GroundRange>,
    /// Refraction: the Earth's radius is taken this many times as great; 4/3 where not given
    #[arg(long, value_name = "K", allow_hyphen_values = true, value_parser = k_factor)]
    k_factor: Option<EffectiveEarth>,
    /// Refraction in place of a k: how refractivity changes with height, N units for each
    /// kilometre up, -1000 to 1000; -39 is usual, from -157 on rays are ducted
    #[arg(long, value_name = "G", allow_hyphen_values = true, conflicts_with = "k_factor",
          value_parser = gradient)]
    gradient_n_km: Option<EffectiveEarth>,
}

impl WeatherArgs {
    /// As the engine takes them.
    ///
    /// # Errors
    /// Rain that ends before it begins.
    pub fn conditions(&self) -> Result<Conditions, Failure> {
        Ok(Conditions {
            sea_state: self.sea_state,
            rain: rain_of(self.rain_mm_h, self.rain_from_nm, self.rain_to_nm)?,
            earth: self.k_factor.or(self.gradient_n_km).unwrap_or_default(),
        })
    }
}

/// The rain asked for, and where it falls.
fn rain_of(mm_h: f64, from: Option<GroundRange>, to: Option<GroundRange>) -> Result<Rain, Failure> {
    let everywhere = Rain::everywhere(mm_h);
    let asked = Rain {
        from: from.unwrap_or(everywhere.from),
        to: to.unwrap_or(everywhere.to),
        ..everywhere
    };
    if asked.to <= asked.from {
        let told = format!(
            "the rain ends at {} NM, which is not past its beginning at {} NM",
            asked.to.nautical_miles(),
            asked.from.nautical_miles()
        );
        return Err(Failure::input(told).with_help("give --rain-to-nm more than --rain-from-nm"));
    }
    Ok(asked)
}

fn sea_state(text: &str) -> Result<u8, String> {
    match text.parse::<u8>() {
        Ok(state) if state <= MOST_SEA_STATE => Ok(state),
        _ => Err(format!("give a whole number from 0 to {MOST_SEA_STATE}")),
    }
}

fn rain(text: &str) -> Result<f64, String> {
    within(text, 0.0..=MOST_RAIN_MM_H, "mm/h")
}

fn k_factor(text: &str) -> Result<EffectiveEarth, String> {
    EffectiveEarth::with_k(number(text)?).map_err(|error| error.to_string())
}

fn gradient(text: &str) -> Result<EffectiveEarth, String> {
    let n_per_km = within(text, GRADIENT_N_KM, "N/km")?;
    EffectiveEarth::with_gradient(n_per_km).map_err(|error| error.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_out_of_bounds_is_refused_in_words() {
        assert!(k_factor("0").unwrap_err().contains("is not above 0"));
        assert_eq!(gradient("-1001"), Err("-1001 is outside -1000 to 1000 N/km".to_owned()));
        assert!(gradient("-157").is_ok());
        assert!(sea_state("7").is_err() && sea_state("0") == Ok(0));
        assert!(rain("-1").is_err());
    }
}
