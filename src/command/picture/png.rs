//! A sheet as PNG.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::{OriginDimensions, Point, Size};
use embedded_graphics::mono_font::MonoTextStyle;
use embedded_graphics::mono_font::ascii::FONT_7X13;
use embedded_graphics::pixelcolor::{Rgb888, RgbColor};
use embedded_graphics::primitives::{Circle, Line, Primitive, PrimitiveStyle};
use embedded_graphics::text::{Alignment, Baseline, Text, TextStyleBuilder};
use embedded_graphics::{Drawable, Pixel};

use super::sheet::{Anchor, Cells, Shape, Sheet, Tone};
use crate::command::failure::Failure;

/// Draws a sheet.
///
/// # Errors
/// A fault of the program: the library refuses.
pub fn draw(sheet: &Sheet) -> Result<Vec<u8>, Failure> {
    let mut canvas = Canvas::new(sheet.width, sheet.height);
    if let Some(cells) = &sheet.cells {
        canvas.lay(cells);
    }
    for shape in &sheet.shapes {
        shape.draw_on(&mut canvas);
    }
    encode(sheet.width, sheet.height, png::ColorType::Rgb, &canvas.pixels)
}

/// Cells of light alone, without shapes.
pub(super) fn of_cells(cells: &Cells) -> Result<Vec<u8>, Failure> {
    encode(cells.width, cells.height, png::ColorType::Grayscale, &cells.light)
}

fn encode(
    width: u32,
    height: u32,
    colour: png::ColorType,
    data: &[u8],
) -> Result<Vec<u8>, Failure> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(colour);
    encoder.set_depth(png::BitDepth::Eight);
    let written = encoder.write_header().and_then(|mut writer| {
        writer.write_image_data(data)?;
        writer.finish()
    });
    written.map_err(|error| Failure::Fault(format!("the picture makes no PNG: {error}")))?;
    Ok(bytes)
}

fn colour(tone: Tone) -> Rgb888 {
    let [red, green, blue] = tone.rgb();
    Rgb888::new(red, green, blue)
}

fn point((x, y): (f64, f64)) -> Point {
    Point::new(x.round() as i32, y.round() as i32)
}

impl Shape {
    fn draw_on(&self, canvas: &mut Canvas) {
        // A canvas refuses nothing.
        let _ = match self {
            Self::Circle { centre, radius, tone } => {
                let style = PrimitiveStyle::with_stroke(colour(*tone), 1);
                let diameter = (2.0 * radius).round() as u32;
                Circle::with_center(point(*centre), diameter).into_styled(style).draw(canvas)
            }
            Self::Line { from, to, tone } => {
                let style = PrimitiveStyle::with_stroke(colour(*tone), 1);
                Line::new(point(*from), point(*to)).into_styled(style).draw(canvas)
            }
            Self::Text { at, anchor, words, tone } => {
                let style = MonoTextStyle::new(&FONT_7X13, colour(*tone));
                let alignment = match anchor {
                    Anchor::Start => Alignment::Left,
                    Anchor::Middle => Alignment::Center,
                    Anchor::End => Alignment::Right,
                };
                let placed =
                    TextStyleBuilder::new().alignment(alignment).baseline(Baseline::Middle).build();
                // The font has ASCII alone.
                let words = words.replace('°', " ").replace('·', ".");
                Text::with_text_style(&words, point(*at), style, placed).draw(canvas).map(|_| ())
            }
        };
    }
}

/// Pixels, black at first.
struct Canvas {
    width: u32,
    height: u32,
    pixels: Vec<u8>,
}

impl Canvas {
    fn new(width: u32, height: u32) -> Self {
        Self { width, height, pixels: vec![0; 3 * width as usize * height as usize] }
    }

    fn set(&mut self, x: u32, y: u32, rgb: [u8; 3]) {
        if x < self.width && y < self.height {
            let at = 3 * (y as usize * self.width as usize + x as usize);
            if let Some(pixel) = self.pixels.get_mut(at..at + 3) {
                pixel.copy_from_slice(&rgb);
            }
        }
    }

    fn lay(&mut self, cells: &Cells) {
        for (pixel, light) in (0_u32..).zip(&cells.light) {
            let (x, y) = (pixel % cells.width, pixel / cells.width);
            self.set(cells.at.0 + x, cells.at.1 + y, [*light; 3]);
        }
    }
}

impl OriginDimensions for Canvas {
    fn size(&self) -> Size {
        Size::new(self.width, self.height)
    }
}

impl DrawTarget for Canvas {
    type Color = Rgb888;
    type Error = std::convert::Infallible;

    fn draw_iter<I>(&mut self, pixels: I) -> Result<(), Self::Error>
    where
        I: IntoIterator<Item = Pixel<Self::Color>>,
    {
        for Pixel(at, colour) in pixels {
            if let (Ok(x), Ok(y)) = (u32::try_from(at.x), u32::try_from(at.y)) {
                self.set(x, y, [colour.r(), colour.g(), colour.b()]);
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reader_of_another_make_finds_the_pixels() {
        let sheet = Sheet {
            title: String::new(),
            width: 40,
            height: 30,
            cells: Some(Cells { at: (10, 10), width: 2, height: 1, light: vec![7, 200] }),
            shapes: vec![Shape::Line { from: (0.0, 0.0), to: (39.0, 0.0), tone: Tone::Port }],
        };
        let bytes = draw(&sheet).unwrap();
        let mut reader = png::Decoder::new(std::io::Cursor::new(&bytes)).read_info().unwrap();
        let mut pixels = vec![0; reader.output_buffer_size().unwrap()];
        let info = reader.next_frame(&mut pixels).unwrap();
        assert_eq!((info.width, info.height), (40, 30));
        let at = |x: usize, y: usize| &pixels[3 * (40 * y + x)..3 * (40 * y + x) + 3];
        assert_eq!(at(11, 10), [200, 200, 200]);
        assert_eq!(at(5, 0), Tone::Port.rgb());
        assert_eq!(at(5, 5), [0, 0, 0]);
    }
}
