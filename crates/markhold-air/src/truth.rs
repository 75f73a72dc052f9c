//! What really happened: for judging copy and the causes of doubt.

use crate::carrier::Carrier;
use crate::channel::{Gains, ToneGains};
use crate::crash::{CrashTimes, Interval};
use crate::drift::Jump;
use crate::line::{Characters, SentCharacter};
use crate::scene::{Plan, Scene};
use crate::sender::Sender;

/// The truth about a scene; independent of how far it has been rendered.
///
/// Senders and carriers are counted from 0 in the order of the scene; one that does not
/// exist has sent nothing.
#[derive(Clone, Debug, PartialEq)]
pub struct Truth {
    scene: Scene,
    plan: Plan,
}

impl Truth {
    pub(crate) fn new(scene: Scene, plan: Plan) -> Self {
        Self { scene, plan }
    }

    /// The scene as it was given.
    pub fn scene(&self) -> &Scene {
        &self.scene
    }

    /// Length of the scene, s.
    pub fn end_s(&self) -> f64 {
        self.plan.end_s
    }

    /// One-sided density of the steady noise, reference power per Hz.
    pub fn noise_density(&self) -> f64 {
        self.plan.density
    }

    /// The characters that a sender sent, complete ones only, in order of time.
    pub fn characters(&self, sender: usize) -> Vec<SentCharacter> {
        let Some((of, times)) = self.sender(sender).zip(self.plan.times.get(sender)) else {
            return Vec::new();
        };
        let character_s = of.speed.character_s();
        Characters::new(of, times.text_until_s, self.scene.seed, sender)
            .take_while(|c| c.start_s + character_s <= self.plan.end_s)
            .collect()
    }

    /// When a sender is on, from lead-in to tail; `None` if it never is.
    pub fn on_air(&self, sender: usize) -> Option<Interval> {
        let of = self.sender(sender)?;
        let end_s = self.plan.times.get(sender)?.end_s.min(self.plan.end_s);
        (of.begin_s < end_s).then_some(Interval {
            start_s: of.begin_s,
            end_s,
        })
    }

    /// A sender's tone of mark at a time, Hz of audio, drift of sender and dial included.
    pub fn mark_hz(&self, sender: usize, time_s: f64) -> Option<f64> {
        let of = self.sender(sender)?;
        Some(of.mark_hz() + self.moved_hz(of, time_s))
    }

    /// A sender's tone of space at a time, Hz of audio, drift of sender and dial included.
    pub fn space_hz(&self, sender: usize, time_s: f64) -> Option<f64> {
        let of = self.sender(sender)?;
        Some(of.space_hz() + self.moved_hz(of, time_s))
    }

    /// Jumps in a sender's frequency, its own and the dial's, in order of time.
    pub fn jumps(&self, sender: usize) -> Vec<Jump> {
        let own = self
            .sender(sender)
            .map(|of| of.drift.jumps_until(self.plan.end_s));
        let mut all = self.scene.dial_drift.jumps_until(self.plan.end_s);
        all.extend(own.into_iter().flatten());
        all.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        all
    }

    /// How a sender's tones fade: gains each `step_s` from the beginning to the end.
    ///
    /// Gains are those of steady tones; within a path delay after a transition the signal
    /// is a mixture of both. Nothing comes out if `step_s` is not above 0.
    pub fn fading(&self, sender: usize, step_s: f64) -> impl Iterator<Item = ToneGains> {
        let of = self.sender(sender).filter(|_| step_s > 0.0).cloned();
        let end_s = self.plan.end_s;
        let seed = self.scene.seed;
        of.into_iter().flat_map(move |of| {
            let mut gains = Gains::new(of.channel, seed, sender);
            let tones = [of.mark_hz() - of.centre_hz, of.space_hz() - of.centre_hz];
            (0..)
                .map(move |k| k as f64 * step_s)
                .take_while(move |&t| t < end_s)
                .map(move |at_s| {
                    let [mark, space] = gains.of_tones(at_s, tones).map(|g| g.norm());
                    ToneGains { at_s, mark, space }
                })
        })
    }

    /// The static crashes that begin within the scene.
    pub fn crashes(&self) -> Vec<Interval> {
        let Some(crashes) = self.scene.crashes else {
            return Vec::new();
        };
        let mut times = CrashTimes::new(crashes, self.scene.seed);
        std::iter::from_fn(|| Some(times.next()))
            .take_while(|crash| crash.start_s < self.plan.end_s)
            .collect()
    }

    /// The stretches with a carrier's key down that begin within the scene; falling edges
    /// come after their end.
    pub fn key_down(&self, carrier: usize) -> Vec<Interval> {
        let times = self
            .scene
            .carriers
            .get(carrier)
            .map(|c| c.times(self.scene.seed, carrier));
        let end_s = self.plan.end_s;
        times
            .into_iter()
            .flatten()
            .take_while(|down| down.start_s < end_s)
            .collect()
    }

    /// A carrier's frequency at a time, Hz of audio, drift of carrier and dial included.
    pub fn carrier_hz(&self, carrier: usize, time_s: f64) -> Option<f64> {
        let of: &Carrier = self.scene.carriers.get(carrier)?;
        let hz = self.plan.carriers_hz.get(carrier)?;
        Some(hz + of.drift.hz_at(time_s) + self.scene.dial_drift.hz_at(time_s))
    }

    fn sender(&self, sender: usize) -> Option<&Sender> {
        self.scene.senders.get(sender)
    }

    fn moved_hz(&self, of: &Sender, time_s: f64) -> f64 {
        of.offset_hz + of.drift.hz_at(time_s) + self.scene.dial_drift.hz_at(time_s)
    }
}
