//! The account as a page that stands by itself: no script, nothing fetched.

use std::fmt::Write;

use super::markdown::sentence;
use super::sheet::{Plot, drawing};
use super::{Told, markup, sections};
use crate::units::Clock;

/// Colours of Okabe and Ito's palette, safe for colour-blind eyes (Color Universal Design, 2008, from
/// memory).
const STYLE: &str = "
body { font: 15px/1.45 system-ui, sans-serif; max-width: 60em; margin: 2em auto; padding: 0 1em;
       color: #1a1a1a; background: #fff; }
h1 { font-size: 1.6em; } h2 { font-size: 1.15em; margin-top: 2em; border-bottom: 1px solid #999; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
th, td { text-align: left; vertical-align: top; padding: .2em .6em .2em 0;
         border-bottom: 1px solid #ddd; overflow-wrap: anywhere; }
th { white-space: nowrap; } .wide { overflow-x: auto; }
.caution { border: 2px solid #d55e00; padding: .6em 1em; }
svg { width: 100%; height: auto; border: 1px solid #999; margin: .6em 0; }
svg text { font: 12px system-ui, sans-serif; fill: #1a1a1a; }
svg polyline { fill: none; } .sea { fill: #f4f9fc; } .coast { stroke: #555; }
.smoothed { stroke: #0072b2; stroke-width: 2; } .reckoned { stroke: #777; stroke-dasharray: 5 4; }
circle { stroke: none !important; } circle.fix { fill: #0072b2; } polyline.fix { stroke: #0072b2; }
circle.contact { fill: #009e73; } circle.echo { fill: #d55e00; } polyline.echo { stroke: #d55e00; }
circle.missed { fill: #cc79a7; } .off { stroke: #e69f00; } .scale { stroke: #1a1a1a; stroke-width: 2; }
.grid { stroke: #ddd; } polyline.found { stroke: #e69f00; } circle.found { fill: #e69f00; }
polyline.now { stroke: #0072b2; } circle.now { fill: #0072b2; }
polyline.used { stroke: #777; } circle.used { fill: #777; }
@media print { body { margin: 0; max-width: none; font-size: 11px; } h2 { break-after: avoid; }
  tr, svg { break-inside: avoid; } }
";

/// The page.
pub fn html(told: &Told<'_>) -> String {
    let mut page = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width\">\n<title>Debrief of {0}</title>\n\
         <style>{STYLE}</style>\n</head>\n<body>\n<h1>Debrief</h1>\n\
         <p class=\"caution\">{1}</p>\n",
        markup(told.log),
        markup(told.caution)
    );
    for section in sections(told) {
        if section.title != "DEBRIEF" {
            let _ = writeln!(page, "<h2>{}</h2>", markup(&sentence(section.title)));
        }
        if !section.lines.is_empty() {
            page.push_str("<ul>\n");
            for line in &section.lines {
                let _ = writeln!(page, "<li>{}</li>", markup(line));
            }
            page.push_str("</ul>\n");
        }
        if section.title == "DEBRIEF" {
            page.push_str(&figures(told));
        }
        if !section.rows.is_empty() {
            page.push_str("<div class=\"wide\"><table>\n<tr>");
            for head in &section.head {
                let _ = write!(page, "<th>{}</th>", markup(head));
            }
            page.push_str("</tr>\n");
            for row in &section.rows {
                page.push_str("<tr>");
                for cell in row {
                    let _ = write!(page, "<td>{}</td>", markup(cell));
                }
                page.push_str("</tr>\n");
            }
            page.push_str("</table></div>\n");
        }
        for note in &section.notes {
            let _ = writeln!(page, "<p>{}</p>", markup(note));
        }
    }
    page.push_str("</body>\n</html>\n");
    page
}

/// The drawing and the plots.
fn figures(told: &Told<'_>) -> String {
    let debrief = told.debrief;
    let mut figures = drawing(told);
    if !figures.is_empty() {
        figures.push_str(
            "<p>Blue: the smoothed track and fixes with their 95 % ellipses; grey dashes: reckoned \
             alone; orange lines: from the reckoning to the fix; green: contacts; red: echoes that no \
             chart explains; pink: marks never reported.</p>\n",
        );
    }
    let clock = Clock::from_first(debrief.fixes.first().map(|fix| fix.time));
    let ticks = debrief.fixes.iter().map(|fix| (seconds(fix.time), clock.tell(fix.time))).collect();
    let off = debrief.fixes.iter().filter_map(|fix| {
        Some((seconds(fix.time), fix.dr_error.as_ref()?.distance.nautical_miles()))
    });
    let plot = Plot {
        title: "Reckoning off at each fix",
        unit: "NM",
        lines: vec![("DR off", "found", off.collect())],
        ticks,
    };
    figures.push_str(&plot.draw());
    let ticks = debrief.drift.iter().map(|d| (seconds(d.time), clock.tell(d.time))).collect();
    let found = debrief.drift.iter().map(|d| (seconds(d.time), size(d.beside_kn)));
    let now = debrief
        .drift
        .iter()
        .filter_map(|d| d.smoothed.map(|(mean, _)| (seconds(d.time), size(mean))));
    let plot = Plot {
        title: "Wind or stream beside that used",
        unit: "kn",
        lines: vec![
            ("found at the fix", "found", found.collect()),
            ("known afterwards", "now", now.collect()),
        ],
        ticks,
    };
    figures.push_str(&plot.draw());
    figures
}

fn seconds(time: jiff::Timestamp) -> f64 {
    time.as_second() as f64
}

fn size([east, north]: [f64; 2]) -> f64 {
    east.hypot(north)
}
