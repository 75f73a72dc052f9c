//! The sum of known elements: what non-coherent elements of several receivers give together when
//! timing, gains and noise are known.

use crate::scene::{Heard, es};
use markhold_code::Code;
use markhold_signal::bessel::LnI0;
use rand::{Rng, RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

/// Gaussian of variance 1 in each part (G. E. P. Box and M. E. Muller, 1958).
fn gaussian(random: &mut impl Rng) -> (f64, f64) {
    let (u, v): (f64, f64) = (random.random(), random.random());
    let r = (-2.0 * (1.0 - u).ln()).sqrt();
    let (sin, cos) = (std::f64::consts::TAU * v).sin_cos();
    (r * cos, r * sin)
}

/// Log likelihood ratio of mark over space of one element, of which one tone was sent: energies
/// over noise density of either tone while sent.
fn element(mark: bool, energy: [f64; 2], ln_i0: &LnI0, random: &mut impl Rng) -> f64 {
    let weigh = |sent: bool, energy: f64, random: &mut _| {
        let (a, b) = gaussian(random);
        let (re, im) = (
            a / 2f64.sqrt() + if sent { energy.sqrt() } else { 0.0 },
            b / 2f64.sqrt(),
        );
        let envelope = (re * re + im * im).sqrt();
        f64::from(ln_i0.at((2.0 * energy.sqrt() * envelope) as f32)) - energy
    };
    weigh(mark, energy[0], random) - weigh(!mark, energy[1], random)
}

/// Share of characters that are wrong, by the receivers' gains at this Es/N0.
pub fn errors(heard: &[Heard], es_n0_db: f64, seed: u64, ln_i0: &LnI0) -> f64 {
    let energy = es(es_n0_db);
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let characters = &heard[0].characters;
    let wrong = (0..characters.len()).filter(|at| {
        let code = characters[*at].0;
        !right(code, |k| {
            let sent = code.value() >> k & 1 == 1;
            let of = |h: &Heard| {
                let gains = h.gains_at(h.characters[*at].1 + (1.5 + f64::from(k)) * h.element_s);
                let energy = gains.map(|g| energy * g * g);
                element(sent, energy, ln_i0, &mut random)
            };
            let sum: f64 = heard.iter().map(of).collect::<Vec<f64>>().iter().sum();
            (sum > 0.0) == sent
        })
    });
    wrong.count() as f64 / characters.len() as f64
}

fn right(_: Code, mut element: impl FnMut(u8) -> bool) -> bool {
    (0..5).filter(|k| element(*k)).count() == 5
}
