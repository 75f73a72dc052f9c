//! The page as a picture in shades of grey, 120 dots per inch.
//!
//! Written line by line: however long the roll is, one line of dots is held.

use super::layout::{ENDS, SIDE};
use super::strokes::{BASELINE, THICKNESS, glyph, segments};
use crate::page::{Line, Page};
use png::{BitDepth, ColorType, Encoder, EncodingError, PixelDimensions, Unit};
use std::collections::HashMap;
use std::io::Write;

/// Dots of a cell: a tenth and a sixth of an inch.
const WIDTH: usize = 12;
const HEIGHT: usize = 20;
/// Dots per unit of the strokes, which is 1/100 inch.
const SCALE: f64 = 1.2;
/// 120 dots per inch, in dots per metre.
const PER_METRE: u32 = 4724;
/// Brightness of the paper, 255 = white.
const PAPER: u8 = 250;

/// How much of each dot of a cell a character covers, 0 to 255; row by row.
type Cover = [u8; WIDTH * HEIGHT];

/// Writes the page as a PNG picture.
///
/// # Errors
///
/// What `out` reports, and pages of more than 2^31 dots' height.
pub fn png(page: &Page, out: impl Write) -> Result<(), EncodingError> {
    let columns = usize::from(page.columns) + 2 * SIDE;
    let height = u32::try_from((page.lines.len() + 2 * ENDS) * HEIGHT).unwrap_or(u32::MAX);
    let mut encoder = Encoder::new(out, (columns * WIDTH) as u32, height);
    encoder.set_color(ColorType::Grayscale);
    encoder.set_depth(BitDepth::Eight);
    encoder.set_pixel_dims(Some(PixelDimensions {
        xppu: PER_METRE,
        yppu: PER_METRE,
        unit: Unit::Meter,
    }));
    let mut writer = encoder.write_header()?;
    let mut rows = writer.stream_writer()?;
    let mut type_box = TypeBox::default();
    let free = Line::default();
    let ends = || std::iter::repeat_n(&free, ENDS);
    for line in ends().chain(&page.lines).chain(ends()) {
        rows.write_all(&dots(line, columns, &mut type_box))?;
    }
    rows.finish()
}

/// The dots of one line.
fn dots(line: &Line, columns: usize, type_box: &mut TypeBox) -> Vec<u8> {
    let stride = columns * WIDTH;
    let mut dots = vec![PAPER; stride * HEIGHT];
    for struck in &line.struck {
        let cover = type_box.cover(struck.strike.character);
        let ink = u32::from(struck.strike.ink.percent());
        let left = (usize::from(struck.column) + SIDE) * WIDTH;
        for (row, covered) in cover.chunks_exact(WIDTH).enumerate() {
            let at = row * stride + left;
            for (dot, &covered) in dots[at..at + WIDTH].iter_mut().zip(covered) {
                let left_white = 25_500 - u32::from(covered) * ink;
                *dot = ((u32::from(*dot) * left_white + 12_750) / 25_500) as u8;
            }
        }
    }
    dots
}

/// Characters already drawn.
#[derive(Default)]
struct TypeBox(HashMap<char, Box<Cover>>);

impl TypeBox {
    fn cover(&mut self, c: char) -> &Cover {
        self.0.entry(c).or_insert_with(|| Box::new(draw(c)))
    }
}

/// Draws a character: a dot is covered as far as it lies within half a stroke of a line.
fn draw(c: char) -> Cover {
    let pieces = segments(glyph(c));
    let mut cover = [0; WIDTH * HEIGHT];
    for (k, dot) in cover.iter_mut().enumerate() {
        let x = ((k % WIDTH) as f64 + 0.5) / SCALE;
        let y = ((k / WIDTH) as f64 + 0.5) / SCALE - BASELINE;
        let near = pieces
            .iter()
            .map(|piece| distance(x, y, piece))
            .fold(f64::INFINITY, f64::min);
        let inside = (THICKNESS / 2.0 - near) * SCALE + 0.5;
        *dot = (inside.clamp(0.0, 1.0) * 255.0).round() as u8;
    }
    cover
}

/// Distance of a point from a straight piece.
fn distance(x: f64, y: f64, &[from_x, from_y, to_x, to_y]: &[f64; 4]) -> f64 {
    let (along_x, along_y) = (to_x - from_x, to_y - from_y);
    let length = along_x * along_x + along_y * along_y;
    let share = ((x - from_x) * along_x + (y - from_y) * along_y) / length;
    let share = if share.is_nan() {
        0.0
    } else {
        share.clamp(0.0, 1.0)
    };
    let (off_x, off_y) = (x - from_x - share * along_x, y - from_y - share * along_y);
    // Not hypot: a square root is the same on every machine.
    (off_x * off_x + off_y * off_y).sqrt()
}
