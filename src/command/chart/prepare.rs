use serde_json::json;

use crate::chart::{Opening, Prepared, Progress};
use crate::command::common::{Common, Format};
use crate::command::failure::Failure;
use crate::command::index_place;
use crate::command::progress::Line;

/// Writes the index of a chart and says where it is.
pub(super) fn run(common: &Common, beside: bool) -> Result<(), Failure> {
    common.some_chart()?;
    let place = index_place::to_write(&common.chart, beside)?;
    let prepared = {
        let line = Line::new(common.format == Format::Text);
        let tell = |progress: Progress<'_>| line.tell(progress);
        Opening::new(&common.chart).telling(&tell).prepare(&place)?
    };
    common.deliver(&match common.format {
        Format::Text => text(&prepared),
        Format::Json => json(&prepared),
    })
}

fn text(prepared: &Prepared) -> String {
    let Prepared { path, bytes, points, marks } = prepared;
    format!(
        "prepared: {points} points of coast, {marks} marks\n\
         index: {} ({:.1} MB)\n\
         It is used until a file of the chart changes; it may be deleted at any time.\n",
        path.display(),
        *bytes as f64 / 1e6
    )
}

/// The schema `foreland.chart-prepare/1`.
fn json(prepared: &Prepared) -> String {
    let Prepared { path, bytes, points, marks } = prepared;
    let answer = json!({"schema": "foreland.chart-prepare/1", "index": path.display().to_string(),
                        "bytes": bytes, "points": points, "marks": marks});
    format!("{answer:#}\n")
}
