//! Conditions as numbers of about the same size, for weighing.
//!
//! Ratios become logarithms and everything is bounded, so that no single measure decides
//! alone by being absurd.

use crate::pair::conditions::Conditions;

/// Numbers there are.
pub const COUNT: usize = 18;

/// Energies beyond these tell nothing more.
const ENERGIES: [f32; 2] = [0.1, 50.0];
/// Below this share of the sound left, the gain is not known.
const HEARD: f32 = 0.8;
/// An offset of the tones counts from so many standard deviations on.
const SURE_OFF: f32 = 1.5;

/// The numbers, in the order of the weights in [`super::fitted`].
pub fn evidence(c: &Conditions) -> [f32; COUNT] {
    let [mark, space] = c.energy.map(|e| ln(e, ENERGIES));
    // Below the noise powers are told so badly that their ratio tells nothing.
    let [soft_mark, soft_space] = c.energy.map(|e| ln(1.0 + e, [1.0, 50.0]));
    let [under_mark, under_space] = c.under.map(|u| ln(u, [0.3, 50.0]));
    [
        // How weak both tones are, and how far they are apart.
        -0.5 * (mark + space),
        (soft_mark - soft_space).abs(),
        c.apart.clamp(0.0, 8.0),
        c.varies.clamp(0.0, 1.5),
        // What was blanked, of all and of one element.
        1.0 - c.clear.clamp(0.0, 1.0),
        1.0 - c.least_clear.clamp(0.0, 1.0),
        // The receiver's gain.
        c.turned_down_db.clamp(0.0, 20.0) / 5.0,
        match c.clear > HEARD {
            true => c.pumping_db.clamp(0.0, 6.0) / 3.0,
            false => 0.0,
        },
        // What is heard that is not the signal: at the silent tone, within the pair, beside
        // it, and as noise under the tones.
        ln(c.other, [0.2, 20.0]),
        ln(c.line, [1.0, 300.0]),
        ln(c.beside, [2.0, 100.0]),
        under_mark.max(under_space),
        (under_mark - under_space).abs(),
        // Whether the tones lie where they are followed.
        match c.off[1] > SURE_OFF {
            true => c.off[0].abs().min(10.0) / 5.0,
            false => 0.0,
        },
        c.moved_hz.clamp(0.0, 100.0).ln_1p(),
        // Whether elements lie where they are read, here and of late.
        c.edges.clamp(0.0, 50.0).ln_1p(),
        c.edges_usual.clamp(0.0, 50.0).ln_1p(),
        c.longer_marks.abs().min(0.5) * 10.0,
    ]
}

fn ln(x: f32, [least, most]: [f32; 2]) -> f32 {
    x.clamp(least, most).ln()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_absurd_makes_it_infinite() {
        for x in [0.0, f32::MIN_POSITIVE, 1e30, f32::INFINITY] {
            let conditions = Conditions {
                energy: [x, 0.0],
                clear: x,
                turned_down_db: x,
                pumping_db: x,
                other: x,
                apart: x,
                line: x,
                off: [x; 2],
                moved_hz: x,
                edges: x,
                edges_usual: x,
                longer_marks: x,
                under: [x, 0.0],
                beside: x,
                varies: x,
                ..Conditions::default()
            };
            for e in evidence(&conditions) {
                assert!(e.abs() < 20.0, "{x}: {e}");
            }
        }
    }
}
