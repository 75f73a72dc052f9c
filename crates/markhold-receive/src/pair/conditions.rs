//! Conditions: what there was to hear around one character, for telling why it is doubtful.
//!
//! 1. **tones**: how strong they were, what was heard of the one that was not sent, how they
//!    turned within elements.
//! 2. **places**: whether transitions would fit better at other places in time.
//! 3. **residue**: what is left within the pair when the tones are taken out.
//! 4. **beside**: what else there is in the spectrum around the tones.
//!
//! All of it is measured and nothing decided; [`crate::copy::doubt`] weighs it.

mod beside;
mod places;
mod residue;
mod tones;

use super::track::Track;
use super::window::{Look, STEPS, Window, WindowReading};
use crate::characters::reading::Reading;
use crate::levelled::Levelled;
use places::Places;

/// The conditions under which a character was received. Energies are those of an element
/// over noise density, linear; lengths are in elements.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Conditions {
    /// Where mark and space were taken to be, Hz.
    pub tones_hz: [f32; 2],
    /// Energy of mark and of space while sent, mean over the character.
    pub energy: [f32; 2],
    /// Share of the character that was not blanked, 0 to 1.
    pub clear: f32,
    /// The same for the element of which least is left.
    pub least_clear: f32,
    /// Level of the noise beside the tones as the receiver gave it out, its gain included, dB
    /// over any level that stays.
    pub floor_db: f32,
    /// How far that lies below the highest it has been of late, dB: how far the receiver's
    /// gain is turned down. Told by [`crate::copy`], which remembers.
    pub turned_down_db: f32,
    /// The most that the gain moves from 0.1 s before to 0.1 s after the character, dB.
    pub pumping_db: f32,
    /// Power heard at the tone that was not sent over the noise expected there, mean of the
    /// elements. 1 is usual.
    pub other: f32,
    /// How far the powers that mark and space showed in the character and around it lie
    /// apart, in standard deviations.
    pub apart: f32,
    /// Strongest steady line within the pair beside the tones, over the noise; some 4 where
    /// there is none.
    pub line: f32,
    /// How far the tones lie off their tracks, Hz, around the character, and how sure that
    /// is, in standard deviations.
    pub off: [f32; 2],
    /// How far the tracks move within a second on either side, Hz.
    pub moved_hz: f32,
    /// What elements would gain in power over noise if every transition lay where it fits
    /// best, mean over the transitions.
    pub edges: f32,
    /// The same, mean of the latest characters. Told by [`crate::copy`], which remembers.
    pub edges_usual: f32,
    /// By how much marks last longer than they should where every transition lies where it
    /// fits best, elements; negative if spaces do. Mean of the latest characters, told by
    /// [`crate::copy`].
    pub longer_marks: f32,
    /// By how much the gaps before and after it differ from those of all other characters,
    /// elements, beyond what they scatter. 0 where they have no one length. Told by the
    /// follower, which knows them.
    pub misplaced: [f32; 2],
    /// Probability that the line stood at mark throughout the gap before it, told by the
    /// follower; 0 where that is not known.
    pub idled: f32,
    /// Noise under mark and under space over that beside the tones. 1 is usual.
    pub under: [f32; 2],
    /// Strongest power beside the tones within reach, over the noise there.
    pub beside: f32,
    /// How much the power of either tone varies within a second on either side: standard
    /// deviation of its natural logarithm.
    pub varies: f32,
    /// How closely it was read.
    pub look: Look,
    /// What the evidence claims: the probability that there is a character at all, and that
    /// of its code if there is.
    pub claimed: [f32; 2],
}

impl Conditions {
    /// Those of two receivers under which the character was stronger.
    pub fn stronger(self, other: Self) -> Self {
        let energy = |c: &Self| (c.energy[0] + c.energy[1]) * c.clear;
        match energy(&other) > energy(&self) {
            true => other,
            false => self,
        }
    }
}

/// All that a character's conditions are taken from.
pub struct Surroundings<'a> {
    /// The window.
    pub window: &'a Window,
    /// What was read in it.
    pub reading: &'a WindowReading,
    /// Where mark and space lie.
    pub tracks: &'a [Track; 2],
    /// The sound.
    pub sound: &'a Levelled,
}

/// How far before and after a character the gain is looked at, s.
const GAIN_AROUND_S: f64 = 0.1;
/// How far before and after a character the tracks are looked at, s.
const TRACK_AROUND_S: f64 = 1.0;
/// Length of start, code and the first unit of the stop element, elements.
const ELEMENTS: usize = 7;

impl Surroundings<'_> {
    /// The conditions of one of the window's characters.
    pub fn of(&self, character: &Reading) -> Conditions {
        let last = self.window.clear.len() - 1;
        let start = (character.start.round().max(0.0) as usize).min(last);
        let end = (start + ELEMENTS * STEPS).min(last);
        let lies = Lies {
            start,
            end,
            elements: (end - start) / STEPS,
            from_s: self.window.grid.at(start as f64),
            to_s: self.window.grid.at(end as f64),
        };
        let tones = tones::measure(self, character, &lies);
        let beside = beside::measure(self, &lies);
        let places = Places::fit(self, character, &lies);
        let (clear, least_clear) = self.clear(&lies);
        let middle_s = (lies.from_s + lies.to_s) / 2.0;
        Conditions {
            tones_hz: [0, 1].map(|k| self.tracks[k].hz(middle_s) as f32),
            energy: tones.energy,
            clear,
            least_clear,
            floor_db: beside.floor_db - self.gain_db(&lies),
            turned_down_db: 0.0,
            pumping_db: self.pumping_db(&lies),
            apart: tones.apart,
            line: residue::line(self, character, &lies, &places),
            other: tones.other,
            off: tones.off,
            moved_hz: self.moved_hz(&lies),
            edges: places.gained,
            edges_usual: places.gained,
            longer_marks: places.longer_marks,
            misplaced: [0.0; 2],
            idled: 0.0,
            under: beside.under,
            beside: beside.strongest,
            varies: tones.varies,
            look: self.reading.look,
            claimed: [character.present, character.codes[character.best()]],
        }
    }

    /// Noise power of an element of a tone.
    fn noise(&self, tone: usize) -> f32 {
        self.reading.tones[tone].noise[0].max(f32::MIN_POSITIVE)
    }

    /// Share left of the character, and of the element of which least is.
    fn clear(&self, lies: &Lies) -> (f32, f32) {
        let clear = &self.window.clear;
        let length = (lies.end - lies.start).max(1) as f32 / STEPS as f32;
        let all = (clear[lies.end] - clear[lies.start]) / length;
        let element = |k: usize| {
            let from = lies.start + k * STEPS;
            clear[from + STEPS] - clear[from]
        };
        (all, (0..lies.elements).map(element).fold(all, f32::min))
    }

    /// Gain undone over the character, dB.
    fn gain_db(&self, lies: &Lies) -> f32 {
        self.sound.gain_db(lies.from_s, lies.to_s) as f32
    }

    /// The most that the gain moves around the character, dB.
    fn pumping_db(&self, lies: &Lies) -> f32 {
        const PARTS: usize = 12;
        let (from, to) = (lies.from_s - GAIN_AROUND_S, lies.to_s + GAIN_AROUND_S);
        let step = (to - from) / PARTS as f64;
        let part = |i: usize| {
            let at = from + i as f64 * step;
            self.sound.gain_db(at, at + step)
        };
        let all = (0..PARTS).map(part);
        let (least, most) = all.fold((f64::MAX, f64::MIN), |(a, b), g| (a.min(g), b.max(g)));
        (most - least) as f32
    }

    fn moved_hz(&self, lies: &Lies) -> f32 {
        let middle = (lies.from_s + lies.to_s) / 2.0;
        let hz = |at: f64| self.tracks[0].hz(at) + self.tracks[1].hz(at);
        let moved =
            [-TRACK_AROUND_S, TRACK_AROUND_S].map(|by| (hz(middle + by) - hz(middle)).abs());
        (0.5 * moved[0].max(moved[1])) as f32
    }
}

/// Where a character lies in its window.
struct Lies {
    /// Grid points of its begin and of the end of the stop element's first unit.
    start: usize,
    end: usize,
    /// Elements of it that the window holds whole.
    elements: usize,
    /// The same places as instants, s.
    from_s: f64,
    to_s: f64,
}

/// Probability of mark in element `k` of a character, 0 being the start element.
fn mark(character: &Reading, k: usize) -> f32 {
    match k {
        0 => 0.0,
        6 => 1.0,
        k => character.mark(k - 1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::characters::framing::{Carry, LinePriors};
    use crate::pair::levels::Levels;
    use crate::pair::testing::{RATE_HZ, levelled, sound};
    use crate::pair::tones::ToneCutter;
    use crate::pair::window::Known;
    use markhold_signal::{BandPlan, bessel::LnI0};
    use std::f64::consts::TAU;

    const NOISE: f64 = 0.05;
    const AMPLITUDE: f64 = 0.1;
    const ELEMENT_S: f64 = 0.02;
    /// R, combination 10 of ITU-T S.1 (elements 2 and 4 mark), from start to stop element.
    const MARKS: [bool; 7] = [false, false, true, false, true, false, true];

    /// Element of R without end, one stop unit, at `t` from the first start.
    fn is_mark(t: f64) -> bool {
        t < 0.0 || MARKS[(t / ELEMENT_S) as usize % 7]
    }

    /// What is sent: 1000 Hz mark and 1170 Hz space with these amplitudes.
    fn sent(t: f64, [mark, space]: [f64; 2], off_hz: f64, is_mark: bool) -> f64 {
        match is_mark {
            true => mark * (TAU * (1000.0 + off_hz) * t).cos(),
            false => space * (TAU * (1170.0 + off_hz) * t).cos(),
        }
    }

    /// As it should be.
    fn clean(t: f64) -> f64 {
        sent(t, [AMPLITUDE; 2], 0.0, is_mark(t - 0.3))
    }

    /// Conditions of a character of `samples` in the middle of a window.
    fn conditions(samples: &[f32]) -> Conditions {
        let sound = levelled(samples);
        let tracks = [1000.0, 1170.0].map(Track::constant);
        let mut cutter = ToneCutter::new(BandPlan::new(RATE_HZ), 1.0 / ELEMENT_S);
        let window = Window::cut(&mut cutter, &sound, &tracks, ELEMENT_S, (1.0, 3.0));
        // A steady tone integrates to half its amplitude; one-sided noise over an element.
        let noise = [(NOISE * NOISE / RATE_HZ / ELEMENT_S) as f32; 2];
        let power = (AMPLITUDE * AMPLITUDE / 4.0) as f32;
        let reading = window.read(&Known {
            tracks: &tracks,
            levels: &Levels::new([power; 2], noise),
            priors: &LinePriors::unknown(STEPS),
            carry: &Carry::nothing(),
            ln_i0: &LnI0::default(),
        });
        // Where the tenth character was sent, read as it was sent: 0.3 s and 9 times 0.14 s.
        let mut codes = [0.0; 32];
        codes[0b01010] = 1.0;
        let character = Reading {
            start: (1.56 - 1.0) / window.grid.step_s,
            spread: 0.0,
            present: 1.0,
            codes,
        };
        let surroundings = Surroundings {
            window: &window,
            reading: &reading,
            tracks: &tracks,
            sound: &sound,
        };
        surroundings.of(&character)
    }

    fn of(sent: impl Fn(f64) -> f64) -> Conditions {
        conditions(&sound(4.0, NOISE, sent))
    }

    #[test]
    fn a_clean_signal_shows_nothing_but_itself() {
        let c = of(clean);
        assert_eq!((c.clear, c.least_clear), (1.0, 1.0));
        // 0.0025 over 0.05 squared by 8000 Hz and 0.02 s: 160.
        assert!(
            c.energy.iter().all(|e| (e / 160.0 - 1.0).abs() < 0.3),
            "{c:?}"
        );
        // Of the tone sent, sin(3.4 pi) / (3.4 pi), 0.8 %, falls into the silent one's filter.
        assert!(c.other < 4.5 && c.line < 15.0, "{c:?}");
        assert!(c.beside < 8.0, "{c:?}");
        assert!(c.under.iter().all(|u| (0.5..2.0).contains(u)), "{c:?}");
        assert!(c.edges < 3.0 && c.off[0].abs() < 0.5, "{c:?}");
        assert!(
            c.apart < 3.0 && c.varies < 0.1 && c.moved_hz == 0.0,
            "{c:?}"
        );
        assert_eq!(c.tones_hz, [1000.0, 1170.0]);
    }

    #[test]
    fn a_carrier_shows_within_the_pair_and_beside_it() {
        let with = |hz: f64| of(|t| clean(t) + AMPLITUDE * (TAU * hz * t).cos());
        let (within, beside) = (with(1085.0), with(1400.0));
        assert!(within.line > 100.0, "{within:?}");
        assert!(beside.beside > 100.0 && beside.line < 15.0, "{beside:?}");
    }

    #[test]
    fn tones_off_their_place_show_by_how_much() {
        for off_hz in [-6.0, 6.0] {
            let c = of(|t| sent(t, [AMPLITUDE; 2], off_hz, is_mark(t - 0.3)));
            assert!((f64::from(c.off[0]) - off_hz).abs() < 1.0, "{c:?}");
            assert!(c.off[1] > 2.0, "{c:?}");
        }
    }

    #[test]
    fn transitions_at_wrong_times_show_in_the_edges() {
        let clean = of(clean);
        // Into mark a third of an element early: that much of every transition to mark, none
        // of those to space, is half of it in the mean.
        let early = |t: f64| is_mark(t) || is_mark(t + ELEMENT_S / 3.0);
        let biased = of(|t| sent(t, [AMPLITUDE; 2], 0.0, early(t - 0.3)));
        assert!(
            biased.edges > clean.edges + 10.0,
            "{biased:?}, clean {clean:?}"
        );
        assert!((biased.longer_marks - 1.0 / 6.0).abs() < 0.05, "{biased:?}");
        assert!(clean.longer_marks.abs() < 0.05, "{clean:?}");
        // Nor are they taken for a neighbour.
        assert!(biased.line < 15.0, "{biased:?}");
    }

    #[test]
    fn a_tone_that_is_weaker_lies_apart() {
        let c = of(|t| sent(t, [AMPLITUDE, 0.3 * AMPLITUDE], 0.0, is_mark(t - 0.3)));
        assert!(c.apart > 5.0, "{c:?}");
    }

    #[test]
    fn a_crash_leaves_less_of_an_element() {
        let mut samples = sound(4.0, NOISE, clean);
        let crash = (1.60 * RATE_HZ) as usize..(1.63 * RATE_HZ) as usize;
        let random = sound(4.0, 40.0 * NOISE, |_| 0.0);
        for i in crash {
            samples[i] += random[i];
        }
        let c = conditions(&samples);
        assert!(c.least_clear < 0.3, "{c:?}");
        assert!((0.5..0.95).contains(&c.clear), "{c:?}");
    }

    #[test]
    fn a_gain_turned_down_shows_in_the_noise() {
        // Down to a tenth, 20 dB, from 1.2 s to 2.2 s.
        let pumped: Vec<f32> = sound(4.0, NOISE, clean)
            .iter()
            .enumerate()
            .map(|(i, x)| match (9600..17_600).contains(&i) {
                true => x * 0.1,
                false => *x,
            })
            .collect();
        let fallen = of(clean).floor_db - conditions(&pumped).floor_db;
        assert!((fallen - 20.0).abs() < 4.0, "{fallen} dB");
    }
}
