//! What a GeoTIFF says of its heights in the text of its makers' own tag.

use std::io::{Read, Seek};

use tiff::decoder::Decoder;
use tiff::tags::Tag;

use crate::text::shortened;

/// The tag of GDAL's metadata: XML of items, `<Item name="…" sample="0" role="scale">0.1</Item>` among them
/// (the library's documentation, from memory).
const METADATA: Tag = Tag::Unknown(42_112);

/// So many bytes of it are looked through: what is said of the heights takes a few hundred.
const MOST_READ: u64 = 1 << 20;

/// So many characters of an item are told.
const MOST_TOLD: usize = 40;

/// How far from one a scale may be, and from nothing an offset in metres: figures that have been through
/// text differ in their last digits.
const ROUNDING: f64 = 1e-6;

/// Units that are metres, in small letters; nothing said is metres too.
const METRES: [&str; 6] = ["", "m", "metre", "metres", "meter", "meters"];

/// The text of the tag; empty where there is none, or it cannot be read.
pub(super) fn metadata<R: Read + Seek>(decoder: &mut Decoder<R>) -> String {
    let mut ifd = decoder.image_ifd();
    let count = ifd.find_entry(METADATA).map_or(0, |entry| entry.count().min(MOST_READ));
    let mut bytes = vec![0; usize::try_from(count).unwrap_or(0)];
    match ifd.find_tag_bytes(METADATA, &mut bytes, 0) {
        Ok(Some(_)) => String::from_utf8_lossy(&bytes).trim_end_matches('\0').to_owned(),
        _ => String::new(),
    }
}

/// Why the numbers of the file are not heights in metres as they stand, by its metadata; `None` where
/// nothing there says so. What cannot be made out says nothing.
pub(super) fn not_metres(metadata: &str) -> Option<String> {
    items(metadata).find_map(|(role, value)| {
        let figure: Option<f64> = value.parse().ok();
        // Whatever is no number at all is not near either.
        let is_near = |figure: f64, known: f64| (figure - known).abs() <= ROUNDING;
        let told = || shortened(value, MOST_TOLD);
        match role.to_ascii_lowercase().as_str() {
            "scale" if figure.is_some_and(|scale| !is_near(scale, 1.0)) => {
                Some(format!("has its heights scaled: scale {}", told()))
            }
            "offset" if figure.is_some_and(|offset| !is_near(offset, 0.0)) => {
                Some(format!("has its heights scaled: offset {}", told()))
            }
            "unittype" if !is_metres(value) => {
                Some(format!("has its heights in another unit than metres (\"{}\")", told()))
            }
            _ => None,
        }
    })
}

/// Whether a unit is the metre, whatever else is said of it: `m AMSL`.
fn is_metres(unit: &str) -> bool {
    let first = unit.split_whitespace().next().unwrap_or_default().to_lowercase();
    METRES.contains(&first.as_str())
}

/// Role and text of each item that has a role.
fn items(xml: &str) -> impl Iterator<Item = (&str, &str)> {
    // A `<` stands for nothing but the start of a tag, and so ends the text of the one before.
    xml.split('<').skip(1).filter_map(item)
}

/// Of one item, without its first `<`.
fn item(piece: &str) -> Option<(&str, &str)> {
    let (name, mut rest) = piece.split_at_checked(4)?;
    let is_item =
        name.eq_ignore_ascii_case("item") && rest.starts_with(|c: char| c.is_ascii_whitespace());
    if !is_item {
        return None;
    }
    let mut role = None;
    loop {
        rest = rest.trim_start();
        if let Some(text) = rest.strip_prefix('>') {
            return Some((role?, text.trim()));
        }
        let (key, after) = rest.split_once('=')?;
        let after = after.trim_start();
        let quote = after.chars().next().filter(|c| matches!(c, '"' | '\''))?;
        let (value, after) = after.get(1..)?.split_once(quote)?;
        if key.trim().eq_ignore_ascii_case("role") {
            role = Some(value);
        }
        rest = after;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(item: &str) -> Option<String> {
        not_metres(&format!("<GDALMetadata>\n  {item}\n</GDALMetadata>\n"))
    }

    #[test]
    fn what_makes_other_than_metres_of_the_numbers_is_told() {
        for (item, told) in [
            (
                r#"<Item name="UNITTYPE" sample="0" role="unittype">ft</Item>"#,
                r#"has its heights in another unit than metres ("ft")"#,
            ),
            (
                "<item role = 'UnitType'\tname='UNITTYPE'> US survey foot </item>",
                r#"has its heights in another unit than metres ("US survey foot")"#,
            ),
            (
                r#"<Item name="SCALE" sample="0" role="scale">0.1</Item>"#,
                "has its heights scaled: scale 0.1",
            ),
            (
                r#"<ITEM ROLE="offset" NAME="a > b">-32768</ITEM>"#,
                "has its heights scaled: offset -32768",
            ),
            (r#"<Item role="scale">nan</Item>"#, "has its heights scaled: scale nan"),
        ] {
            assert_eq!(of(item).as_deref(), Some(told), "{item}");
        }
    }

    #[test]
    fn what_says_metres_or_nothing_of_heights_is_let_past() {
        for item in [
            "",
            r#"<Item name="UNITTYPE" sample="0" role="unittype">Metre</Item>"#,
            r#"<Item name="UNITTYPE" sample="0" role="unittype">m</Item>"#,
            r#"<Item name="UNITTYPE" sample="0" role="unittype"></Item>"#,
            r#"<Item name="SCALE" sample="0" role="scale">1.000000000000000</Item>"#,
            r#"<Item name="OFFSET" sample="0" role="offset">-0</Item>"#,
            r#"<Item name="DESCRIPTION" sample="0" role="description">feet</Item>"#,
            r#"<Item name="scale">0.1</Item>"#,
            r#"<Items role="scale">0.1</Items>"#,
            r#"<Item role="scale">one tenth</Item>"#,
            r#"<Item role="scale"#,
            r"<Item role=scale>0.1</Item>",
            "<Item =\"",
            "<It\u{e9}m role=\"scale\">0.1",
            "< < <é<éé",
        ] {
            assert_eq!(of(item), None, "{item}");
        }
    }
}
