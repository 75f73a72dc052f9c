//! The true cause of doubt at any place of a scene.

use markhold_air::{Channel, Interval, ToneGains, Truth};
use markhold_receive::event::Doubt;

/// From how much longer before and after a character a trouble counts, s.
const MARGIN_S: f64 = 0.005;
/// How long a character lasts, s: start, code and one unit of the stop element.
const CHARACTER_S: f64 = 0.154;
/// For how long before and after a jump the tones lie beside where they are followed, s.
const JUMP_S: [f64; 2] = [0.5, 2.0];
/// A carrier at least this far from the pair is not heard in it, Hz.
const FAR_HZ: f64 = 200.0;
/// Energy of an element over noise density below which a tone gives doubt (10 dB).
const WEAK: f64 = 10.0;
/// Distance of the gains that are kept, s.
const GAINS_S: f64 = 0.02;

/// Troubles of a sound, by time.
#[derive(Default)]
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
    es_n0: f64,
}

impl Causes {
    /// Takes in a scene that begins at `from_s`.
    pub fn add(&mut self, truth: &Truth, from_s: f64) {
        let scene = truth.scene();
        let sender = &scene.senders[0];
        let jump = |at: f64| Interval {
            start_s: at - JUMP_S[0],
            end_s: at + JUMP_S[1],
        };
        let fades = sender.channel != Channel::Steady;
        self.parts.push(Part {
            from_s,
            crashes: truth.crashes(),
            keyed: truth.key_down(0),
            pumped: scene.agc.is_some()
                && truth
                    .carrier_hz(0, 0.0)
                    .is_some_and(|hz| (hz - sender.centre_hz).abs() > FAR_HZ),
            jumps: truth.jumps(0).iter().map(|j| jump(j.at_s)).collect(),
            mistimed: sender.jitter_ms > 0.0
                || sender.bias_percent != 0.0
                || !self.parts.is_empty(),
            gains: match fades {
                true => truth.fading(0, GAINS_S).collect(),
                false => Vec::new(),
            },
            es_n0: sender.speed.element_s() / truth.noise_density(),
            truth: truth.clone(),
        });
    }

    /// What troubled a character that starts at `start_s`, the likeliest if there are
    /// several.
    pub fn of(&self, start_s: f64) -> Option<Doubt> {
        let part = self.parts.iter().rfind(|p| p.from_s <= start_s)?;
        let at = |from_s: f64| Interval {
            start_s: start_s - from_s - MARGIN_S,
            end_s: start_s - from_s + CHARACTER_S + MARGIN_S,
        };
        if self.covered.iter().any(|c| overlap(c, &at(0.0))) {
            return Some(Doubt::Crash);
        }
        Some(part.of(at(part.from_s)))
    }
}

impl Part {
    fn of(&self, lies: Interval) -> Doubt {
        let among = |list: &[Interval]| list.iter().any(|i| overlap(i, &lies));
        match () {
            () if among(&self.crashes) => Doubt::Crash,
            () if among(&self.jumps) => Doubt::Drift,
            () if self.pumped => Doubt::Gain,
            () if among(&self.keyed) => Doubt::Neighbour,
            () if self.mistimed => Doubt::Timing,
            () if !self.gains.is_empty() => self.fade(lies),
            () => Doubt::Fade,
        }
    }

    /// Which tones lie low during a character.
    fn fade(&self, lies: Interval) -> Doubt {
        let within = |g: &&ToneGains| g.at_s >= lies.start_s && g.at_s <= lies.end_s;
        let (mut mark, mut space, mut count) = (0.0, 0.0, 0.0);
        for g in self.gains.iter().filter(within) {
            (mark, space) = (mark + g.mark * g.mark, space + g.space * g.space);
            count += 1.0;
        }
        let energy = |power: f64| power / f64::max(count, 1.0) * self.es_n0;
        let (mark, space) = (energy(mark), energy(space));
        let (weaker, stronger) = (mark.min(space), mark.max(space));
        if weaker < WEAK && stronger > WEAK && stronger > 2.0 * weaker {
            Doubt::FadeOfOneTone
        } else {
            Doubt::Fade
        }
    }

    /// Length of the scene, s.
    #[allow(dead_code)]
    fn end_s(&self) -> f64 {
        self.truth.end_s()
    }
}

fn overlap(a: &Interval, b: &Interval) -> bool {
    a.start_s < b.end_s && b.start_s < a.end_s
}
