//! Where two sequences may say the same: stretches along diagonals that hold more in common
//! than chance gives.
//!
//! Rows are taken in blocks. Every pair of a row of the block and a column with a likely code
//! in common counts on its diagonal, by how rare the code is; losses and inventions move the
//! truth by some diagonals, so neighbours are added up. What stands out becomes a peak, peaks
//! of blocks that follow each other on nearly the same diagonal become one stretch. Whether
//! it says the same is for [`crate::align`] to judge; a peak too many costs time only.

use markhold_code::Code;

use crate::align::Band;
use crate::shares::Shares;

/// Rows of a block, and how far on the next begins: at 4 dB, where of two copies every fifth
/// place has the same best code, a block of 256 still stands out by six deviations.
const BLOCK: usize = 256;
const STEP: usize = 128;
/// Diagonals added up on either side.
const BLUR: usize = 4;
/// A peak stands so many deviations above chance, and holds at least so much, nats.
const STANDS_OUT: f32 = 5.0;
const LEAST: f32 = 15.0;
/// Peaks of a block that are followed up.
const PEAKS: usize = 6;
/// Diagonals by which peaks of one stretch may differ, and blocks that may be passed over.
const NEAR: isize = 40;
const PASSED_OVER: usize = 3;
/// Columns to either side of the diagonal that are looked at: a fade may take 40 characters.
pub(crate) const HALF: usize = 56;
/// How far a stretch may go beyond its blocks.
pub(crate) const BEYOND: usize = 128;
/// A code counts where it has this share.
const COUNTS: f32 = 0.2;

/// A peak of a block.
#[derive(Clone, Copy, Debug)]
struct Peak {
    row: usize,
    diagonal: isize,
    strength: f32,
}

/// The bands of the stretches of `rows` and `columns` that may say the same, the strongest
/// first.
pub(crate) fn find(rows: &[Shares], columns: &[Shares], frequencies: &Shares) -> Vec<Band> {
    let rarity = frequencies.map(|p| -p.ln());
    let places = Places::new(columns);
    let mut stretches: Vec<Vec<Peak>> = Vec::new();
    let begins = (0..rows.len()).step_by(STEP);
    for begin in begins.filter(|b| *b == 0 || b + STEP < rows.len()) {
        let block = &rows[begin..(begin + BLOCK).min(rows.len())];
        for peak in places.peaks(block, begin, &rarity) {
            let goes_on = |s: &&mut Vec<Peak>| {
                let last = s[s.len() - 1];
                let apart = (peak.row - last.row) / STEP;
                (1..=PASSED_OVER).contains(&apart) && (peak.diagonal - last.diagonal).abs() <= NEAR
            };
            match stretches.iter_mut().find(goes_on) {
                Some(stretch) => stretch.push(peak),
                None => stretches.push(vec![peak]),
            }
        }
    }
    let strength = |s: &Vec<Peak>| s.iter().map(|p| p.strength).sum::<f32>();
    stretches.sort_by(|a, b| strength(b).total_cmp(&strength(a)));
    let bands = stretches.iter().map(|s| band(s, rows.len(), columns.len()));
    bands.filter(|band| !band.columns.is_empty()).collect()
}

/// Around the peaks of a stretch.
fn band(stretch: &[Peak], rows: usize, columns: usize) -> Band {
    let middles: Vec<(usize, isize)> = stretch
        .iter()
        .map(|p| {
            (
                p.row + BLOCK / 2,
                p.row as isize + (BLOCK / 2) as isize + p.diagonal,
            )
        })
        .collect();
    let first = stretch[0].row.saturating_sub(BEYOND);
    let last = (stretch[stretch.len() - 1].row + BLOCK + BEYOND).min(rows);
    around(&middles, first..last, columns)
}

/// The band of rows around a line through these points, `(row, column)` in order, going on
/// by diagonals beyond them.
pub(crate) fn around(
    points: &[(usize, isize)],
    rows: std::ops::Range<usize>,
    columns: usize,
) -> Band {
    let mut at = 0;
    let middle = |row: usize| {
        while at + 1 < points.len() && points[at + 1].0 <= row {
            at += 1;
        }
        let (a, b) = (points[at], points.get(at + 1));
        let on = row as isize - a.0 as isize;
        match b {
            Some(b) if on > 0 => a.1 + on * (b.1 - a.1) / (b.0 - a.0) as isize,
            _ => a.1 + on,
        }
    };
    let half = HALF as isize;
    let clip = |c: isize| c.clamp(0, columns as isize) as usize;
    let of: Vec<std::ops::Range<usize>> = rows
        .clone()
        .map(middle)
        .map(|c| clip(c - half)..clip(c + half + 1))
        .collect();
    let empty = of.iter().take_while(|c| c.is_empty()).count();
    let filled = of[empty..].iter().take_while(|c| !c.is_empty()).count();
    Band {
        first: rows.start + empty,
        columns: of[empty..empty + filled].to_vec(),
    }
}

/// The places of each code among the columns.
struct Places {
    of_code: Vec<Vec<(usize, f32)>>,
    columns: usize,
}

/// The codes of a place that count.
fn likely(shares: &Shares) -> impl Iterator<Item = (usize, f32)> {
    let all = shares.iter().copied().enumerate();
    all.filter(|(_, share)| *share >= COUNTS)
}

impl Places {
    fn new(columns: &[Shares]) -> Self {
        let mut of_code = vec![Vec::new(); Code::COUNT];
        for (column, shares) in columns.iter().enumerate() {
            likely(shares).for_each(|(code, share)| of_code[code].push((column, share)));
        }
        Self {
            of_code,
            columns: columns.len(),
        }
    }

    /// What a block has in common with each diagonal: the first is that of its last row and the
    /// first column.
    fn common(&self, block: &[Shares], rarity: &Shares) -> (Vec<f32>, f32, f32) {
        let mut common = vec![0.0f32; block.len() + self.columns - 1];
        let (mut sum, mut squares) = (0.0f64, 0.0f64);
        for (row, shares) in block.iter().enumerate() {
            for (code, share) in likely(shares) {
                let weight = share * rarity[code];
                for (column, other) in &self.of_code[code] {
                    let both = weight * other;
                    common[column + block.len() - 1 - row] += both;
                    sum += f64::from(both);
                    squares += f64::from(both * both);
                }
            }
        }
        let pairs = (block.len() * self.columns) as f64;
        (common, (sum / pairs) as f32, (squares / pairs) as f32)
    }

    /// Diagonals that stand out.
    fn peaks(&self, block: &[Shares], begin: usize, rarity: &Shares) -> Vec<Peak> {
        if self.columns == 0 {
            return Vec::new();
        }
        let (common, mean, square) = self.common(block, rarity);
        let count = common.len();
        // Pairs of row and column on a diagonal.
        let pairs = |d: usize| (d + 1).min(count - d).min(block.len()).min(self.columns);
        let mut sum = 0.0f32;
        let mut length = 0usize;
        let mut found: Vec<Peak> = Vec::new();
        for d in 0..count + BLUR {
            if d < count {
                sum += common[d];
                length += pairs(d);
            }
            if d > 2 * BLUR {
                sum -= common[d - 2 * BLUR - 1];
                length -= pairs(d - 2 * BLUR - 1);
            }
            let over = sum - mean * length as f32;
            let strength = over / (square * length as f32).sqrt().max(f32::MIN_POSITIVE);
            if d >= BLUR && strength > STANDS_OUT && over > LEAST {
                found.push(Peak {
                    row: begin,
                    diagonal: (d - BLUR) as isize - (block.len() - 1) as isize - begin as isize,
                    strength,
                });
            }
        }
        highest(found)
    }
}

/// The highest, none beside a higher one.
fn highest(mut peaks: Vec<Peak>) -> Vec<Peak> {
    peaks.sort_by(|a, b| b.strength.total_cmp(&a.strength));
    let mut kept: Vec<Peak> = Vec::new();
    for peak in peaks {
        let beside = |k: &Peak| (k.diagonal - peak.diagonal).abs() <= NEAR;
        if kept.len() < PEAKS && !kept.iter().any(beside) {
            kept.push(peak);
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use rand_xoshiro::Xoshiro256PlusPlus;

    fn shares(code: usize) -> Shares {
        let mut shares = [0.001; 32];
        shares[code] = 0.969;
        shares
    }

    fn random(count: usize, seed: u64) -> Vec<Shares> {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        (0..count)
            .map(|_| shares(random.random_range(0..32)))
            .collect()
    }

    #[test]
    fn two_paragraphs_in_another_order_are_two_bands() {
        let text = random(1_000, 1);
        let moved = [&text[600..], &random(50, 2), &text[..550]].concat();
        let bands = find(&text, &moved, &[1.0 / 32.0; 32]);
        let holds = |row: usize, column: usize| {
            bands.iter().any(|b| {
                let at = row.checked_sub(b.first).and_then(|k| b.columns.get(k));
                at.is_some_and(|c| c.contains(&column))
            })
        };
        for row in [5, 300, 540] {
            assert!(holds(row, row + 450));
        }
        for row in [605, 800, 990] {
            assert!(holds(row, row - 600));
        }
        assert!(bands.len() <= 3, "{}", bands.len());
    }

    #[test]
    fn what_has_nothing_in_common_gives_nothing() {
        let even = [1.0 / 32.0; 32];
        assert!(find(&random(2_000, 3), &random(2_000, 4), &even).is_empty());
        assert!(find(&[], &random(10, 4), &even).is_empty());
        assert!(find(&random(10, 4), &[], &even).is_empty());
    }
}
