//! How an index begins: what it is, its version, and where its table of contents lies.

use super::Fault;
use super::identity::Identity;
use super::told;
use super::tree::{Piece, Root, are_whole};
use crate::chart::accuracy::Accuracy;
use crate::chart::bytes::{Damage, Decoder, Encoder};
use crate::chart::coast::CoastFacts;
use crate::chart::ground::Cells;
use crate::chart::survey::Survey;

/// What every index starts with.
pub(super) const MAGIC: &[u8; 16] = b"foreland index\r\n";

/// The form of the file, and of what is worked out for it: to be raised with every change of either,
/// so that no index outlives the rules it was made by.
pub(super) const FORM: u32 = 4;

/// The program that works out what an index holds.
const MAKER: &str = env!("CARGO_PKG_VERSION");

/// Bytes of the head: [`MAGIC`], form, length of the file, the table of contents, own checksum.
pub(super) const HEAD_BYTES: u32 = 16 + 4 + 8 + 16 + 4;

/// The head of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Head {
    pub(super) length: u64,
    pub(super) contents: Piece,
}

impl Head {
    pub(super) fn write(&self) -> Encoder {
        let mut out = Encoder::default();
        out.raw(MAGIC);
        out.u32(FORM);
        out.u64(self.length);
        self.contents.write(&mut out);
        out.u32(crc32fast::hash(out.bytes()));
        out
    }

    pub(super) fn read(bytes: &[u8]) -> Result<Self, Fault> {
        let mut input = Decoder::new(bytes);
        if input.raw(MAGIC.len())? != MAGIC {
            return Err(Fault::Damaged("it does not begin as an index does".to_owned()));
        }
        let form = input.u32()?;
        let head = Self { length: input.u64()?, contents: Piece::read(&mut input)? };
        let told = input.u32()?;
        let held = bytes.get(..bytes.len().saturating_sub(4)).unwrap_or_default();
        if !are_whole(held, told) {
            return Err(Fault::Damaged("its checksum is wrong".to_owned()));
        }
        if form != FORM {
            return Err(Fault::Version);
        }
        Ok(head)
    }
}

/// What an index says before any part of the coast is read.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Contents {
    pub(super) identity: Identity,
    pub(super) name: String,
    pub(super) accuracy: Accuracy,
    pub(super) cautions: Vec<String>,
    pub(super) survey: Survey,
    /// Of the finest grid of the chart.
    pub(super) cells: Option<Cells>,
    /// The layers that are in it and not to be read again, folder by folder.
    pub(super) coast_layers: Vec<Vec<String>>,
    pub(super) facts: CoastFacts,
    pub(super) runs: Root,
    /// The rings that hold each whole degree, one piece for each latitude from 90 N down.
    pub(super) corners: Vec<Piece>,
    /// The marks that the chart itself has, before those that its shape gives.
    pub(super) charted: Piece,
    pub(super) found: Root,
    pub(super) marks: usize,
}

impl Contents {
    pub(super) fn write(&self) -> Encoder {
        let mut out = Encoder::default();
        out.text(MAKER);
        self.identity.write(&mut out);
        out.text(&self.name);
        told::write_accuracy(&mut out, &self.accuracy);
        told::write_texts(&mut out, &self.cautions);
        told::write_survey(&mut out, &self.survey);
        out.option(self.cells.as_ref(), |out, cells| {
            out.f64(cells.step);
            out.f64(cells.shorter);
        });
        out.list(&self.coast_layers, |out, layers| told::write_texts(out, layers));
        self.facts.write(&mut out);
        self.runs.write(&mut out);
        out.list(&self.corners, |out, piece| piece.write(out));
        self.charted.write(&mut out);
        self.found.write(&mut out);
        out.count(self.marks);
        out
    }

    pub(super) fn read(bytes: &[u8]) -> Result<Self, Fault> {
        let mut input = Decoder::new(bytes);
        if input.text()? != MAKER {
            return Err(Fault::Version);
        }
        Ok(Self::read_rest(&mut input)?)
    }

    fn read_rest(input: &mut Decoder<'_>) -> Result<Self, Damage> {
        let contents = Self {
            identity: Identity::read(input)?,
            name: told::words(input)?,
            accuracy: told::read_accuracy(input)?,
            cautions: told::read_texts(input)?,
            survey: told::read_survey(input)?,
            cells: input
                .option(|input| Ok(Cells { step: input.finite()?, shorter: input.finite()? }))?,
            coast_layers: input.list(8, told::read_texts)?,
            facts: CoastFacts::read(input)?,
            runs: Root::read(input)?,
            corners: input.list(16, Piece::read)?,
            charted: Piece::read(input)?,
            found: Root::read(input)?,
            marks: input.count()?,
        };
        input.finish()?;
        Ok(contents)
    }
}
