//! What the follower learns of the pair itself from a window: where its tones are, how far
//! apart, and how long elements last.

use super::Follower;
use crate::characters::reading::Reading;
use crate::pair::speed::TRIAL;
use crate::pair::tune::turns;
use crate::pair::window::{Look, Window, WindowReading};

/// A window with fewer characters, each at least this likely, says nothing of the speed.
const SPEED_CHARACTERS: (usize, f32) = (3, 0.8);

/// Evidence that the line is a start-stop line at all, below which its elements say nothing
/// of the distance: what is read into a steady tone has its spaces where mark's own spectrum
/// reaches.
const DISTANCE_MARGIN: f32 = 25.0;
/// Tones are known well by a window with so many characters of at least this probability.
const KNOWN: (usize, f32) = (4, 0.9);

impl Follower {
    /// Keeps where the tones were when they were first known well: by their phases, or because
    /// all characters are sure.
    pub(super) fn note_tones(&mut self, reading: &WindowReading, commit_s: f64) {
        let sure = |r: &&Reading| r.probability() > KNOWN.1;
        let is_well =
            reading.look != Look::Closer && reading.readings.iter().filter(sure).count() >= KNOWN.0;
        if is_well && self.known_hz.is_none() {
            self.known_hz = Some([0, 1].map(|k| self.tracks[k].hz(commit_s)));
        }
    }

    /// Moves the tracks apart or together by what the elements before `commit_s` add to what
    /// is known of their distance.
    pub(super) fn measure_distance(
        &mut self,
        window: &Window,
        reading: &WindowReading,
        commit_s: f64,
    ) {
        if self.line.margin < DISTANCE_MARGIN {
            return;
        }
        let noise = self.levels.noise();
        let mut turns = turns(window, reading, noise);
        turns.retain(|t| t.at_s >= self.committed_s && t.at_s < commit_s);
        let distance_hz = self.tracks[0].hz(commit_s) - self.tracks[1].hz(commit_s);
        let phased = reading.look == Look::Phased;
        let by_hz = self
            .distance
            .learn(&turns, distance_hz, self.element_s, phased);
        let knots = window.knots();
        for (track, side) in self.tracks.iter_mut().zip([0.5, -0.5]) {
            *track = track.moved(&knots, |_| side * by_hz);
        }
    }

    /// Reads the window on trial with elements a little shorter and longer.
    pub(super) fn measure_speed(&mut self, window: &Window, reading: &WindowReading) {
        let (least, likely) = SPEED_CHARACTERS;
        let heard = reading.readings.iter().filter(|r| r.present > likely);
        if heard.count() < least || !self.speed.is_due() {
            return;
        }
        let known = self.known();
        let evidence = [-TRIAL, 0.0, TRIAL].map(|by| window.evidence_with(reading, &known, by));
        if let Some(element_s) = self.speed.learn(evidence, self.element_s) {
            self.element_s = element_s;
        }
    }
}
