//! Others: what stands beside a pair, whoever sends it.
//!
//! A station next door is as good a pair of humps as ours, and may be stronger. What tells a jump
//! of our tones from it is that it stood there before: a tone that jumps goes from one place
//! and arrives at another. So power that is found beside the tones again and again is
//! somebody else's, and only what comes on top of it speaks for a jump.

use markhold_signal::{Band, BandPlan};

use super::track::Track;

/// Sound of so long before and after a window tells what stands beside the tones, s.
pub const AROUND_S: f64 = 6.0;
/// Frames that are taken together: half a second, in which every tone of a text is sent.
const TOGETHER: usize = 16;

/// Power of others in some bins, Hann power, the noise with it.
pub struct Others {
    from: i64,
    power: Vec<f32>,
}

impl Others {
    /// What stands around a window `from_s` to `to_s` in bins `first` to `last`, those left out
    /// that lie within `own_hz` of the tones on `tracks`: the median of half seconds, the lesser one of the earlier and
    /// of the later half of the sound, so that what came only lately, or is gone, is nobody's.
    pub fn new(
        band: &Band,
        (tracks, own_hz): (&[Track; 2], f64),
        (from_s, to_s): (f64, f64),
        (first, last): (i64, i64),
    ) -> Self {
        let bins = (first.max(1), last);
        let frames = Self::frames(band, (from_s, to_s));
        let (early, late) = frames.split_at(frames.len() / 2);
        let [early, late] = [early, late].map(|half| medians(band, (tracks, own_hz), bins, half));
        Self {
            from: bins.0,
            power: early.into_iter().zip(late).map(|(e, l)| e.min(l)).collect(),
        }
    }

    /// Frames that tell of what stands around a window.
    pub fn frames(band: &Band, (from_s, to_s): (f64, f64)) -> Vec<u64> {
        let plan = band.plan();
        let at = |s: f64| plan.frame_holding((s.max(0.0) * plan.rate_hz) as i64);
        let first = at(from_s - AROUND_S).max(band.oldest_frame());
        (first..at(to_s + AROUND_S).min(band.next_frame())).collect()
    }

    /// Power in a bin; nothing where only the pair itself was heard.
    pub fn power(&self, bin: i64) -> f32 {
        let place = usize::try_from(bin - self.from).ok();
        place
            .and_then(|i| self.power.get(i))
            .copied()
            .unwrap_or(0.0)
    }
}

/// Median over half seconds of the power in each bin that is not the pair's own.
fn medians(band: &Band, own: (&[Track; 2], f64), bins: (i64, i64), frames: &[u64]) -> Vec<f32> {
    let count = (bins.1 - bins.0 + 1).max(0) as usize;
    let mut means: Vec<Vec<f32>> = vec![Vec::new(); count];
    for half_second in frames.chunks(TOGETHER) {
        add(band, own, bins, half_second, &mut means);
    }
    means.into_iter().map(median).collect()
}

/// Adds the mean over some frames of every bin that is not the pair's own then.
fn add(
    band: &Band,
    (tracks, own_hz): (&[Track; 2], f64),
    (first, last): (i64, i64),
    frames: &[u64],
    means: &mut [Vec<f32>],
) {
    let plan = band.plan();
    let own_reach = (own_hz / plan.bin_hz()).round() as i64;
    let mut sums = vec![(0.0f32, 0usize); means.len()];
    for index in frames {
        let Some(bins) = band.frame(*index) else {
            continue;
        };
        let own = own_bins(plan, tracks, *index);
        let last = last.min(bins.len() as i64 - 2);
        for k in (first..=last).filter(|k| own.iter().all(|o| (k - o).abs() > own_reach)) {
            let (sum, count) = &mut sums[(k - first) as usize];
            *sum += Band::hann_power(bins, k as usize);
            *count += 1;
        }
    }
    for (list, (sum, count)) in means.iter_mut().zip(sums) {
        if count > 0 {
            list.push(sum / count as f32);
        }
    }
}

fn own_bins(plan: BandPlan, tracks: &[Track; 2], index: u64) -> [i64; 2] {
    let middle = plan.output_start(index) as f64 + plan.hop as f64 / 2.0;
    [0, 1].map(|k: usize| (tracks[k].hz(middle / plan.rate_hz) / plan.bin_hz()).round() as i64)
}

fn median(mut list: Vec<f32>) -> f32 {
    if list.is_empty() {
        return 0.0;
    }
    let middle = list.len() / 2;
    *list.select_nth_unstable_by(middle, f32::total_cmp).1
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pair::testing::{RATE_HZ, levelled, sound};
    use markhold_signal::BandPlan;

    /// Power of others at 1100 Hz beside a pair of 1000 and 1170 Hz, with a tone of 1100 Hz there
    /// within a stretch of 9 s, over that where nothing is.
    fn over_noise(tone_hz: f64, (from_s, to_s): (f64, f64)) -> f32 {
        let sound = levelled(&sound(9.0, 0.02, |t| {
            let own = 0.1 * (std::f64::consts::TAU * 1000.0 * t).cos();
            let is_there = (from_s..to_s).contains(&t);
            let other = (std::f64::consts::TAU * tone_hz * t).cos();
            own + if is_there { 0.1 * other } else { 0.0 }
        }));
        let tracks = [1000.0, 1170.0].map(Track::constant);
        let bin = |hz: f64| (hz / BandPlan::new(RATE_HZ).bin_hz()).round() as i64;
        let span = (bin(900.0), bin(1300.0));
        let others = Others::new(sound.band(), (&tracks, 50.0), (6.0, 9.0), span);
        others.power(bin(tone_hz)) / others.power(bin(1250.0))
    }

    #[test]
    fn what_stands_beside_a_pair_is_known() {
        let stands = over_noise(1100.0, (0.0, 9.0));
        assert!(stands > 100.0, "{stands}");
    }

    #[test]
    fn what_has_just_come_is_not_known_as_others() {
        let came = over_noise(1100.0, (7.0, 9.0));
        assert!(came < 10.0, "{came}");
    }

    #[test]
    fn the_pair_itself_is_none_of_the_others() {
        assert_eq!(over_noise(1000.0, (0.0, 9.0)), 0.0);
    }
}
