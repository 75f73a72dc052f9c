//! Somebody who answers on the practice band: one over, once.

use crate::arriving::Arriving;
use crate::channel::Channel;
use crate::sender::{Sender, Sense};
use crate::times::Times;
use markhold_code::{Code, StartStop};
use num_complex::Complex64;

/// Random streams of answers begin here: beyond those of the stations.
const STREAMS: usize = 1 << 28;

/// One over that is sent once, from now on.
#[derive(Clone, Debug, PartialEq)]
pub struct PracticeAnswer {
    /// What is sent.
    pub codes: Vec<Code>,
    /// Radio frequency of mark, Hz.
    pub mark_hz: f64,
    /// Space less mark, Hz of radio; below 0 in the usual case of mark above space.
    pub shift_hz: f64,
    /// Modulation rate and stop element.
    pub speed: StartStop,
    /// What the ionosphere does.
    pub channel: Channel,
    /// Mean power, dB over that of the first station.
    pub level_db: f64,
}

/// An answer as it arrives, until it is over.
#[derive(Clone, Debug)]
pub(super) struct Once {
    amplitude: f64,
    arriving: Arriving,
    left: u64,
}

impl Once {
    /// The `count`th answer of a band.
    pub(super) fn new(
        answer: &PracticeAnswer,
        sample_rate: f64,
        (seed, count): (u64, usize),
    ) -> Self {
        let sender = Sender {
            codes: answer.codes.clone(),
            speed: answer.speed,
            lead_in_s: 2.0,
            tail_s: 0.5,
            shift_hz: answer.shift_hz.abs(),
            sense: match answer.shift_hz > 0.0 {
                true => Sense::LowerTone,
                false => Sense::HigherTone,
            },
            channel: answer.channel,
            ..Sender::default()
        };
        let stream = (seed, STREAMS + count);
        // A sender that does not repeat ends by itself.
        let times = Times::of(&sender, None, stream.0, stream.1).unwrap_or(Times {
            text_until_s: 0.0,
            end_s: 0.0,
        });
        Once {
            // A real tone has half the power of its analytic signal.
            amplitude: (2.0 * 10f64.powf(answer.level_db / 10.0)).sqrt(),
            arriving: Arriving::new(&sender, times, sample_rate, stream),
            left: (times.end_s * sample_rate).ceil() as u64,
        }
    }

    pub(super) fn is_over(&self) -> bool {
        self.left == 0
    }

    /// The next sample.
    pub(super) fn next(&mut self) -> Complex64 {
        if self.is_over() {
            return Complex64::ZERO;
        }
        self.left -= 1;
        self.arriving.next() * self.amplitude
    }
}
