//! What a chart says of itself, as bytes: marks, errors, cautions and survey.

use crate::chart::accuracy::Accuracy;
use crate::chart::bytes::{Damage, Decoder, Encoder};
use crate::chart::coast::{read_box, write_box};
use crate::chart::cover::Terrain;
use crate::chart::marks::{Mark, MarkKind};
use crate::chart::survey::{
    Disagreement, GridHeights, GridSurvey, LayerSurvey, Survey, WithoutGrid,
};
use crate::geodesy::Position;
use crate::text::plain;
use crate::units::{GroundRange, Height};

const KINDS: [MarkKind; 8] = [
    MarkKind::Headland,
    MarkKind::Islet,
    MarkKind::Peak,
    MarkKind::Light,
    MarkKind::Town,
    MarkKind::Tower,
    MarkKind::Buoy,
    MarkKind::Other,
];

fn range(input: &mut Decoder<'_>) -> Result<GroundRange, Damage> {
    GroundRange::from_metres(input.f64()?).map_err(|_| Damage::new("a distance in it is none"))
}

fn height(input: &mut Decoder<'_>) -> Result<Height, Damage> {
    Height::from_metres(input.f64()?).map_err(|_| Damage::new("a height in it is none"))
}

pub(super) fn write_mark(out: &mut Encoder, (number, mark): &(u64, &Mark)) {
    out.u64(*number);
    out.text(&mark.name);
    out.flag(mark.named);
    out.u8(KINDS.iter().position(|kind| *kind == mark.kind).unwrap_or(KINDS.len()) as u8);
    out.f64(mark.position.latitude());
    out.f64(mark.position.longitude());
    out.f64(mark.height.metres());
    out.f64(mark.extent.metres());
    out.f64(mark.sigma.metres());
    out.f64(mark.salience);
}

pub(super) fn read_mark(input: &mut Decoder<'_>) -> Result<(u64, Mark), Damage> {
    let (number, name, named) = (input.u64()?, words(input)?, input.flag()?);
    let kind = KINDS.get(usize::from(input.u8()?)).copied();
    let kind = kind.ok_or_else(|| Damage::new("a kind of mark in it is none"))?;
    let place = Position::new(input.f64()?, input.f64()?);
    let position = place.map_err(|_| Damage::new("a place in it is none"))?;
    let (height, extent, sigma) = (height(input)?, range(input)?, range(input)?);
    let salience = input.finite()?;
    Ok((number, Mark { name, named, kind, position, height, extent, sigma, salience }))
}

pub(super) fn write_accuracy(out: &mut Encoder, accuracy: &Accuracy) {
    out.f64(accuracy.point_sigma.metres());
    out.f64(accuracy.shift_sigma.metres());
}

pub(super) fn read_accuracy(input: &mut Decoder<'_>) -> Result<Accuracy, Damage> {
    Ok(Accuracy { point_sigma: range(input)?, shift_sigma: range(input)? })
}

pub(super) fn write_texts(out: &mut Encoder, texts: &[String]) {
    out.list(texts, |out, text| out.text(text));
}

/// A text that is shown: nothing in it acts on a terminal, whatever the index holds.
pub(super) fn words(input: &mut Decoder<'_>) -> Result<String, Damage> {
    Ok(plain(&input.text()?))
}

pub(super) fn read_texts(input: &mut Decoder<'_>) -> Result<Vec<String>, Damage> {
    input.list(8, words)
}

pub(super) fn write_survey(out: &mut Encoder, survey: &Survey) {
    out.list(&survey.layers, write_layer);
    out.list(&survey.grids, write_grid);
    out.option(survey.disagreement.as_ref(), |out, apart| {
        out.f64(apart.median.metres());
        out.f64(apart.ninetieth.metres());
        out.count(apart.places);
    });
    out.option(survey.ground_outside.as_ref(), |out, share| out.f64(*share));
    out.option(survey.without_grid.as_ref(), |out, bare| {
        out.f64(bare.length_nm);
        out.f64(bare.share);
        write_box(out, &bare.extent);
    });
    write_texts(out, &survey.odd);
}

pub(super) fn read_survey(input: &mut Decoder<'_>) -> Result<Survey, Damage> {
    Ok(Survey {
        layers: input.list(40, read_layer)?,
        grids: input.list(40, read_grid)?,
        disagreement: input.option(|input| {
            Ok(Disagreement {
                median: range(input)?,
                ninetieth: range(input)?,
                places: input.count()?,
            })
        })?,
        ground_outside: input.option(Decoder::finite)?,
        without_grid: input.option(|input| {
            Ok(WithoutGrid {
                length_nm: input.finite()?,
                share: input.finite()?,
                extent: read_box(input)?,
            })
        })?,
        odd: read_texts(input)?,
    })
}

fn write_layer(out: &mut Encoder, layer: &LayerSurvey) {
    for text in [layer.file.as_str(), layer.role, layer.kind] {
        out.text(text);
    }
    for count in [layer.shapes, layer.empty, layer.parts, layer.vertices] {
        out.count(count);
    }
    out.option(layer.extent.as_ref(), write_box);
    write_texts(out, &layer.attributes);
    out.list(&layer.classes, |out, (class, count)| {
        out.text(class);
        out.count(*count);
    });
    out.option(layer.encoding.as_ref(), |out, text| out.text(text));
    out.text(&layer.projection);
    write_texts(out, &layer.odd);
}

fn read_layer(input: &mut Decoder<'_>) -> Result<LayerSurvey, Damage> {
    Ok(LayerSurvey {
        file: words(input)?,
        role: known(&input.text()?, &["coast", "relief", "marks", "cover"])?,
        kind: known(&input.text()?, &["points", "polylines", "polygons", "null shapes"])?,
        shapes: input.count()?,
        empty: input.count()?,
        parts: input.count()?,
        vertices: input.count()?,
        extent: input.option(read_box)?,
        attributes: read_texts(input)?,
        classes: input.list(16, |input| Ok((class(&input.text()?)?, input.count()?)))?,
        encoding: input.option(words)?,
        projection: words(input)?,
        odd: read_texts(input)?,
    })
}

/// The one of these words that was written.
fn known(text: &str, words: &[&'static str]) -> Result<&'static str, Damage> {
    let found = words.iter().find(|word| **word == text).copied();
    found.ok_or_else(|| Damage::new("a word in it is not known"))
}

fn class(text: &str) -> Result<&'static str, Damage> {
    match Terrain::from_word(text) {
        Some(terrain) => Ok(terrain.as_str()),
        None => known(text, &["no class"]),
    }
}

fn write_grid(out: &mut Encoder, grid: &GridSurvey) {
    out.text(&grid.file);
    for count in [grid.columns, grid.rows] {
        out.count(count);
    }
    out.f64(grid.step_deg);
    write_box(out, &grid.extent);
    out.option(grid.heights.as_ref(), |out, heights| {
        out.f64(heights.lowest.metres());
        out.f64(heights.highest.metres());
        out.count(heights.voids);
    });
}

fn read_grid(input: &mut Decoder<'_>) -> Result<GridSurvey, Damage> {
    Ok(GridSurvey {
        file: words(input)?,
        columns: input.count()?,
        rows: input.count()?,
        step_deg: input.finite()?,
        extent: read_box(input)?,
        heights: input.option(|input| {
            Ok(GridHeights {
                lowest: height(input)?,
                highest: height(input)?,
                voids: input.count()?,
            })
        })?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::is_plain;

    /// The bytes may be whole, and of the program's own, and still hold what its readers would have taken out.
    #[test]
    fn a_name_that_acts_on_a_terminal_is_read_as_plain_text() {
        let mark = Mark {
            name: "Gannet\u{1b}[2J Head\0".to_owned(),
            named: true,
            kind: MarkKind::Headland,
            position: Position::new(-38.0, -21.0).unwrap(),
            height: Height::SEA_LEVEL,
            extent: GroundRange::ZERO,
            sigma: GroundRange::ZERO,
            salience: 1.0,
        };
        let mut out = Encoder::default();
        write_mark(&mut out, &(7, &mark));
        write_texts(&mut out, std::slice::from_ref(&mark.name));
        let mut input = Decoder::new(out.bytes());
        let (number, read) = read_mark(&mut input).unwrap();
        assert_eq!((number, read.position), (7, mark.position));
        assert!(is_plain(&read.name) && read.name.starts_with("Gannet"), "{:?}", read.name);
        assert!(read_texts(&mut input).unwrap().iter().all(|text| is_plain(text)));
    }
}
