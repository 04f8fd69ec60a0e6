//! Which rings of the coast hold the places at whole degrees.

use std::io;

use rayon::prelude::*;

use super::tree::{Out, Piece, Pieces};
use crate::chart::bytes::{Damage, Decoder, Encoder};
use crate::chart::coast::Coast;

/// Rows of corners, from 90 N to 90 S.
pub(super) const ROWS: usize = 181;

/// Bytes of one ring at one corner.
const RING_BYTES: usize = 12;

/// Writes one piece for each row.
pub(super) fn write(coast: &Coast, out: &mut Out) -> io::Result<Vec<Piece>> {
    let meridians: Vec<_> =
        (-180..180_i32).into_par_iter().map(|lon| coast.rings_down(f64::from(lon))).collect();
    let mut rows = vec![Vec::new(); ROWS];
    for (lon, rings) in (-180..180_i32).zip(meridians) {
        for (lat, line, group) in rings {
            if let Some(row) = rows.get_mut(usize::from(lat.abs_diff(90))) {
                row.push((lon, line, group));
            }
        }
    }
    let mut bytes = Encoder::default();
    let mut piece = |row: Vec<(i32, u32, u32)>| {
        bytes.clear();
        bytes.list(&row, |out, (lon, line, group)| {
            out.u32(lon.cast_unsigned());
            out.u32(*line);
            out.u32(*group);
        });
        out.piece(bytes.bytes())
    };
    rows.into_iter().map(&mut piece).collect()
}

/// Line and group of each ring that holds a corner.
pub(super) fn read(
    pieces: &Pieces,
    rows: &[Piece],
    (lat, lon): (f64, f64),
) -> Result<Vec<(u32, u32)>, Damage> {
    let row = rows.get((90.0 - lat).round() as usize);
    let row = row.ok_or_else(|| Damage::new("it knows too few corners"))?;
    let bytes = pieces.piece(row)?;
    let mut input = Decoder::new(&bytes);
    let rings = input
        .list(RING_BYTES, |input| Ok((input.u32()?.cast_signed(), input.u32()?, input.u32()?)))?;
    input.finish()?;
    let lon = lon.round() as i32;
    let here = rings.into_iter().filter(|(at, ..)| *at == lon);
    Ok(here.map(|(_, line, group)| (line, group)).collect())
}
