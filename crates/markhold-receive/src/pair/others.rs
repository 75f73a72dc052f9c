//! Others: what stands beside a pair, whoever sends it.
//!
//! A station next door is as good a pair of humps as ours, and may be stronger. What tells a jump
//! of our tones from it is that it stood there before: a tone that jumps goes from one place
//! and arrives at another. So power that is found beside the tones again and again is
//! somebody else's, and only what comes on top of it speaks for a jump.

use markhold_signal::{Band, BandPlan, Complex32};

use super::track::Track;

/// Frames that are taken together: half a second, in which every tone of a text is sent.
const TOGETHER: usize = 16;

/// The middle of what a frame of the band adds, s, and its bins.
pub type Frame<'a> = (f64, &'a [Complex32]);

/// The tones' own middle bins in a frame, and all of its bins.
type Seen<'a> = ([i64; 2], &'a [Complex32]);

/// Power of others in some bins, Hann power, the noise with it.
pub struct Others {
    from: i64,
    power: Vec<f32>,
}

impl Others {
    /// What stands in frames, in bins `first` to `last`, those left out that lie within `own_hz` of
    /// the tones on `tracks`: the median of half seconds, the lesser one of the earlier and of the
    /// later half, so that what came only lately, or is gone, is nobody's.
    pub fn new(
        plan: BandPlan,
        (tracks, own_hz): (&[Track; 2], f64),
        frames: &[Frame],
        (first, last): (i64, i64),
    ) -> Self {
        let bins = (first.max(1), last);
        let reach = (own_hz / plan.bin_hz()).round() as i64;
        let own = |t: f64| [0, 1].map(|k: usize| (tracks[k].hz(t) / plan.bin_hz()).round() as i64);
        let seen: Vec<Seen> = frames.iter().map(|f| (own(f.0), f.1)).collect();
        let (early, late) = seen.split_at(seen.len() / 2);
        let [early, late] = [early, late].map(|half| medians(half, bins, reach));
        Self {
            from: bins.0,
            power: early.into_iter().zip(late).map(|(e, l)| e.min(l)).collect(),
        }
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

/// Median over half seconds of the power in each bin while it is farther than `reach` from the
/// pair's own.
fn medians(frames: &[Seen], (first, last): (i64, i64), reach: i64) -> Vec<f32> {
    let mean = |half_second: &[Seen], bin: i64| {
        let is_other = |f: &&Seen| f.0.iter().all(|own| (bin - own).abs() > reach);
        let others = half_second.iter().filter(is_other);
        let inside = others.filter(|f| (bin as usize) < f.1.len() - 1);
        let powers = inside.map(|f| Band::hann_power(f.1, bin as usize));
        let (sum, count) = powers.fold((0.0, 0usize), |(sum, count), p| (sum + p, count + 1));
        (count > 0).then(|| sum / count as f32)
    };
    let of = |bin: i64| {
        let half_seconds = frames.chunks(TOGETHER);
        median(half_seconds.filter_map(|h| mean(h, bin)).collect())
    };
    (first..=last).map(of).collect()
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
        let band = sound.band();
        let frame = |i: u64| Some((band.plan().middle_s(i), band.frame(i)?));
        let frames: Vec<Frame> = (0..band.next_frame()).filter_map(frame).collect();
        let frames = &frames[..frames.partition_point(|f| f.0 < 9.0)];
        let others = Others::new(band.plan(), (&tracks, 50.0), frames, span);
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
