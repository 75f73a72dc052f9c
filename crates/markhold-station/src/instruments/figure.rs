//! The figure of the two tones at right angles.
//!
//! Mark alone draws a line from side to side, space alone one up and down; a filter that
//! hears the other tone too draws an ellipse, and tones that are off lean over. Both
//! outputs turn at the same slow rate, so that few points draw smooth figures.

use super::tones::TwoTones;
use markhold_transform::{Complex32, Complex64};
use std::f64::consts::TAU;

/// How fast the figure goes round, Hz.
const TURN_HZ: f64 = 60.0;
/// Points a second: thirteen for each turn.
const POINTS_HZ: f64 = 800.0;
/// Time after which a level that is gone is forgotten, s.
const FORGET_S: f64 = 1.0;

/// Draws points.
#[derive(Clone, Debug)]
pub struct Figure {
    // derived
    turn: Complex64,
    forget: f32,
    step: f64,
    // state
    phase: Complex64,
    level: f32,
    due: f64,
    points: Vec<[i8; 2]>,
}

impl Figure {
    /// A figure of filter outputs that come `rate` times a second.
    pub fn new(rate: f64) -> Self {
        Figure {
            turn: Complex64::cis(TAU * TURN_HZ / rate),
            forget: (-1.0 / (FORGET_S * rate)).exp() as f32,
            step: POINTS_HZ / rate,
            phase: Complex64::ONE,
            level: 0.0,
            due: 0.0,
            points: Vec::new(),
        }
    }

    /// Takes one output of the filters.
    pub fn process(&mut self, tones: TwoTones) {
        self.phase *= self.turn;
        let loudest = tones.mark.norm_sqr().max(tones.space.norm_sqr()).sqrt();
        self.level = (self.level * self.forget).max(loudest);
        self.due += self.step;
        if self.due >= 1.0 {
            self.due -= 1.0;
            let point = [self.place(tones.mark), self.place(tones.space)];
            self.points.push(point);
        }
    }

    fn place(&self, tone: Complex32) -> i8 {
        let phase = Complex32::new(self.phase.re as f32, self.phase.im as f32);
        // A level of nothing gives a point in the middle.
        (127.0 * (tone * phase).re / self.level.max(1e-9)) as i8
    }

    /// The points since the last call.
    pub fn take(&mut self) -> Vec<[i8; 2]> {
        self.phase /= self.phase.norm();
        std::mem::take(&mut self.points)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(mark: f32, space: f32) -> Vec<[i8; 2]> {
        let mut figure = Figure::new(8000.0);
        let tones = TwoTones {
            mark: Complex32::new(mark, 0.0),
            space: Complex32::new(0.0, space),
        };
        (0..8000).for_each(|_| figure.process(tones));
        figure.take()
    }

    #[test]
    fn mark_alone_is_a_line_from_side_to_side() {
        let points = drawn(0.3, 0.0);
        assert!((799..=800).contains(&points.len()), "{}", points.len());
        assert!(points.iter().all(|p| p[1] == 0));
        assert!(points.iter().any(|p| p[0] > 120) && points.iter().any(|p| p[0] < -120));
    }

    #[test]
    fn space_alone_is_a_line_up_and_down() {
        assert!(drawn(0.0, 0.01).iter().all(|p| p[0] == 0));
    }

    #[test]
    fn both_at_once_go_round() {
        for [x, y] in drawn(0.5, 0.5) {
            let radius = f32::from(x).hypot(f32::from(y));
            assert!((radius - 127.0).abs() < 3.0, "{x}, {y}");
        }
    }

    #[test]
    fn silence_is_a_point_in_the_middle() {
        assert!(drawn(0.0, 0.0).iter().all(|p| *p == [0, 0]));
    }
}
