use super::Echo;
use crate::contact::{Deflections, Part};
use crate::paint::Trace;

/// Cells of range over which a deflection is evened out to either side.
const EVEN_CELLS: usize = 1;

/// An echo ends where nothing shows for so many nautical miles.
const GAP_NM: f64 = 0.6;

/// What shows from nearer than this on is the sea about the craft, nautical miles.
const SEA_NM: f64 = 1.0;

/// A deflection is read to a tenth of a division, ten divisions to the stronger side.
const DIVISIONS: f64 = 10.0;

/// Every echo on a range trace: the range of its near edge, and its two deflections.
pub(super) fn echoes(trace: &Trace, pulse_nm: f64) -> Vec<Echo> {
    let bins = trace.frame().bins;
    let bin_nm = trace.scale_nm() / bins as f64;
    let port = even(bins, |bin| f64::from(trace.port().deflection(bin)));
    let starboard = even(bins, |bin| f64::from(trace.starboard().deflection(bin)));
    let shows = 10f64.powf(trace.threshold_db() / 20.0);
    let lit = |bin: usize| port[bin].hypot(starboard[bin]) >= shows * std::f64::consts::SQRT_2;
    let gap = (GAP_NM / bin_nm).ceil() as usize;
    let pulse = ((pulse_nm / bin_nm).round() as usize).max(1);
    let mut found = Vec::new();
    let mut bin = 0;
    while bin < bins {
        if !lit(bin) {
            bin += 1;
            continue;
        }
        let first = bin;
        let mut last = bin;
        while bin < bins && bin <= last + gap {
            if lit(bin) {
                last = bin;
            }
            bin += 1;
        }
        // What begins with the sweep is the sea.
        if last < first + 1 || (first as f64) * bin_nm < SEA_NM {
            continue;
        }
        // The near edge, as long as one pulse holds it: what comes later is other ground.
        let read = first..(first + pulse + EVEN_CELLS).min(bins);
        let heard = |side: &[f64]| {
            side[read.clone()].iter().map(|out| out * out).sum::<f64>().sqrt()
                / (read.len() as f64).sqrt()
        };
        let (p, s) = (heard(&port), heard(&starboard));
        let most = p.max(s).max(1e-9);
        let divisions = |side: f64| ((side / most * DIVISIONS * 10.0).round() / 10.0).max(0.1);
        found.push(Echo {
            range_nm: (first + EVEN_CELLS) as f64 * bin_nm,
            bearing_deg: None,
            deflections: Some(Deflections { port: divisions(p), starboard: divisions(s) }),
            part: Part::Near,
            weight: most / shows,
        });
    }
    found.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    found
}

fn even(bins: usize, deflection: impl Fn(usize) -> f64) -> Vec<f64> {
    (0..bins)
        .map(|bin| {
            let about = bin.saturating_sub(EVEN_CELLS)..(bin + EVEN_CELLS + 1).min(bins);
            let count = about.len() as f64;
            // Power is what evens out, not voltage.
            (about.map(|bin| deflection(bin).powi(2)).sum::<f64>() / count).sqrt()
        })
        .collect()
}
