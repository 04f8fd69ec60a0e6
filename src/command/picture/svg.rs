//! A sheet as SVG: lines and words as such, cells of light as a picture within it.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use svg::Document;
use svg::node::element::{Circle, Image, Line, Rectangle, Text, Title};

use super::png;
use super::sheet::{Anchor, Shape, Sheet, Tone};
use crate::command::failure::Failure;

/// Draws a sheet.
///
/// # Errors
/// A fault of the program: the library refuses.
pub fn draw(sheet: &Sheet) -> Result<String, Failure> {
    let mut document = Document::new()
        .set("width", sheet.width)
        .set("height", sheet.height)
        .set("viewBox", (0, 0, sheet.width, sheet.height))
        .add(Title::new(sheet.title.as_str()))
        .add(Rectangle::new().set("width", "100%").set("height", "100%").set("fill", "#000000"));
    if let Some(cells) = &sheet.cells {
        let data = STANDARD.encode(png::of_cells(cells)?);
        document = document.add(
            Image::new()
                .set("x", cells.at.0)
                .set("y", cells.at.1)
                .set("width", cells.width)
                .set("height", cells.height)
                .set("href", format!("data:image/png;base64,{data}")),
        );
    }
    for shape in &sheet.shapes {
        document = match shape {
            Shape::Circle { centre, radius, tone } => document.add(
                Circle::new()
                    .set("cx", tenth(centre.0))
                    .set("cy", tenth(centre.1))
                    .set("r", tenth(*radius))
                    .set("fill", "none")
                    .set("stroke", colour(*tone)),
            ),
            Shape::Line { from, to, tone } => document.add(
                Line::new()
                    .set("x1", tenth(from.0))
                    .set("y1", tenth(from.1))
                    .set("x2", tenth(to.0))
                    .set("y2", tenth(to.1))
                    .set("stroke", colour(*tone)),
            ),
            Shape::Text { at, anchor, words, tone } => document.add(
                Text::new(words.as_str())
                    .set("x", tenth(at.0))
                    .set("y", tenth(at.1))
                    .set("text-anchor", anchored(*anchor))
                    .set("dominant-baseline", "middle")
                    .set("font-family", "monospace")
                    .set("font-size", 12)
                    .set("fill", colour(*tone)),
            ),
        };
    }
    Ok(document.to_string() + "\n")
}

/// A tenth of a pixel is all that can be seen.
fn tenth(pixels: f64) -> f64 {
    (pixels * 10.0).round() / 10.0
}

fn colour(tone: Tone) -> String {
    let [red, green, blue] = tone.rgb();
    format!("#{red:02x}{green:02x}{blue:02x}")
}

fn anchored(anchor: Anchor) -> &'static str {
    match anchor {
        Anchor::Start => "start",
        Anchor::Middle => "middle",
        Anchor::End => "end",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_cannot_break_out_of_the_words() {
        let sheet = Sheet {
            title: "a <b> & \"c\"".to_owned(),
            width: 10,
            height: 10,
            cells: None,
            shapes: vec![Shape::Text {
                at: (1.0, 2.0),
                anchor: Anchor::End,
                words: "</text><script>".to_owned(),
                tone: Tone::Words,
            }],
        };
        let text = draw(&sheet).unwrap();
        assert!(!text.contains("<script>") && text.contains("&lt;script"), "{text}");
        assert!(!text.contains("<b>"), "{text}");
    }
}
