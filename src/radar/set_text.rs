use std::fmt::Write as _;

use super::set::Set;

/// A set as the text of its file.
pub(super) fn write(set: &Set) -> String {
    let mut text = String::new();
    let name = set.name.replace('\\', "\\\\").replace('"', "\\\"");
    let figures = [
        ("peak_power_kw", Some(set.peak_power_kw)),
        ("antenna_gain_dbi", Some(set.antenna_gain_dbi)),
        ("beam_width_deg", Some(set.beam_width_deg)),
        ("elevation_beam_deg", Some(set.elevation_beam_deg)),
        ("cosecant_to_deg", set.cosecant_to_deg),
        ("pulse_us", Some(set.pulse_us)),
        ("pulse_rate_hz", Some(set.pulse_rate_hz)),
        ("scan_rpm", set.scan_rpm),
        ("noise_figure_db", Some(set.noise_figure_db)),
        ("losses_db", Some(set.losses_db)),
    ];
    let errors = [
        ("min_range_nm", set.min_range_nm),
        ("range_sigma_nm", set.range_sigma_nm),
        ("range_sigma_share", set.range_sigma_share),
        ("bearing_sigma_deg", set.bearing_sigma_deg),
    ];
    let scales: Vec<String> = set.scales_nm.iter().map(ToString::to_string).collect();
    // Writing to a string cannot fail.
    let _ = writeln!(text, "name = \"{name}\"\nkind = \"{}\"", set.kind.as_str());
    let _ = writeln!(text, "frequency_mhz = {}", set.frequency_mhz);
    let _ = writeln!(text, "polarisation = \"{}\"", set.polarisation.as_str());
    for (key, value) in figures {
        if let Some(value) = value {
            let _ = writeln!(text, "{key} = {value}");
        }
    }
    let _ = writeln!(text, "scales_nm = [{}]", scales.join(", "));
    for (key, value) in errors {
        let _ = writeln!(text, "{key} = {value}");
    }
    if let Some((least, most)) = set.usable_height_ft {
        let _ = writeln!(text, "usable_height_ft = [{least}, {most}]");
    }
    if let Some(lobes) = &set.lobes {
        let _ = writeln!(text, "[lobes]\nsquint_deg = {}", lobes.squint_deg);
        let _ = writeln!(text, "width_deg = {}", lobes.width_deg);
        let _ = writeln!(text, "ratio_sigma_db = {}", lobes.ratio_sigma_db);
        let _ = writeln!(text, "back_db = {}", lobes.back_db);
    }
    text
}
