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
/// Bins on either side of a tone in which its own hump lies.
const OWN_BINS: i64 = 3;

/// Power of others in some bins, Hann power, the noise with it.
pub struct Others {
    from: i64,
    power: Vec<f32>,
}

impl Others {
    /// What stands around a window `from_s` to `to_s` in bins `first` to `last`, those of the
    /// tones on `tracks` left out: the median of half seconds, so that what is there for less
    /// than half of the time is nobody's.
    pub fn new(
        band: &Band,
        tracks: &[Track; 2],
        (from_s, to_s): (f64, f64),
        (first, last): (i64, i64),
    ) -> Self {
        let bins = (first.max(1), last);
        let frames = Self::frames(band, (from_s, to_s));
        let count = (bins.1 - bins.0 + 1).max(0) as usize;
        let mut means: Vec<Vec<f32>> = vec![Vec::new(); count];
        for half_second in frames.chunks(TOGETHER) {
            add(band, tracks, bins, half_second, &mut means);
        }
        Self {
            from: bins.0,
            power: means.into_iter().map(median).collect(),
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

/// Adds the mean over some frames of every bin that is not the pair's own then.
fn add(
    band: &Band,
    tracks: &[Track; 2],
    (first, last): (i64, i64),
    frames: &[u64],
    means: &mut [Vec<f32>],
) {
    let plan = band.plan();
    let mut sums = vec![(0.0f32, 0usize); means.len()];
    for index in frames {
        let Some(bins) = band.frame(*index) else {
            continue;
        };
        let own = own_bins(plan, tracks, *index);
        let last = last.min(bins.len() as i64 - 2);
        for k in (first..=last).filter(|k| own.iter().all(|o| (k - o).abs() > OWN_BINS)) {
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
