//! Unit, bias and end distortion by least squares, with their confidence.
//!
//! A transition that belongs `n` units after the start edge comes at
//!
//! ```text
//!   n T - b     if it leads to mark      b = bias times T
//!   n T + e     if it leads to space     e = end distortion times T
//! ```
//!
//! Characters share the error of their start edge, so the covariance is the one robust
//! against errors correlated within clusters (Liang & Zeger, Biometrika 1986, from memory),
//! a cluster being a character.

use super::framing::Framed;

/// What was fitted; s, and 95 % half widths of the same.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fit {
    /// The unit T.
    pub unit_s: f64,
    /// How early marks begin.
    pub early_s: f64,
    /// How late marks end; `None` if no mark ends within a character.
    pub late_s: Option<f64>,
    /// Half widths of the three.
    pub within_s: [f64; 3],
}

type Matrix = [[f64; 3]; 3];

/// Fits the transitions of all characters.
///
/// `None` if they do not tell: too few, or all in the same place, so that the speed cannot
/// be told from the bias.
pub fn fit(characters: &[Framed]) -> Option<Fit> {
    let mut normal: Matrix = [[0.0; 3]; 3];
    let mut right = [0.0; 3];
    for t in characters.iter().flat_map(|c| &c.transitions) {
        let row = row(t.units, t.to_mark);
        for i in 0..3 {
            right[i] += row[i] * t.after_s;
            for j in 0..3 {
                normal[i][j] += row[i] * row[j];
            }
        }
    }
    let ends = normal[2][2] > 0.0;
    // A condition that never occurs gets a place of its own, and no influence.
    for (k, row) in normal.iter_mut().enumerate() {
        if row[k] == 0.0 {
            row[k] = 1.0;
        }
    }
    let inverse = invert(normal)?;
    let solved = times(&inverse, &right);
    Some(Fit {
        unit_s: solved[0],
        early_s: -solved[1],
        late_s: ends.then_some(solved[2]),
        within_s: half_widths(characters, &inverse, &solved)?,
    })
}

fn row(units: u8, to_mark: bool) -> [f64; 3] {
    let [mark, space] = if to_mark { [1.0, 0.0] } else { [0.0, 1.0] };
    [f64::from(units), mark, space]
}

/// 95 % half widths from the cluster-robust covariance.
fn half_widths(characters: &[Framed], inverse: &Matrix, solved: &[f64; 3]) -> Option<[f64; 3]> {
    let mut meat: Matrix = [[0.0; 3]; 3];
    let mut clusters = 0u32;
    for character in characters.iter().filter(|c| !c.transitions.is_empty()) {
        let mut score = [0.0; 3];
        for t in &character.transitions {
            let row = row(t.units, t.to_mark);
            let off = t.after_s - (0..3).map(|k| row[k] * solved[k]).sum::<f64>();
            (0..3).for_each(|k| score[k] += row[k] * off);
        }
        clusters += 1;
        for i in 0..3 {
            (0..3).for_each(|j| meat[i][j] += score[i] * score[j]);
        }
    }
    let freedom = f64::from(clusters.checked_sub(3).filter(|f| *f > 0)?);
    // Student's 97.5 % point to first order: 2.0 at 60 degrees of freedom, 2.2 at 10.
    let quantile = 1.96 + 2.4 / freedom;
    let small = f64::from(clusters) / freedom;
    let variance = |k: usize| -> f64 {
        let half: [f64; 3] = times(&meat, &inverse[k]);
        (0..3).map(|j| inverse[k][j] * half[j]).sum::<f64>() * small
    };
    Some([0, 1, 2].map(|k| quantile * variance(k).max(0.0).sqrt()))
}

fn times(matrix: &Matrix, vector: &[f64; 3]) -> [f64; 3] {
    [0, 1, 2].map(|i| (0..3).map(|j| matrix[i][j] * vector[j]).sum())
}

/// The inverse by cofactors; `None` where it is as good as singular.
fn invert(m: Matrix) -> Option<Matrix> {
    let minor = |i: usize, j: usize| {
        let (r, c) = ([(i + 1) % 3, (i + 2) % 3], [(j + 1) % 3, (j + 2) % 3]);
        m[r[0]][c[0]] * m[r[1]][c[1]] - m[r[0]][c[1]] * m[r[1]][c[0]]
    };
    let determinant: f64 = (0..3).map(|j| m[0][j] * minor(0, j)).sum();
    let scale = m[0][0] * m[1][1] * m[2][2];
    // Counts are whole numbers: what is singular is so exactly, up to rounding.
    let regular = determinant > 1e-9 * scale;
    regular.then(|| [0, 1, 2].map(|i| [0, 1, 2].map(|j| minor(j, i) / determinant)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::edges;
    use crate::measure::framing::frame;
    use crate::{Distortion, Pattern, Sending};
    use markhold_code::{Code, StartStop};

    fn fitted(pattern: Pattern, distortion: Distortion) -> Option<Fit> {
        let sending = Sending {
            distortion,
            ..Sending::new(StartStop::new(50.0, 1.5))
        };
        let line = edges(&sending.line(&pattern.at_least(60)).expect("in range"));
        fit(&frame(&line, 0.02).characters)
    }

    #[test]
    fn steady_distortion_is_found_exactly() {
        let distortion = Distortion {
            bias: 0.2,
            end: -0.1,
            fortuitous: 0.0,
        };
        for pattern in [Pattern::Alternating, Pattern::Combinations] {
            let fit = fitted(pattern, distortion).expect("plenty");
            assert!((fit.unit_s - 0.02).abs() < 1e-12);
            assert!((fit.early_s - 0.2 * 0.02).abs() < 1e-12);
            assert!((fit.late_s.expect("marks end") + 0.1 * 0.02).abs() < 1e-12);
            assert!(fit.within_s.iter().all(|w| *w < 1e-9), "{fit:?}");
        }
    }

    #[test]
    fn what_cannot_be_told_apart_is_not_told() {
        let none = Distortion::default();
        assert_eq!(fitted(Pattern::Repeated(Code::LETTERS), none), None);
        assert_eq!(fitted(Pattern::Repeated(Code::BLANK), none), None);
        assert_eq!(fit(&[]), None);
    }

    /// The interval holds the truth about as often as it says: 200 lines with fortuitous
    /// distortion, 95 % expected, at least 90 % asked (a chance of 1 in 400 to miss that).
    #[test]
    fn the_confidence_is_what_it_says() {
        let mut held = [0; 3];
        for seed in 0..200 {
            let sending = Sending {
                distortion: Distortion {
                    bias: 0.1,
                    end: 0.05,
                    fortuitous: 0.2,
                },
                seed,
                ..Sending::new(StartStop::new(50.0, 1.5))
            };
            let codes = Pattern::Combinations.at_least(60);
            let line = edges(&sending.line(&codes).expect("in range"));
            let fit = fit(&frame(&line, 0.02).characters).expect("plenty");
            let off = [
                fit.unit_s - 0.02,
                fit.early_s - 0.002,
                fit.late_s.expect("ends") - 0.001,
            ];
            (0..3).for_each(|k| held[k] += usize::from(off[k].abs() <= fit.within_s[k]));
        }
        assert!(held.iter().all(|h| *h >= 180), "{held:?}");
    }
}
