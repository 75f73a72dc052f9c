//! Jumps: somebody nudged the dial, and both tones are elsewhere from one moment to the
//! next.
//!
//! The fine tuning of a pair pulls in some ten hertz. Beyond that, the spectra of the band
//! are compared with the two humps the pair should show, moved by any offset, and the most
//! likely course of the offset through the window is taken (Viterbi's algorithm). Moving
//! costs so much that a course which stays is only left for a better one that lasts. What has
//! been heard after the window is looked at as well where there is some: a signal whose begin
//! is read is known to be where it was found later, and what stands elsewhere then is somebody
//! else's ([`Found`]).

use markhold_signal::{Band, BandPlan, Complex32};

use super::found::Found;
use super::hump::{HUMP, frames, hump_power};
use super::others::{Frame, Others};
use super::track::Track;

/// Sound of so long before and after a window tells what stands beside the tones, s.
const AROUND_S: f64 = 6.0;
/// Greatest jump, Hz. More would reach the other tone of the narrowest shift.
const GREATEST_HZ: f64 = 80.0;
/// Offsets below this are left to the fine tuning, Hz.
const LEAST_HZ: f64 = 11.0;
/// Log probability of a jump to any offset, and of a move by one bin, from frame to frame.
const JUMP: f32 = -14.0;
const STEP: f32 = -5.0;
/// Weight of a frame. Frames overlap by three quarters, so each tells little that is new.
const FRAME_WEIGHT: f32 = 0.25;
/// A keyed tone's own hump counts as reaching so far, as a part of the modulation rate: there its
/// spectrum, sinc² of random keying, is 9 dB down, and at the rate itself it is nothing.
const OWN_REACH: f64 = 0.7;
/// A hump counts for no more than what the tone's own place exceeds for a tenth of the time around,
/// or for so much over noise: what is much stronger is somebody else's.
const PART_OF_TIME: f64 = 0.1;
const LEAST_OWN: f32 = 3.0;
/// A hump counts for no more than this in any case.
const MOST_OWN: f32 = 60.0;
/// A jump is settled to a bin beside by the whole stretch after it: so many bins to either side.
const SETTLED_BINS: usize = 2;

/// Moves the tracks of both tones by the jumps within a window `from_s` to `to_s`; sound is looked
/// at up to where the pair was `found`, if that is later. `noise` is the noise power of one element
/// of `element_s` in each tone's stream.
pub fn follow_jumps(
    band: &Band,
    tracks: &mut [Track; 2],
    noise: [f32; 2],
    element_s: f64,
    ((from_s, to_s), found): ((f64, f64), Option<Found>),
) {
    let plan = band.plan();
    let bin_hz = plan.bin_hz();
    let reach = (GREATEST_HZ / bin_hz).round() as i64;
    let scale = (1.5 * plan.frame as f64 * plan.rate_hz * element_s) as f32;
    let index = |s: f64| plan.frame_holding((s.max(0.0) * plan.rate_hz) as i64);
    let first = index(from_s - AROUND_S).max(band.oldest_frame());
    let until_s = found.map_or(to_s, |f| f.at_s.clamp(to_s, to_s + AROUND_S));
    let around = frames(band, first, until_s);
    let new = &around[around
        .len()
        .min(index(from_s).saturating_sub(first) as usize)..];
    let others = beside(plan, (tracks, 1.0 / element_s), (&around, new), reach);
    let found = found.filter(|found| found.at_s > to_s);
    let taken =
        found.and_then(|found| found.taken(band, noise.map(|n| n * scale), 1.0 / element_s));
    let beneath = |k: usize, bin: i64| (noise[k] * scale).max(others[k].power(bin));
    let centres = |t: f64| [0, 1].map(|k: usize| (tracks[k].hz(t) / bin_hz).round() as i64);
    let hump = |k: usize, (t, bins): &Frame| hump_power(bins, centres(*t)[k], |b| beneath(k, b));
    let own = [0, 1].map(|k: usize| {
        exceeded(around.iter().map(|f| hump(k, f)).collect()).clamp(LEAST_OWN, MOST_OWN)
    });
    let scores = |most: [f32; 2]| -> Vec<Vec<f32>> {
        let scored = |(t, bins): &Frame| {
            let mut scores = score(bins, centres(*t), beneath, most, reach);
            if let Some(taken) = &taken {
                taken.bar(&mut scores, centres(*t)[0] - reach);
            }
            scores
        };
        new.iter().map(scored).collect()
    };
    let course = likeliest(&scores(own), reach as usize);
    if course.iter().all(|o| *o == reach as usize) {
        return;
    }
    let course = settled(&course, &scores([f32::INFINITY; 2]), reach as usize);
    let knots: Vec<f64> = new.iter().map(|f| f.0).take_while(|t| *t < to_s).collect();
    let offsets: Vec<i64> = course[..knots.len()]
        .iter()
        .map(|o| *o as i64 - reach)
        .collect();
    let least = (LEAST_HZ / bin_hz).ceil() as i64;
    if offsets.iter().any(|o| o.abs() >= least) {
        for track in tracks {
            *track = track.moved(&knots, |i| offsets[i] as f64 * bin_hz);
        }
    }
}

/// What a list exceeds for a part of the time, [`PART_OF_TIME`]; 0 of nothing.
fn exceeded(mut list: Vec<f32>) -> f32 {
    let place = (list.len() as f64 * PART_OF_TIME) as usize;
    list.sort_by(|a, b| b.total_cmp(a));
    list.get(place).copied().unwrap_or(0.0)
}

/// What stands beside each tone within reach of a jump in the window's new frames. A keyed tone's
/// own hump reaches to either side by a part of the modulation rate, [`OWN_REACH`].
fn beside(
    plan: BandPlan,
    (tracks, rate_hz): (&[Track; 2], f64),
    (around, new): (&[Frame], &[Frame]),
    reach: i64,
) -> [Others; 2] {
    let half = reach + (HUMP.len() / 2) as i64;
    [0, 1].map(|k: usize| {
        let places = new.iter().map(|f| tracks[k].hz(f.0) / plan.bin_hz());
        let low = places.clone().fold(f64::INFINITY, f64::min).floor() as i64;
        let high = places.fold(0.0, f64::max).ceil() as i64;
        let own_hz = OWN_REACH * rate_hz;
        Others::new(plan, (tracks, own_hz), around, (low - half, high + half))
    })
}

/// How well one frame's two humps fit around `centres`, moved by each offset up to `reach`.
/// `beneath` is the power of noise and of others in a bin of each tone's, `own` what its hump
/// counts for at most.
fn score(
    bins: &[Complex32],
    centres: [i64; 2],
    beneath: impl Fn(usize, i64) -> f32,
    own: [f32; 2],
    reach: i64,
) -> Vec<f32> {
    let hump = |k: usize, o: i64| hump_power(bins, centres[k] + o, |bin| beneath(k, bin));
    let power = |k: usize, o: i64| hump(k, o).min(own[k]);
    (-reach..=reach)
        .map(|o| FRAME_WEIGHT * (power(0, o).ln_1p() + power(1, o).ln_1p()))
        .collect()
}

/// The likeliest course through scores, one list of offsets per frame, from offset `still`
/// on.
fn likeliest(scores: &[Vec<f32>], still: usize) -> Vec<usize> {
    let offsets = 2 * still + 1;
    let mut best: Vec<f32> = (0..offsets)
        .map(|o| if o == still { 0.0 } else { JUMP })
        .collect();
    let mut from: Vec<Vec<usize>> = Vec::with_capacity(scores.len());
    for frame in scores {
        let top = highest(&best, 0);
        let steps: Vec<(f32, usize)> = (0..offsets).map(|o| best_way(&best, top, o)).collect();
        best = steps
            .iter()
            .zip(frame)
            .map(|(s, score)| s.0 + score)
            .collect();
        from.push(steps.into_iter().map(|s| s.1).collect());
    }
    let mut at = highest(&best, still);
    let mut course = vec![still; scores.len()];
    for i in (0..scores.len()).rev() {
        course[i] = at;
        at = from[i][at];
    }
    course
}

/// A course of which every stretch that stays elsewhere lies at the best of the offsets beside it.
fn settled(course: &[usize], scores: &[Vec<f32>], still: usize) -> Vec<usize> {
    let mut begin = 0;
    let mut settled = Vec::with_capacity(course.len());
    for stretch in course.chunk_by(|a, b| a == b) {
        let (at, end) = (stretch[0], begin + stretch.len());
        let sum = |o: usize| scores[begin..end].iter().map(|s| s[o]).sum::<f32>();
        let beside = at.saturating_sub(SETTLED_BINS)..=(at + SETTLED_BINS).min(2 * still);
        let best = beside.max_by(|a, b| sum(*a).total_cmp(&sum(*b)));
        let at = if at == still { at } else { best.unwrap_or(at) };
        settled.extend(std::iter::repeat_n(at, stretch.len()));
        begin = end;
    }
    settled
}

/// The best way to offset `o`: staying, from the offset beside, or from the best of all.
fn best_way(best: &[f32], top: usize, o: usize) -> (f32, usize) {
    let beside = [o.saturating_sub(1), (o + 1).min(best.len() - 1)];
    let mut choice = (best[o], o);
    for (other, cost) in [(top, JUMP), (beside[0], STEP), (beside[1], STEP)] {
        if other != o && best[other] + cost > choice.0 {
            choice = (best[other] + cost, other);
        }
    }
    choice
}

/// Where the highest value stands; `or` if none is higher than the one there.
fn highest(list: &[f32], or: usize) -> usize {
    (0..list.len()).fold(or, |a, b| if list[b] > list[a] { b } else { a })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pair::testing::{Random, levelled, sound};

    #[test]
    fn a_lasting_jump_is_followed_and_a_flicker_is_not() {
        let frame = |at: usize| {
            (0..21)
                .map(|o| if o == at { 2.0 } else { 0.5 })
                .collect::<Vec<f32>>()
        };
        let jump: Vec<_> = (0..60)
            .map(|i| frame(if i < 25 { 10 } else { 17 }))
            .collect();
        let course = likeliest(&jump, 10);
        assert!(course[..25].iter().all(|o| *o == 10), "{course:?}");
        assert!(course[25..].iter().all(|o| *o == 17), "{course:?}");
        let flicker: Vec<_> = (0..60)
            .map(|i| frame(if (25..30).contains(&i) { 17 } else { 10 }))
            .collect();
        assert!(likeliest(&flicker, 10).iter().all(|o| *o == 10));
        assert!(likeliest(&[], 10).is_empty());
    }

    /// Tones of 1000 and 1170 Hz keyed at random at 50 baud, moved by `jump_hz` at 3 s.
    fn keyed(jump_hz: f64) -> Vec<f32> {
        let mut random = Random::new(7);
        let marks: Vec<bool> = (0..300).map(|_| random.uniform() < 0.5).collect();
        sound(6.0, 0.05, |t| {
            let tone = if marks[(t * 50.0) as usize] {
                1000.0
            } else {
                1170.0
            };
            let moved = if t < 3.0 { 0.0 } else { jump_hz };
            0.1 * (std::f64::consts::TAU * (tone + moved) * t).cos()
        })
    }

    fn followed(jump_hz: f64) -> [Track; 2] {
        let mut tracks = [1000.0, 1170.0].map(Track::constant);
        let noise = [0.05f32 * 0.05 / 8000.0 * 50.0; 2];
        let sound = levelled(&keyed(jump_hz));
        let found = Found {
            at_s: 6.0,
            tones_hz: [1000.0 + jump_hz, 1170.0 + jump_hz],
        };
        let stretch = (1.5, 4.5);
        follow_jumps(
            sound.band(),
            &mut tracks,
            noise,
            0.02,
            (stretch, Some(found)),
        );
        tracks
    }

    #[test]
    fn tracks_follow_tones_that_jump() {
        for jump_hz in [-60.0, -30.0, 25.0, 45.0, 70.0] {
            for (track, hz) in followed(jump_hz).iter().zip([1000.0, 1170.0]) {
                assert!((track.hz(2.8) - hz).abs() < 1.0, "{jump_hz}: {track:?}");
                let after = track.hz(3.2) - hz;
                assert!((after - jump_hz).abs() < 9.0, "{jump_hz}: moved by {after}");
            }
        }
    }

    #[test]
    fn tracks_of_tones_that_stay_are_left_alone() {
        for near_hz in [0.0, 4.0, -4.0] {
            assert_eq!(followed(near_hz), [1000.0, 1170.0].map(Track::constant));
        }
    }

    /// A station next door, as strong or four times as strong, is not where the tones have gone. Nearer
    /// than the modulation rate it lies in their own hump and cannot be told from it.
    #[test]
    fn tracks_stay_beside_a_neighbour() {
        let keys = |seed: u64| -> Vec<bool> {
            let mut random = Random::new(seed);
            (0..600).map(|_| random.uniform() < 0.5).collect()
        };
        for (by_hz, level) in [(-70.0, 0.1), (65.0, 0.2), (70.0, 0.4)] {
            let (ours, theirs) = (keys(7), keys(8));
            let pair = |keys: &[bool], t: f64, by_hz: f64| {
                let tone = if keys[(t * 50.0) as usize] {
                    1000.0
                } else {
                    1425.0
                };
                (std::f64::consts::TAU * (tone + by_hz) * t).cos()
            };
            let sound = levelled(&sound(9.0, 0.05, |t| {
                0.1 * pair(&ours, t, 0.0) + level * pair(&theirs, t, by_hz)
            }));
            let mut tracks = [1000.0, 1425.0].map(Track::constant);
            let noise = [0.05f32 * 0.05 / 8000.0 * 50.0; 2];
            let found = Found {
                at_s: 9.0,
                tones_hz: [1000.0, 1425.0],
            };
            let heard = ((5.5, 8.5), Some(found));
            follow_jumps(sound.band(), &mut tracks, noise, 0.02, heard);
            let stays = [1000.0, 1425.0].map(Track::constant);
            assert_eq!(tracks, stays, "{by_hz} Hz, {level}");
        }
    }
}
