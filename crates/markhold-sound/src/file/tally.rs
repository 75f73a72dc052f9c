//! Counts what is wrong with samples and repairs what can be repaired.

use super::Notice;

/// How many samples in a row must stay at full scale to count as clipped.
///
/// A tone that only just reaches full scale touches it with one sample, at most two, per
/// crest; three equal extremes in a row are the flat top of an overdriven converter
/// (common practice).
const CLIP_RUN: u32 = 3;

/// Share of clipped samples above which the person is told.
///
/// A few overdriven static crashes are normal on the air and harmless.
const CLIP_NOTICE_SHARE: f64 = 1e-3;

/// Watches the samples of one channel.
pub(super) struct Tally {
    // Configured.
    /// Magnitude at and above which a sample is at full scale.
    full_scale: f32,
    // State.
    samples: u64,
    not_numbers: u64,
    clipped: u64,
    run: u32,
    last: f32,
}

impl Tally {
    pub(super) fn new(full_scale: f32) -> Self {
        Tally {
            full_scale,
            samples: 0,
            not_numbers: 0,
            clipped: 0,
            run: 0,
            last: 0.0,
        }
    }

    /// Counts a block and replaces what is not a finite number by silence.
    pub(super) fn process(&mut self, block: &mut [f32]) {
        for sample in block.iter_mut() {
            if !sample.is_finite() {
                *sample = 0.0;
                self.not_numbers += 1;
            }
            self.watch_clipping(*sample);
        }
        self.samples += block.len() as u64;
    }

    fn watch_clipping(&mut self, sample: f32) {
        let at_full_scale = sample.abs() >= self.full_scale;
        let goes_on = at_full_scale && self.run > 0 && (sample > 0.0) == (self.last > 0.0);
        self.run = match (at_full_scale, goes_on) {
            (false, _) => 0,
            (true, false) => 1,
            (true, true) => self.run.saturating_add(1),
        };
        self.last = sample;
        self.clipped += match self.run {
            n if n > CLIP_RUN => 1,
            CLIP_RUN => u64::from(CLIP_RUN),
            _ => 0,
        };
    }

    /// Samples seen.
    pub(super) fn samples(&self) -> u64 {
        self.samples
    }

    /// Share of samples that stand in a run at full scale, 0 to 1.
    pub(super) fn clipped_share(&self) -> f64 {
        self.clipped as f64 / self.samples.max(1) as f64
    }

    pub(super) fn notices(&self, to: &mut Vec<Notice>) {
        if self.not_numbers > 0 {
            to.push(Notice::NotNumbers {
                samples: self.not_numbers,
            });
        }
        if self.clipped_share() > CLIP_NOTICE_SHARE {
            to.push(Notice::Clipped {
                share: self.clipped_share(),
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_number_becomes_silence() {
        let mut tally = Tally::new(1.0);
        let mut block = [0.5, f32::NAN, f32::INFINITY, f32::NEG_INFINITY, -0.5];
        tally.process(&mut block);
        assert_eq!(block, [0.5, 0.0, 0.0, 0.0, -0.5]);
        let mut notices = Vec::new();
        tally.notices(&mut notices);
        assert_eq!(notices, [Notice::NotNumbers { samples: 3 }]);
    }

    #[test]
    fn only_runs_count_as_clipped() {
        let mut tally = Tally::new(1.0);
        tally.process(&mut [1.0, 1.0, 0.0, 1.0, -1.0, 1.0, 0.0]);
        assert_eq!(tally.clipped_share(), 0.0);
        tally.process(&mut [1.0, 1.5, 1.0, 1.0, 0.0, -1.0, -1.0, -1.0]);
        assert_eq!(tally.clipped, 7);
    }

    #[test]
    fn a_run_across_blocks_counts_the_same() {
        let mut whole = Tally::new(1.0);
        whole.process(&mut [0.0, 1.0, 1.0, 1.0, 1.0, 0.0]);
        let mut cut = Tally::new(1.0);
        for sample in [0.0, 1.0, 1.0, 1.0, 1.0, 0.0] {
            cut.process(&mut [sample]);
        }
        assert_eq!((whole.clipped, cut.clipped), (4, 4));
    }
}
