//! White noise.

use super::draw::Draw;

/// Adds white Gaussian noise of this power in each hertz, one-sided.
pub fn add(sound: &mut [f32], rate: f64, density: f64, draw: &mut Draw) {
    let deviation = (density * rate / 2.0).sqrt();
    for two in sound.chunks_mut(2) {
        let drawn = draw.gauss();
        two.iter_mut()
            .zip(drawn)
            .for_each(|(s, g)| *s += (deviation * g) as f32);
    }
}
