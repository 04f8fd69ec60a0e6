use super::set::Polarisation;

/// One term of the curves of ITU-R P.838-3: height, place and width in log₁₀ of the frequency.
type Term = (f64, f64, f64);

/// Curves of k and α for one polarisation.
struct RainCurves {
    k: [Term; 4],
    k_slope: (f64, f64),
    alpha: [Term; 5],
    alpha_slope: (f64, f64),
}

/// ITU-R P.838-3, tables 1 and 3 (from memory, held to values of an independent library below).
const HORIZONTAL: RainCurves = RainCurves {
    k: [
        (-5.339_80, -0.100_08, 1.130_98),
        (-0.353_51, 1.269_70, 0.454_00),
        (-0.237_89, 0.860_36, 0.153_54),
        (-0.941_58, 0.645_52, 0.168_17),
    ],
    k_slope: (-0.189_61, 0.711_47),
    alpha: [
        (-0.143_18, 1.824_42, -0.551_87),
        (0.295_91, 0.775_64, 0.198_22),
        (0.321_77, 0.637_73, 0.131_64),
        (-5.376_10, -0.962_30, 1.478_28),
        (16.172_1, -3.299_80, 3.439_90),
    ],
    alpha_slope: (0.678_49, -1.955_37),
};

/// ITU-R P.838-3, tables 2 and 4 (likewise).
const VERTICAL: RainCurves = RainCurves {
    k: [
        (-3.805_95, 0.569_34, 0.810_61),
        (-3.449_65, -0.229_11, 0.510_59),
        (-0.399_02, 0.730_42, 0.118_99),
        (0.501_67, 1.073_19, 0.271_95),
    ],
    k_slope: (-0.163_98, 0.632_97),
    alpha: [
        (-0.077_71, 2.338_40, -0.762_84),
        (0.567_27, 0.955_45, 0.540_39),
        (-0.202_38, 1.145_20, 0.268_09),
        (-48.299_1, 0.791_669, 0.116_226),
        (48.583_3, 0.791_459, 0.116_479),
    ],
    alpha_slope: (-0.053_739, 0.834_33),
};

/// What rain takes from a wave, one way, in decibels per kilometre.
///
/// ITU-R P.838-3: γ = k·Rᵅ, k and α by its curves, for a level path. They begin at 1 GHz: below,
/// the figure for 1 GHz stands, which is nothing.
///
/// - `rain_mm_h`: the rain's rate. 4 mm/h is light rain and 16 mm/h heavy for IMO MSC.192(79).
///
/// Heavy rain at 9.4 GHz, level polarisation (value of an independent library):
/// ```
/// # use foreland::radar::{Polarisation, rain_loss_db_per_km};
/// let loss = rain_loss_db_per_km(16.0, 9_400.0, Polarisation::Horizontal);
/// assert!((loss - 0.330_961).abs() < 0.001);
/// ```
pub fn rain_loss_db_per_km(rain_mm_h: f64, frequency_mhz: f64, polarisation: Polarisation) -> f64 {
    if rain_mm_h <= 0.0 {
        return 0.0;
    }
    let (k, alpha) = rain_power_law(frequency_mhz, polarisation);
    k * rain_mm_h.powf(alpha)
}

fn rain_power_law(frequency_mhz: f64, polarisation: Polarisation) -> (f64, f64) {
    let curves = match polarisation {
        Polarisation::Horizontal => &HORIZONTAL,
        Polarisation::Vertical => &VERTICAL,
    };
    let x = (frequency_mhz / 1e3).max(1.0).log10();
    let sum = |terms: &[Term], slope: (f64, f64)| {
        let bells = terms.iter().map(|(a, b, c)| a * (-((x - b) / c).powi(2)).exp());
        bells.sum::<f64>() + slope.0 * x + slope.1
    };
    (10f64.powf(sum(&curves.k, curves.k_slope)), sum(&curves.alpha, curves.alpha_slope))
}

/// Frequency in gigahertz and loss in decibels per kilometre: ITU-R P.676-12 at 1013.25 hPa,
/// 288.15 K and 7.5 g/m³, line by line (values of an independent library).
const GAS: [(f64, f64); 4] =
    [(3.0, 0.007_539), (9.4, 0.013_258), (10.0, 0.014_199), (22.235, 0.192_271)];

/// Where oxygen's own absorption sets in, in gigahertz: the width of its Debye spectrum in
/// ITU-R P.676 (from memory).
const OXYGEN_ONSET_GHZ: f64 = 0.567;

/// What dry air and vapour take from a wave near the sea, one way, in decibels per kilometre.
///
/// Between the frequencies at which ITU-R P.676-12 was worked out (3, 9.4, 10 and 22.235 GHz), by a
/// straight line in the logarithms; above them, as at the highest; below, as oxygen's Debye
/// spectrum falls, f²/(f² + d²).
///
/// There and back over 20 NM at 9.4 GHz, 0.98 dB (computed):
/// ```
/// # use foreland::radar::gas_loss_db_per_km;
/// assert!((gas_loss_db_per_km(9_400.0) * 2.0 * 20.0 * 1.852 - 0.98).abs() < 0.01);
/// ```
pub fn gas_loss_db_per_km(frequency_mhz: f64) -> f64 {
    let f = frequency_mhz / 1e3;
    let [(lowest, at_lowest), .., (_, at_highest)] = GAS;
    if f < lowest {
        let debye = |f: f64| f * f / (f * f + OXYGEN_ONSET_GHZ * OXYGEN_ONSET_GHZ);
        return at_lowest * debye(f) / debye(lowest);
    }
    let pairs = GAS.iter().zip(GAS.iter().skip(1));
    for (&(f1, g1), &(f2, g2)) in pairs {
        if f <= f2 {
            let share = (f / f1).ln() / (f2 / f1).ln();
            return g1 * (g2 / g1).powf(share);
        }
    }
    at_highest
}

#[cfg(test)]
mod tests {
    use super::*;

    const H: Polarisation = Polarisation::Horizontal;
    const V: Polarisation = Polarisation::Vertical;

    #[test]
    fn rain_power_law_at_five_frequencies() {
        // P.838-3 by an independent library (itur 0.4.0): GHz, kH, αH, kV, αV.
        let table = [
            (1.0, 0.000_025_9, 0.9691, 0.000_030_8, 0.8592),
            (3.0, 0.000_139_0, 1.2322, 0.000_194_2, 1.0688),
            (9.0, 0.007_535, 1.3155, 0.006_691, 1.2895),
            (9.4, 0.009_254, 1.2901, 0.008_360, 1.2574),
            (10.0, 0.012_17, 1.2571, 0.011_29, 1.2156),
        ];
        for (ghz, k_h, alpha_h, k_v, alpha_v) in table {
            for (polarisation, k, alpha) in [(H, k_h, alpha_h), (V, k_v, alpha_v)] {
                let found = rain_power_law(ghz * 1e3, polarisation);
                assert!((found.0 / k - 1.0).abs() < 3e-3, "{ghz} {polarisation:?} {found:?}");
                assert!((found.1 - alpha).abs() < 1e-4, "{ghz} {polarisation:?} {found:?}");
            }
        }
    }

    #[test]
    fn rain_losses() {
        // P.838-3 by the same library, dB/km: mm/h, then 3, 9.4, 10 GHz level and upright.
        let table = [
            (1.0, [0.000_139, 0.009_254, 0.012_167, 0.000_194, 0.008_360, 0.011_292]),
            (4.0, [0.000_767, 0.055_342, 0.069_507, 0.000_855, 0.047_781, 0.060_906]),
            (16.0, [0.004_233, 0.330_961, 0.397_081, 0.003_760, 0.273_086, 0.328_510]),
            (25.0, [0.007_336, 0.588_608, 0.695_872, 0.006_059, 0.478_644, 0.565_151]),
            (50.0, [0.017_233, 1.439_422, 1.663_232, 0.012_709, 1.144_285, 1.312_533]),
        ];
        let columns = [(3e3, H), (9.4e3, H), (10e3, H), (3e3, V), (9.4e3, V), (10e3, V)];
        for (rain, row) in table {
            for ((mhz, polarisation), expected) in columns.into_iter().zip(row) {
                let found = rain_loss_db_per_km(rain, mhz, polarisation);
                // Half a unit of the last digit printed, or a part in a thousand.
                assert!((found - expected).abs() < 1e-3 * expected + 6e-7, "{rain} {mhz} {found}");
            }
        }
        assert!(rain_loss_db_per_km(0.0, 9.4e3, H).abs() < 1e-12);
    }

    #[test]
    fn gas_losses() {
        // P.676-12 by the same library; 2 % is what the reading of the pressure moves them by.
        for (ghz, expected) in GAS {
            assert!((gas_loss_db_per_km(ghz * 1e3) / expected - 1.0).abs() < 0.02);
        }
        assert!(gas_loss_db_per_km(200.0) < 0.001);
        assert!((gas_loss_db_per_km(30_000.0) - 0.192_271).abs() < 1e-9);
    }
}
