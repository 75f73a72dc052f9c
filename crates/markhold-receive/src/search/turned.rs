//! Turned: the dial was turned, and what is being copied lies elsewhere now.
//!
//! A pair that is being copied bars all pairs that share a tone with it or lie in its
//! spectrum. After the dial was turned by about a shift, one of its tones lies on one of the
//! new place: that alone still reads as a keyed line, without end, and the true pair would be
//! barred for as long. So a pair whose tone has gone bars nothing that stands there in full,
//! and whichever of the two explains the latest sound better is copied.
//!
//! A tone that fades goes too, but then nothing stands elsewhere that is keyed against the
//! tone that is left.

use markhold_signal::{Band, BandPlan, Complex32};

use super::spectrum::{HUMP_HZ, Spectrum};

/// Tones nearer than this to one that is being copied belong to it, Hz.
const TAKEN_HZ: f64 = 35.0;
/// Between the tones of a shift below this there is no room for another signal, Hz.
const NARROW_HZ: f64 = 250.0;
/// A pair of the same shift within this of one being copied is the same, moved, Hz.
const MOVED_HZ: f64 = 90.0;
/// Shifts this near to each other are the same as measured, Hz.
const SAME_SHIFT_HZ: f64 = 20.0;
/// Two followers this near to each other are on the same pair, Hz.
const SAME_PLACE_HZ: f64 = 15.0;
/// A tone has gone when less than this share of the power of another pair's tones is there.
const GONE: f32 = 0.25;
/// The same for a tone that stands out by itself: nothing could be copied below that.
const DROWNED: f32 = 0.03;
/// The same in the long average, for a pair that its follower would find by itself: that takes
/// six seconds after a turn.
const GONE_NEAR: f32 = 0.04;
/// A tone of which less than this share of its power in the long average is there of late has
/// gone three seconds ago.
const LINGERS: f32 = 0.06;
/// Half the width over which a tone is measured, bins.
const HALF_BINS: usize = 3;
/// A tone this far from both of a pair's, Hz, and with more than this share of the stronger
/// one's power, is none of that pair's own spectrum: 13 dB below at most (the first side lobe of
/// a keyed tone).
const APART_HZ: f64 = 50.0;
const UNEXPLAINED: f32 = 0.1;
/// The power of late over the long average of a tone that is there still, and the inverse for
/// one that has been there for a second.
const STILL_HERE: f32 = 0.6;
const HERE_BEFORE: f32 = 0.55;
/// A tone that comes lifts its log power over noise by at least this much.
const LEAST_RISE: f32 = 1.5;
/// A part of a stretch is at least this long, frames: a quarter of a second.
const LEAST_PART: usize = 8;

/// A pair that is being copied.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Taken {
    /// The lower and the higher tone, Hz.
    pub tones_hz: [f64; 2],
    /// Modulation rate, baud, and which tone is mark: 0 the lower, 1 the higher.
    pub line: (f64, usize),
    /// Which tone is not sent at all, if one is not: 0 the lower, 1 the higher.
    pub missing: Option<usize>,
    /// Mean power of the lower and of the higher tone while sent, amplitude squared.
    pub power: [f32; 2],
}

/// How a pair stands to one that is being copied.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Beside {
    /// There is room for both.
    Free,
    /// It shares a tone with that pair, or lies between its tones, and has one of its own.
    Shared,
    /// It is that pair, or made of its tones.
    Barred,
    /// It would be barred, but the other's tones have gone.
    Rival,
}

/// The band in two averages with their floors.
#[derive(Clone, Copy)]
pub struct Averages<'a> {
    /// Over some seconds.
    pub long: (&'a Spectrum, &'a [f32]),
    /// Over the latest characters.
    pub late: (&'a Spectrum, &'a [f32]),
    /// Tones that stand out of late, Hz.
    pub late_tones: &'a [f64],
}

impl Averages<'_> {
    /// How `pair` stands to `taken`.
    pub fn beside(&self, pair: [f64; 2], taken: [f64; 2]) -> Beside {
        let has_gone = |(spectrum, floor): (&Spectrum, &[f32]), share: f32| {
            let there = pair.map(|hz| spectrum.power_at(floor, hz));
            let other = taken.map(|hz| spectrum.power_at(floor, hz));
            other[0].min(other[1]) < share * there[0].min(there[1])
        };
        // What stands out by itself is somebody's, if weaker; far down it is the other's own.
        let share = match taken.iter().all(|hz| self.stands_out(*hz)) {
            true => DROWNED,
            false => GONE,
        };
        let gone = match is_taken(pair, taken) {
            Bar::None => return Beside::Free,
            Bar::Tones if self.tones_of_its_own(pair, taken) > 0 => return Beside::Shared,
            Bar::Moved if self.is_another(pair, taken) => return Beside::Shared,
            Bar::Tones => has_gone(self.late, share),
            Bar::Moved => has_gone(self.late, share) && has_gone(self.long, GONE_NEAR),
        };
        if gone { Beside::Rival } else { Beside::Barred }
    }

    /// Whether `pair` is none of what is `taken`, moved a little: then either tone would be one of the
    /// old ones, and those would have gone.
    fn is_another(&self, pair: [f64; 2], taken: [f64; 2]) -> bool {
        let stand = taken.iter().all(|hz| self.stands_out(*hz));
        stand && self.tones_of_its_own(pair, taken) == pair.len()
    }

    /// How many keyed tones `pair` has that what is `taken`, and there, does not explain: apart
    /// from its tones, and too strong for a part of their spectra. The trial knows two carriers
    /// from a line.
    fn tones_of_its_own(&self, pair: [f64; 2], taken: [f64; 2]) -> usize {
        let [long, late] = [self.long, self.late]
            .map(|(spectrum, floor)| move |hz: f64| spectrum.power_at(floor, hz));
        let strongest = long(taken[0]).max(long(taken[1]));
        let is_apart = |hz: f64| taken.iter().all(|t| (t - hz).abs() > APART_HZ);
        // Not both at once after a turn of the dial: the old tones are here still for half
        // a second, the new ones have been here for one.
        let is_here = |hz: &f64| late(*hz) > STILL_HERE * long(*hz);
        let was_here = |hz: f64| long(hz) > HERE_BEFORE * late(hz);
        let its_own = |hz: &f64| {
            let is_strong = long(*hz) > UNEXPLAINED * strongest;
            is_apart(*hz) && is_strong && was_here(*hz) && !self.long.0.is_steady_at(*hz)
        };
        match taken.iter().all(is_here) {
            true => pair.iter().filter(|hz| its_own(hz)).count(),
            false => 0,
        }
    }

    fn stands_out(&self, hz: f64) -> bool {
        self.late_tones
            .iter()
            .any(|tone| (tone - hz).abs() < HUMP_HZ)
    }

    /// Whether `pair` may be `taken` after a turn of the dial: of the same shift, at a place
    /// of its own, and neither of the other's tones is left.
    pub fn has_moved(&self, pair: [f64; 2], taken: [f64; 2]) -> bool {
        let (spectrum, floor) = self.late;
        let there = pair.map(|hz| spectrum.power_at(floor, hz));
        let before = taken.map(|hz| spectrum.power_at(floor, hz));
        is_same_shift(pair, taken) && before[0].max(before[1]) < GONE * there[0].min(there[1])
    }

    /// Whether a tone is there still, and not only in the long average.
    pub fn is_there(&self, hz: f64) -> bool {
        let ((late, late_floor), (long, floor)) = (self.late, self.long);
        late.power_at(late_floor, hz) > LINGERS * long.power_at(floor, hz)
    }
}

/// Whether two followers are on the same pair.
pub fn is_same_place(a: [f64; 2], b: [f64; 2]) -> bool {
    (0..2).all(|k| (a[k] - b[k]).abs() < SAME_PLACE_HZ)
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Bar {
    None,
    /// It is that pair, a little further on.
    Moved,
    /// It shares a tone with it, or lies in its spectrum.
    Tones,
}

/// Whether a tone belongs to a pair that is being copied, or lies in its spectrum.
pub fn is_tone_of(hz: f64, taken: &Taken) -> bool {
    match taken.missing {
        Some(missing) => (hz - taken.tones_hz[1 - missing]).abs() < APART_HZ,
        None => is_taken([hz; 2], taken.tones_hz) != Bar::None,
    }
}

/// Whether two pairs have the same shift as measured.
pub fn is_same_shift(a: [f64; 2], b: [f64; 2]) -> bool {
    ((a[1] - a[0]) - (b[1] - b[0])).abs() < SAME_SHIFT_HZ
}

fn is_taken(pair: [f64; 2], taken: [f64; 2]) -> Bar {
    let narrow = taken[1] - taken[0] < NARROW_HZ;
    let inside = |hz: &f64| (taken[0] - TAKEN_HZ..taken[1] + TAKEN_HZ).contains(hz);
    let shared = |hz: &f64| taken.iter().any(|t| (t - hz).abs() < TAKEN_HZ);
    let near = (0..2).all(|k| (taken[k] - pair[k]).abs() < MOVED_HZ);
    if near && is_same_shift(pair, taken) {
        Bar::Moved
    } else if pair.iter().any(|hz| shared(hz) || narrow && inside(hz)) {
        Bar::Tones
    } else {
        Bar::None
    }
}

/// Where the tones of `pair` came up within a stretch, s; `None` if they did not. `noise` is
/// Hann power in a bin.
pub fn came(
    band: &Band,
    pair: [f64; 2],
    noise: [f32; 2],
    (from_s, to_s): (f64, f64),
) -> Option<f64> {
    let plan = band.plan();
    let first = plan.frame_holding((from_s * plan.rate_hz) as i64);
    let frames = first.max(band.oldest_frame())..band.next_frame();
    let level = |i: u64| Some((plan.middle_s(i), level(plan, band.frame(i)?, pair, noise)));
    let levels: Vec<(f64, f32)> = frames.filter_map(level).filter(|l| l.0 < to_s).collect();
    let at = rise(&levels.iter().map(|l| l.1).collect::<Vec<f32>>())?;
    Some(levels[at].0)
}

/// Log power over noise of both tones in one frame; `noise` is Hann power in a bin.
fn level(plan: BandPlan, bins: &[Complex32], pair: [f64; 2], noise: [f32; 2]) -> f32 {
    let of = |k: usize| {
        let centre = (pair[k] / plan.bin_hz()).round() as usize;
        let from = centre.saturating_sub(HALF_BINS).max(1);
        let to = (centre + HALF_BINS).min(bins.len() - 2);
        let power: f32 = (from..=to).map(|j| Band::hann_power(bins, j)).sum();
        power / (noise[k] * (1 + to - from) as f32).max(f32::MIN_POSITIVE)
    };
    of(0).ln_1p() + of(1).ln_1p()
}

/// The first place of the later part, where levels fall best into two parts of which the
/// later one is higher.
fn rise(levels: &[f32]) -> Option<usize> {
    let all: f32 = levels.iter().sum();
    let count = levels.len();
    let mut before = 0.0;
    let mut best: Option<(f32, usize)> = None;
    for (i, level) in levels.iter().enumerate() {
        let (early, late) = (i as f32, (count - i) as f32);
        if i >= LEAST_PART && count - i >= LEAST_PART {
            let rise = (all - before) / late - before / early;
            let apart = rise * rise * early * late;
            if rise > LEAST_RISE && best.is_none_or(|b| apart > b.0) {
                best = Some((apart, i));
            }
        }
        before += level;
    }
    best.map(|b| b.1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pair::testing::{Random, levelled, sound};
    use crate::search::passband::Passband;
    use crate::search::spectrum::{AVERAGE_S, LATE_AVERAGE_S};

    /// Keyed at random at 50 baud: one pair until `turn_s`, the other from there on.
    fn turned(before: [f64; 2], after: [f64; 2], turn_s: f64, until_s: f64) -> Vec<f32> {
        let mut random = Random::new(5);
        let marks: Vec<bool> = (0..2000).map(|_| random.uniform() < 0.5).collect();
        sound(until_s, 0.05, |t| {
            let pair = if t < turn_s { before } else { after };
            let hz = pair[usize::from(marks[(t * 50.0) as usize])];
            0.1 * (std::f64::consts::TAU * hz * t).cos()
        })
    }

    fn spectrum_of(sound: &[f32], average_s: f64) -> Spectrum {
        let levelled = levelled(sound);
        let mut spectrum = Spectrum::new(levelled.band().plan(), average_s);
        // What comes after the end is silence.
        for i in 0..levelled.band().next_frame() - 4 {
            spectrum.add(levelled.band().frame(i).expect("all are kept"));
        }
        spectrum
    }

    #[test]
    fn what_is_copied_already_is_taken() {
        let (narrow, wide) = ([1000.0, 1170.0], [1000.0, 1850.0]);
        let table = [
            // the pair; taken beside the narrow one, beside the wide one
            ([1000.0, 1170.0], true, true),
            ([1034.0, 1600.0], true, true),
            ([700.0, 1001.0], true, true),
            ([1085.0, 1500.0], true, false),
            ([500.0, 1204.0], true, false),
            ([500.0, 670.0], false, false),
            ([1300.0, 1470.0], false, false),
            // The dial was moved: the same shift at another place.
            ([1080.0, 1250.0], true, false),
            ([1080.0, 1930.0], true, true),
            ([910.5, 1085.0], true, false),
            ([1206.0, 1376.0], false, false),
            ([1206.0, 1880.0], false, true),
        ];
        for (pair, beside_narrow, beside_wide) in table {
            let found = [narrow, wide].map(|t| is_taken(pair, t) != Bar::None);
            assert_eq!(found, [beside_narrow, beside_wide], "{pair:?}");
        }
    }

    /// What is seen in the averages of sound.
    fn with<T>(sound: &[f32], see: impl FnOnce(Averages) -> T) -> T {
        let [long, late] = [AVERAGE_S, LATE_AVERAGE_S].map(|s| spectrum_of(sound, s));
        let (long_floor, late_floor) = (
            long.floor(&Passband::default()),
            late.floor(&Passband::default()),
        );
        let peaks = late.peaks(&late_floor);
        let late_tones: Vec<f64> = peaks.iter().map(|peak| peak.hz).collect();
        see(Averages {
            long: (&long, &long_floor),
            late: (&late, &late_floor),
            late_tones: &late_tones,
        })
    }

    #[test]
    fn a_pair_bars_others_until_it_has_gone() {
        let before = [1000.0, 1170.0];
        for by_hz in [-250.0, -170.0, -110.0, 110.0, 140.0, 170.0, 200.0] {
            let after = before.map(|hz| hz + by_hz);
            let [barred, rival] = match by_hz {
                -250.0 => [Beside::Free; 2],
                _ => [Beside::Barred, Beside::Rival],
            };
            for (until_s, expected) in [(6.3, barred), (9.2, rival)] {
                let sound = turned(before, after, 6.0, until_s);
                let (new, old) = with(&sound, |a| {
                    (a.beside(after, before), a.beside(before, after))
                });
                assert_eq!(new, expected, "{by_hz} Hz, {until_s} s");
                assert!(
                    until_s < 8.0 || old != Beside::Rival,
                    "the old place is no rival"
                );
            }
        }
    }

    #[test]
    fn a_turn_within_reach_of_the_follower_is_left_to_it() {
        let (before, after) = ([1000.0, 1170.0], [1060.0, 1230.0]);
        let sound = turned(before, after, 6.0, 9.5);
        assert_eq!(with(&sound, |a| a.beside(after, before)), Beside::Barred);
    }

    /// Next door with the same shift, and not one of them moved: all four tones are there at once.
    #[test]
    fn a_neighbour_of_the_same_shift_is_another_one() {
        let (one, other) = ([1000.0, 1170.0], [1085.0, 1255.0]);
        let other_sound = turned(other, other, 6.0, 8.0);
        let both = |share: f32| {
            let one_sound = turned(one, one, 6.0, 8.0);
            let pairs = other_sound.iter().zip(&one_sound[700..]);
            let sum: Vec<f32> = pairs.map(|(a, b)| a + share * b).collect();
            with(&sum, |a| a.beside(other, one))
        };
        assert_eq!(both(1.0), Beside::Shared, "as strong");
        assert_eq!(both(0.35), Beside::Shared, "9 dB down");
        assert_eq!(both(0.0), Beside::Rival, "nothing");
    }

    #[test]
    fn what_has_gone_is_there_no_more() {
        let (before, after) = ([1000.0, 1170.0], [1400.0, 1570.0]);
        for (until_s, there) in [(6.5, true), (10.5, false)] {
            let sound = turned(before, after, 6.0, until_s);
            let found = with(&sound, |a| before.map(|hz| a.is_there(hz)));
            assert_eq!(found, [there; 2], "{until_s} s");
            let moved = with(&sound, |a| a.has_moved(after, before));
            assert_eq!(moved, !there, "{until_s} s");
        }
    }

    #[test]
    fn the_moment_of_a_turn_is_found() {
        let (before, after) = ([1000.0, 1170.0], [1400.0, 1570.0]);
        for turn_s in [3.0, 5.0, 6.5] {
            let levelled = levelled(&turned(before, after, turn_s, 8.0));
            // White noise of variance 0.0025 with a Hann window, 3/2 per sample.
            let noise = [(0.0025 * 1.5 * levelled.band().plan().frame as f64) as f32; 2];
            let came = |pair| came(levelled.band(), pair, noise, (1.0, 8.0));
            let found_s = came(after).expect("they came");
            assert!((found_s - turn_s).abs() < 0.1, "{found_s} for {turn_s}");
            assert_eq!(came(before), None, "they were there from the begin");
        }
    }

    #[test]
    fn even_levels_have_no_rise() {
        assert_eq!(rise(&[]), None);
        assert_eq!(rise(&[2.0; 100]), None);
        let step: Vec<f32> = (0..100).map(|i| if i < 30 { 1.0 } else { 4.0 }).collect();
        assert_eq!(rise(&step), Some(30));
        let fall: Vec<f32> = step.iter().rev().copied().collect();
        assert_eq!(rise(&fall), None);
    }
}
