//! The type of SVG and PNG pages: capitals, figures and signs as strokes.
//!
//! Drawn for this project, in the manner of typewriter faces: one width, slab feet. Nothing
//! is taken from a font. A path is in the notation of SVG with absolute M, L and Q only;
//! the origin is the left end of the baseline, y points down, a unit is 1/100 inch.

/// Width of a cell: ten columns to the inch.
pub const CELL_WIDTH: f64 = 10.0;
/// Height of a cell: six lines to the inch.
pub const CELL_HEIGHT: f64 = 100.0 / 6.0;
/// Where the baseline lies in a cell, from its top.
pub const BASELINE: f64 = 13.0;
/// Thickness of a stroke.
pub const THICKNESS: f64 = 1.15;

/// The strokes of a character; an empty box for one that no figures row holds.
pub fn glyph(c: char) -> &'static str {
    let place = GLYPHS.binary_search_by_key(&c, |glyph| glyph.0);
    place.map_or(BOX, |k| GLYPHS[k].1)
}

const BOX: &str = "M1.5 0L1.5 -10L8.5 -10L8.5 0L1.5 0";

/// In order of the characters.
#[rustfmt::skip]
const GLYPHS: [(char, &str); 54] = [
    ('!', "M5 -10L5 -3.2M4.8 -0.6L5.2 -0.6L5.2 -0.2L4.8 -0.2L4.8 -0.6"),
    ('"', "M3.4 -10L3.4 -6.6M6.6 -10L6.6 -6.6"),
    ('#', "M4 -10.6L3 0.6M7 -10.6L6 0.6M1.6 -6.8L8.6 -6.8M1.2 -3.2L8.2 -3.2"),
    ('$', "M7.6 -7Q7 -8.6 5 -8.6Q2.2 -8.6 2.2 -6.7Q2.2 -5 5 -4.7Q8.2 -4.3 8.2 -2.7Q8.2 -0.8 5 -0.8Q2.6 -0.8 1.8 -2.6M5 -10.4L5 1"),
    ('&', "M7.2 -8Q6.4 -8.6 5.4 -8.6Q3.2 -8.6 3.2 -6.6Q3.2 -5.8 7 0L8.8 0M3.7 -5Q1.6 -4.4 1.6 -2.4Q1.6 0 4.2 0Q7.2 0 7.6 -4.2M6.4 -4.4L9 -4.4"),
    ('\'', "M5 -10L5 -6.6"),
    ('(', "M6.6 -10.6Q3.6 -8 3.6 -4.6Q3.6 -1.2 6.6 1.4"),
    (')', "M3.4 -10.6Q6.4 -8 6.4 -4.6Q6.4 -1.2 3.4 1.4"),
    ('+', "M5 -8L5 -1.4M1.6 -4.7L8.4 -4.7"),
    (',', "M5.5 -1L4.2 2"),
    ('-', "M2 -4.6L8 -4.6"),
    ('.', "M4.8 -0.6L5.2 -0.6L5.2 -0.2L4.8 -0.2L4.8 -0.6"),
    ('/', "M8 -10.8L2 1.2"),
    ('0', "M5 -10Q8.2 -10 8.2 -5Q8.2 0 5 0Q1.8 0 1.8 -5Q1.8 -10 5 -10"),
    ('1', "M2.4 -8.2L5 -10L5 0M2 0L8 0"),
    ('2', "M1.8 -7.2Q2 -10 5 -10Q8.2 -10 8.2 -7.2Q8.2 -5.4 5.4 -3.2L1.6 0L8.4 0L8.4 -1.2"),
    ('3', "M2 -8.2Q3 -10 5 -10Q8 -10 8 -7.6Q8 -5.3 5 -5.3L4 -5.3M5 -5.3Q8.5 -5.2 8.5 -2.7Q8.5 0 5 0Q2.4 0 1.4 -1.8"),
    ('4', "M6.6 0L6.6 -10L1.4 -3L8.6 -3M4.8 0L8.2 0"),
    ('5', "M7.8 -10L2.6 -10L2.3 -5.4Q3.6 -6.4 5.2 -6.4Q8.5 -6.4 8.5 -3.3Q8.5 0 5 0Q2.6 0 1.4 -1.6"),
    ('6', "M8 -9.6Q7 -10 6 -9.7Q1.8 -8.4 1.8 -3.6Q1.8 0 5.2 0Q8.4 0 8.4 -3Q8.4 -5.8 5.4 -5.8Q2.6 -5.8 1.8 -3.4"),
    ('7', "M1.8 -8L1.8 -10L8.4 -10L8.4 -9L4.8 0"),
    ('8', "M5 -10Q7.9 -10 7.9 -7.6Q7.9 -5.3 5 -5.3Q2.1 -5.3 2.1 -7.6Q2.1 -10 5 -10M5 -5.3Q8.5 -5.3 8.5 -2.7Q8.5 0 5 0Q1.5 0 1.5 -2.7Q1.5 -5.3 5 -5.3"),
    ('9', "M2 -0.4Q3 0 4 -0.3Q8.2 -1.6 8.2 -6.4Q8.2 -10 4.8 -10Q1.6 -10 1.6 -7Q1.6 -4.2 4.6 -4.2Q7.4 -4.2 8.2 -6.6"),
    (':', "M4.8 -6L5.2 -6L5.2 -5.6L4.8 -5.6L4.8 -6M4.8 -0.6L5.2 -0.6L5.2 -0.2L4.8 -0.2L4.8 -0.6"),
    (';', "M4.8 -6L5.2 -6L5.2 -5.6L4.8 -5.6L4.8 -6M5.5 -1L4.2 2"),
    ('=', "M1.6 -6L8.4 -6M1.6 -3L8.4 -3"),
    ('?', "M2 -7.4Q2.2 -10 5 -10Q8 -10 8 -7.4Q8 -5.6 5 -4.4L5 -3M4.8 -0.6L5.2 -0.6L5.2 -0.2L4.8 -0.2L4.8 -0.6"),
    ('A', "M0.8 0L3.4 0M6.6 0L9.2 0M2 0L5 -10L8 0M3 -10L5 -10M3.1 -3.4L6.9 -3.4"),
    ('B', "M1.2 -10L5.8 -10Q8.2 -10 8.2 -7.6Q8.2 -5.3 5.8 -5.3L2.6 -5.3M5.8 -5.3Q8.8 -5.3 8.8 -2.7Q8.8 0 6 0L1.2 0M2.6 -10L2.6 0"),
    ('C', "M8.4 -10L8.4 -6.8M8.4 -7Q7.6 -10 5 -10Q1.2 -10 1.2 -5Q1.2 0 5.2 0Q7.6 0 8.8 -2.2"),
    ('D', "M1.2 -10L5.2 -10Q8.8 -10 8.8 -5Q8.8 0 5.2 0L1.2 0M2.6 -10L2.6 0"),
    ('E', "M1.2 -10L8.2 -10L8.2 -7.4M1.2 0L8.6 0L8.6 -2.8M2.8 -10L2.8 0M2.8 -5.2L6 -5.2M6 -6.5L6 -3.9"),
    ('F', "M1.2 -10L8.6 -10L8.6 -7.4M1.2 0L5 0M2.8 -10L2.8 0M2.8 -5.2L6.2 -5.2M6.2 -6.5L6.2 -3.9"),
    ('G', "M8.2 -10L8.2 -6.8M8.2 -7Q7.4 -10 5 -10Q1.2 -10 1.2 -5Q1.2 0 5.2 0Q7.2 0 8.2 -1L8.2 -4.2M5.8 -4.2L9.2 -4.2"),
    ('H', "M1 -10L3.6 -10M6.4 -10L9 -10M1 0L3.6 0M6.4 0L9 0M2.3 -10L2.3 0M7.7 -10L7.7 0M2.3 -5.1L7.7 -5.1"),
    ('I', "M2 -10L8 -10M2 0L8 0M5 -10L5 0"),
    ('J', "M3.6 -10L9.2 -10M6.8 -10L6.8 -3Q6.8 0 4.2 0Q1.4 0 1.4 -2.6L1.4 -4"),
    ('K', "M1 -10L3.8 -10M6 -10L8.6 -10M1 0L3.8 0M7.2 0L9.2 0M2.4 -10L2.4 0M7.4 -10L2.4 -4M4 -5.8Q6.4 -5.4 8 0"),
    ('L', "M1.2 -10L5 -10M1.2 0L8.6 0L8.6 -3.2M3.1 -10L3.1 0"),
    ('M', "M0.6 -10L2 -10L5 -4L8 -10L9.4 -10M0.6 0L3.2 0M6.8 0L9.4 0M1.8 -10L1.8 0M8.2 -10L8.2 0"),
    ('N', "M0.8 -10L2.4 -10L7.6 0M6 -10L9.2 -10M0.8 0L3.6 0M2.2 -10L2.2 0M7.6 -10L7.6 0"),
    ('O', "M5 -10Q9 -10 9 -5Q9 0 5 0Q1 0 1 -5Q1 -10 5 -10"),
    ('P', "M1.2 -10L5.6 -10Q8.8 -10 8.8 -7.2Q8.8 -4.3 5.6 -4.3L2.8 -4.3M2.8 -10L2.8 0M1.2 0L5.2 0"),
    ('Q', "M5 -10Q9 -10 9 -5Q9 0 5 0Q1 0 1 -5Q1 -10 5 -10M5 0L3 2.2Q4.6 1 6.2 1.8Q7.6 2.4 8.6 1.2"),
    ('R', "M1.2 -10L5.4 -10Q8.4 -10 8.4 -7.4Q8.4 -4.8 5.4 -4.8L2.8 -4.8M2.8 -10L2.8 0M1.2 0L4.6 0M5 -4.8Q6.6 -4.6 7.8 0L9.2 0"),
    ('S', "M8 -10L8 -7M8 -7.4Q7.2 -10 5 -10Q1.8 -10 1.8 -7.6Q1.8 -5.6 5 -5.2Q8.6 -4.7 8.6 -2.5Q8.6 0 5 0Q2.4 0 1.6 -2.6M1.6 -3L1.6 0"),
    ('T', "M1 -7.2L1 -10L9 -10L9 -7.2M5 -10L5 0M3 0L7 0"),
    ('U', "M0.8 -10L3.6 -10M6.4 -10L9.2 -10M2.2 -10L2.2 -3.2Q2.2 0 5 0Q7.8 0 7.8 -3.2L7.8 -10"),
    ('V', "M0.6 -10L3.2 -10M6.8 -10L9.4 -10M1.8 -10L5 0L8.2 -10"),
    ('W', "M0.5 -10L3 -10M7 -10L9.5 -10M1.5 -10L2.8 0L5 -6.6L7.2 0L8.5 -10"),
    ('X', "M1 -10L3.4 -10M6.6 -10L9 -10M1 0L3.4 0M6.6 0L9 0M2 -10L8 0M8 -10L2 0"),
    ('Y', "M0.8 -10L3.4 -10M6.6 -10L9.2 -10M2 -10L5 -4.8L8 -10M5 -4.8L5 0M3 0L7 0"),
    ('Z', "M2 -7.4L2 -10L8.2 -10L1.8 0L8.4 0L8.4 -2.8"),
    ('£', "M8 -7.8Q7.4 -10 5.6 -10Q3.2 -10 3.2 -7.2Q3.4 -4 3.4 -2.6Q3.4 -0.6 1.8 0L8.4 0L8.4 -1.4M1.8 -4.8L6.6 -4.8"),
];

/// A path as straight pieces, each from x, y to x, y.
pub fn segments(path: &str) -> Vec<[f64; 4]> {
    let mut segments = Vec::new();
    let (mut x, mut y) = (0.0, 0.0);
    for (kind, numbers) in commands(path) {
        match (kind, numbers.as_slice()) {
            ('M', &[to_x, to_y]) => (x, y) = (to_x, to_y),
            ('L', &[to_x, to_y]) => {
                segments.push([x, y, to_x, to_y]);
                (x, y) = (to_x, to_y);
            }
            ('Q', &[over_x, over_y, to_x, to_y]) => {
                curve(&mut segments, [x, y, over_x, over_y, to_x, to_y]);
                (x, y) = (to_x, to_y);
            }
            _ => unreachable!("a path of this file: {path}"),
        }
    }
    segments
}

/// Pieces of a curve: enough for 120 dots per inch.
const PIECES: usize = 10;

fn curve(segments: &mut Vec<[f64; 4]>, [x, y, over_x, over_y, to_x, to_y]: [f64; 6]) {
    let at = |k: usize| {
        let t = k as f64 / PIECES as f64;
        let weigh = |a: f64, b: f64, c: f64| {
            (1.0 - t) * (1.0 - t) * a + 2.0 * t * (1.0 - t) * b + t * t * c
        };
        (weigh(x, over_x, to_x), weigh(y, over_y, to_y))
    };
    for k in 0..PIECES {
        let (from, to) = (at(k), at(k + 1));
        segments.push([from.0, from.1, to.0, to.1]);
    }
}

/// The commands of a path and their numbers.
fn commands(path: &str) -> Vec<(char, Vec<f64>)> {
    let mut commands: Vec<(char, String)> = Vec::new();
    for c in path.chars() {
        match (c, commands.last_mut()) {
            ('M' | 'L' | 'Q', _) => commands.push((c, String::new())),
            (c, Some((_, numbers))) => numbers.push(c),
            (_, None) => unreachable!("a path begins with a command: {path}"),
        }
    }
    let parsed = |numbers: String| {
        let number = |word: &str| word.parse().expect("a number of this file");
        numbers.split(' ').map(number).collect()
    };
    commands
        .into_iter()
        .map(|(kind, numbers)| (kind, parsed(numbers)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_code::{Code, FiguresRow, Shift, Symbol, symbol};

    #[test]
    fn every_character_of_both_rows_has_strokes() {
        for row in [FiguresRow::Ita2, FiguresRow::Us] {
            for shift in [Shift::Letters, Shift::Figures] {
                for code in Code::ALL {
                    if let Symbol::Print(c) = symbol(code, shift, row) {
                        assert_ne!(glyph(c), BOX, "{c}");
                    }
                }
            }
        }
    }

    #[test]
    fn strokes_stay_in_their_cell_and_differ() {
        let half = THICKNESS / 2.0;
        for (k, (c, path)) in GLYPHS.iter().enumerate() {
            assert!(k == 0 || GLYPHS[k - 1].0 < *c, "{c} is out of order");
            for [x, y, to_x, to_y] in segments(path) {
                for x in [x, to_x] {
                    assert!(x - half >= -0.2 && x + half <= CELL_WIDTH + 0.2, "{c}");
                }
                for y in [y, to_y] {
                    let y = y + BASELINE;
                    assert!(y - half >= 0.0 && y + half <= CELL_HEIGHT, "{c}");
                }
            }
            assert!(GLYPHS[..k].iter().all(|other| other.1 != *path), "{c}");
        }
    }

    #[test]
    fn a_curve_begins_and_ends_where_it_should() {
        let pieces = segments("M0 0Q5 10 10 0");
        assert_eq!(pieces.len(), PIECES);
        assert_eq!(pieces[0][..2], [0.0, 0.0]);
        assert_eq!(pieces[PIECES - 1][2..], [10.0, 0.0]);
        // Halfway a quadratic curve is halfway between the chord and its control point.
        assert_eq!(pieces[PIECES / 2][..2], [5.0, 5.0]);
    }
}
