//! The true causes of doubt at any place of a sound.
//!
//! More than one can be true at once: a neighbour that pulls the tuning away, a tone that
//! fades more than the other while both do. Any of them is a right answer.

use crate::listen::SAMPLE_RATE;
use markhold_air::{Air, Channel, Interval, Scene, ToneGains, Truth};
use markhold_receive::event::{Character, Doubt};
use markhold_receive::pair::conditions::Conditions;

/// From how much longer before and after a character a trouble counts, s.
const MARGIN_S: f64 = 0.005;
/// How long a character lasts, s: start, code and one unit of the stop element.
const CHARACTER_S: f64 = 0.154;
/// For how long before and after a jump the tones lie beside where they are followed, s.
const JUMP_S: [f64; 2] = [0.5, 2.0];
/// For how long after a neighbour's key is down the levels learnt of the pair are wrong, s.
const AFTER_KEY_S: f64 = 0.6;
/// A carrier at least this far from the pair is not heard in it, Hz.
const FAR_HZ: f64 = 200.0;
/// Distance of the gains that are kept, s.
const GAINS_S: f64 = 0.02;
/// A tone followed at least so far from where it is counts as mistuned, Hz: that costs 1 dB
/// with elements of 22 ms.
const MISTUNED_HZ: f64 = 12.0;
/// One tone faded if it lies this much below the other (6 dB), else both did; within 3 dB of
/// that either may be said.
const APART_DB: f64 = 6.0;
const BORDER_DB: f64 = 3.0;

/// Troubles of a sound, by time.
pub struct Causes {
    parts: Vec<Part>,
    /// Where shift characters were covered.
    pub covered: Vec<Interval>,
}

/// Troubles of one scene of it.
struct Part {
    from_s: f64,
    truth: Truth,
    crashes: Vec<Interval>,
    keyed: Vec<Interval>,
    pumped: bool,
    jumps: Vec<Interval>,
    mistimed: bool,
    gains: Vec<ToneGains>,
}

impl Causes {
    /// The troubles of scenes that follow each other.
    pub fn new(scenes: &[Scene]) -> Self {
        let mut causes = Self {
            parts: Vec::new(),
            covered: Vec::new(),
        };
        let mut from_s = 0.0;
        for scene in scenes {
            let air = Air::new(scene.clone(), SAMPLE_RATE).expect("scenes make sense");
            let truth = air.truth();
            let end_s = truth.end_s();
            let first = causes.parts.is_empty();
            causes.parts.push(Part::new(truth, from_s, first));
            // As many samples as it is rendered in.
            from_s += (end_s * f64::from(SAMPLE_RATE)).round() / f64::from(SAMPLE_RATE);
        }
        causes
    }

    /// What troubled a character: all that is true, the main thing first.
    pub fn of(&self, character: &Character, conditions: &Conditions) -> Vec<Doubt> {
        let start_s = character.start_s;
        let at = |from_s: f64| Interval {
            start_s: start_s - from_s - MARGIN_S,
            end_s: start_s - from_s + CHARACTER_S + MARGIN_S,
        };
        if self.covered.iter().any(|c| overlap(c, &at(0.0))) {
            return vec![Doubt::Crash];
        }
        let part = self.parts.iter().rfind(|p| p.from_s <= start_s);
        part.map_or(Vec::new(), |p| p.of(conditions, at(p.from_s)))
    }
}

impl Part {
    fn new(truth: Truth, from_s: f64, first: bool) -> Self {
        let scene = truth.scene();
        let sender = &scene.senders[0];
        let jump = |at: f64| Interval {
            start_s: at - JUMP_S[0],
            end_s: at + JUMP_S[1],
        };
        let keyed = |i: &Interval| Interval {
            start_s: i.start_s,
            end_s: i.end_s + AFTER_KEY_S,
        };
        let far = |hz: f64| (hz - sender.centre_hz).abs() > FAR_HZ;
        Self {
            from_s,
            crashes: truth.crashes(),
            keyed: truth.key_down(0).iter().map(keyed).collect(),
            pumped: scene.agc.is_some() && truth.carrier_hz(0, 0.0).is_some_and(far),
            jumps: truth.jumps(0).iter().map(|j| jump(j.at_s)).collect(),
            mistimed: sender.jitter_ms > 0.0 || sender.bias_percent != 0.0 || !first,
            gains: match sender.channel {
                Channel::Steady => Vec::new(),
                _ => truth.fading(0, GAINS_S).collect(),
            },
            truth,
        }
    }

    fn of(&self, conditions: &Conditions, lies: Interval) -> Vec<Doubt> {
        let among = |list: &[Interval]| list.iter().any(|i| overlap(i, &lies));
        // The gain recovers so slowly that it never does while the neighbour keys.
        let after_first = |keyed: &Interval| lies.end_s > keyed.start_s;
        let neighbour = among(&self.keyed);
        let list = [
            (among(&self.crashes), Doubt::Crash),
            (
                self.pumped && self.keyed.first().is_some_and(after_first),
                Doubt::Gain,
            ),
            (among(&self.jumps), Doubt::Drift),
            (neighbour && !self.pumped, Doubt::Neighbour),
            (self.is_mistuned(conditions, &lies), Doubt::Drift),
            (self.mistimed, Doubt::Timing),
        ];
        let mut causes: Vec<Doubt> = list.iter().filter(|l| l.0).map(|l| l.1).collect();
        if causes.is_empty() {
            causes = self.fade(lies);
        }
        causes
    }

    /// Whether either tone was followed elsewhere than where it was.
    fn is_mistuned(&self, conditions: &Conditions, lies: &Interval) -> bool {
        let at_s = (lies.start_s + lies.end_s) / 2.0;
        let tones = [self.truth.mark_hz(0, at_s), self.truth.space_hz(0, at_s)];
        let followed = conditions.tones_hz.map(f64::from);
        let off = |(tone, followed): (&Option<f64>, &f64)| {
            tone.is_some_and(|hz| (hz - followed).abs() > MISTUNED_HZ)
        };
        tones.iter().zip(&followed).any(off)
    }

    /// Which tones lie low during a character.
    fn fade(&self, lies: Interval) -> Vec<Doubt> {
        let within = |g: &&ToneGains| g.at_s >= lies.start_s && g.at_s <= lies.end_s;
        let (mut mark, mut space) = (0.0, 0.0);
        for g in self.gains.iter().filter(within) {
            (mark, space) = (mark + g.mark * g.mark, space + g.space * g.space);
        }
        let apart_db = match mark > 0.0 && space > 0.0 {
            true => 10.0 * f64::log10(mark / space).abs(),
            false => 0.0,
        };
        let mut causes = vec![Doubt::Fade, Doubt::FadeOfOneTone];
        if apart_db > APART_DB {
            causes.reverse();
        }
        if (apart_db - APART_DB).abs() > BORDER_DB {
            causes.truncate(1);
        }
        causes
    }
}

fn overlap(a: &Interval, b: &Interval) -> bool {
    a.start_s < b.end_s && b.start_s < a.end_s
}
