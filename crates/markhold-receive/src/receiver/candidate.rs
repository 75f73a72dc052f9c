//! A candidate: a signal that is copied and not told before it is known to be one, and the one.

use super::choice::{CHOICE_S, Offer};
use crate::copy::committed::{Committed, Place};
use crate::copying::Copying;
use crate::event::{Event, SignalId};
use crate::levelled::Levelled;
use crate::search::finder::misread;
use crate::search::swept;
use crate::search::trial::Verdict;
use crate::settings::Settings;

/// A signal whose middle does not lie where one is forced, to this many Hz, waits to be chosen: so
/// much longer, s, if a tone lies there, more beyond that, and at most so long. The one that is
/// meant may begin or be found later; nothing is lost meanwhile.
const POINTED_HZ: f64 = 25.0;
const BESIDE_S: f64 = 4.0;
const FAR_S: f64 = 20.0;
/// Who was copied for so long, s, beside one that lies nearer to where a signal is forced is not meant,
/// also when that one has ended. Who answers breaks in for less.
const PASSED_OVER_S: f64 = 10.0;
/// A line of one tone alone is not printed before it was copied for so long, s: a pair of which
/// one tone has faded or is hidden shows itself by then, takes its place, and is read from the
/// begin. Nothing is lost meanwhile.
const ALONE_S: f64 = 8.0;
/// A pair of no usual shift is not printed before it was copied for so long, s: what is
/// swept may pass a trial, and is asked twice within that whether it is.
const UNUSUAL_S: f64 = 4.5;
/// Something else than what was tried is copied where its middle lies so far from there, Hz: one tone
/// that roams draws a pair after it. It is not printed before it was asked there whether it is swept.
const ELSEWHERE_HZ: f64 = 35.0;
/// A find of no usual rate or shift has to prove itself by what was copied: the mean probability of
/// its characters. In pictures, read as lines of some odd rate, it was 0.74 to 0.94; with senders of
/// any rate and any shift 0.98 and more. Where fading keeps it low, this much time without a better
/// explanation is proof as well, s. Nothing is lost meanwhile.
const PROOF: f32 = 0.95;
const PROBATION_S: f64 = 25.0;
/// What was found is not asked whether it is a line of another kind before it was copied for so long, s.
const MISREAD_S: f64 = 2.0;
/// What a line of one tone counts against a pair in the choice of the strongest: much that is keyed
/// looks like one.
const HALF_A_PAIR: f32 = 1.0 / 16.0;

/// One signal with the events that wait for the choice.
pub struct Candidate {
    // configured
    /// The signal.
    pub copying: Copying,
    found_s: f64,
    /// From when on it may be printed, s.
    shown_s: f64,
    /// Whether it must prove itself before it is printed.
    on_probation: bool,
    /// Where a tone alone was found, Hz.
    pub alone_hz: Option<f64>,
    // state
    /// Events, and where the signal was heard then.
    waiting: Vec<(Place, Event)>,
    /// Whether it was told.
    pub announced: bool,
    /// When it is asked whether it is a line of another kind.
    patience: misread::Patience,
    /// Evidence that it is swept, natural logarithm.
    swept: f32,
    /// Where its middle was when it was tried, or last asked whether it is swept, Hz.
    asked_hz: f64,
    /// For how long it was copied beside one that lies nearer to where one is forced, s.
    beside_s: f64,
}

impl Candidate {
    /// A signal that was found by a verdict at `now_s`.
    pub fn new(copying: Copying, verdict: &Verdict, settings: &Settings, now_s: f64) -> Self {
        Self {
            asked_hz: copying.middle_hz(),
            copying,
            found_s: now_s,
            shown_s: now_s + waits_s(verdict, settings),
            waiting: Vec::new(),
            announced: false,
            patience: misread::Patience::from(now_s + MISREAD_S),
            swept: 0.0,
            on_probation: is_odd(verdict, settings),
            alone_hz: verdict.tone_alone(),
            beside_s: 0.0,
        }
    }

    /// The signal's name.
    pub fn id(&self) -> SignalId {
        self.copying.id()
    }

    /// What speaks for it, where one is forced or anywhere.
    pub fn offer(&self, at_hz: Option<f64>) -> Offer {
        let (weight, more_s) = match at_hz.map(|at_hz| self.off_hz(at_hz)) {
            Some(off_hz) => {
                let tones = self.copying.shift_hz() / 2.0;
                let beside = (off_hz - POINTED_HZ).max(0.0) / tones.max(POINTED_HZ);
                (1.0 / (1.0 + off_hz as f32), (BESIDE_S * beside).min(FAR_S))
            }
            None if self.copying.is_alone() => (HALF_A_PAIR * self.copying.power(), 0.0),
            None => (self.copying.power(), 0.0),
        };
        Offer {
            id: self.id(),
            found_s: self.found_s,
            weight,
            waits_s: CHOICE_S + more_s,
        }
    }

    /// How far its middle lies from a place, Hz.
    pub fn off_hz(&self, at_hz: f64) -> f64 {
        (self.copying.middle_hz() - at_hz).abs()
    }

    /// It was copied for so long beside one that lies nearer to where one is forced.
    pub fn stands_beside(&mut self, for_s: f64) {
        if self.copying.has_begun() {
            self.beside_s += for_s;
        }
    }

    /// Another place is forced: nobody has stood beside anybody there.
    pub fn forget_beside(&mut self) {
        self.beside_s = 0.0;
    }

    /// Whether another signal is the one that is meant.
    pub fn is_passed_over(&self) -> bool {
        self.beside_s > PASSED_OVER_S
    }

    /// Whether its characters are as sure as those of a sender.
    pub fn is_sure(&self) -> bool {
        self.copying.tally().mean_probability() >= PROOF
    }

    /// Whether it has waited and proved itself, and may be printed.
    pub fn may_be_shown(&self, now_s: f64) -> bool {
        let is_proven =
            || !self.on_probation || self.is_sure() || now_s >= self.found_s + PROBATION_S;
        now_s >= self.shown_s && is_proven() && self.off_hz(self.asked_hz) < ELSEWHERE_HZ
    }

    /// Whether it is time to ask if it is a line of another kind: its copy is doubtful, or a row, and
    /// rows of R and Y are as sure in the other sense.
    pub fn is_doubtful(&mut self, now_s: f64) -> bool {
        let tally = self.copying.tally();
        let doubt = match tally.is_row() {
            true => 1.0,
            false => 1.0 - tally.mean_probability(),
        };
        doubt > misread::DOUBTFUL && self.patience.is_due(doubt, now_s)
    }

    /// Takes evidence of being swept where it is now. It is added up, and what speaks against it takes
    /// off no more than there is, so that a picture that follows is told as soon (E. S. Page,
    /// Biometrika 41, 1954).
    pub fn take_swept(&mut self, evidence: f32) {
        self.swept = (self.swept + evidence).max(0.0);
        self.asked_hz = self.copying.middle_hz();
    }

    /// Whether it has shown to be swept.
    pub fn is_swept(&self) -> bool {
        self.swept > swept::LEAST_EVIDENCE
    }

    /// Copies on up to `until_s`; what comes of it waits.
    pub fn advance(&mut self, sound: &Levelled, until_s: f64, last: bool) {
        let mut events = Vec::new();
        self.copying
            .advance(sound, until_s, last, &mut |event| events.push(event));
        self.wait(events);
    }

    /// The signal has ended: takes what it still had to say.
    pub fn finish(&mut self) {
        let mut events = Vec::new();
        self.copying.finish(&mut |event| events.push(event));
        self.wait(events);
    }

    fn wait(&mut self, events: Vec<Event>) {
        let place = self.copying.heard_at();
        self.waiting.extend(events.into_iter().map(|e| (place, e)));
    }

    /// What it had to say is wanted by nobody.
    pub fn forget(&mut self) {
        self.waiting.clear();
    }

    /// Reports what waits, but for characters that were given out under another name.
    pub fn give(&mut self, committed: &mut Committed, report: &mut dyn FnMut(Event)) {
        let id = self.copying.id();
        for (place, event) in self.waiting.drain(..) {
            if let Event::Character(character) = &event {
                if committed.holds(id, character.start_s, place) {
                    continue;
                }
                committed.note(id, character.start_s, place);
            }
            report(event);
        }
    }
}

/// For how long what was found is copied before it is printed, s.
fn waits_s(verdict: &Verdict, settings: &Settings) -> f64 {
    match verdict.missing {
        Some(_) => ALONE_S,
        None if settings.shift_hz.is_some() || verdict.has_usual_shift() => 0.0,
        None => UNUSUAL_S,
    }
}

/// Whether a find is of a kind that nobody asked for and few send.
fn is_odd(verdict: &Verdict, settings: &Settings) -> bool {
    let asked = settings.shift_hz.is_some() || settings.rate_baud.is_some();
    !asked && !verdict.is_usual()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pair::follower::PairStart;

    #[test]
    fn a_find_of_an_odd_rate_must_prove_itself_unless_it_was_asked_for() {
        let odd = |rate_baud: f64, settings: Settings| {
            let start = PairStart {
                at_s: 1000.0,
                rate_baud,
                mark_hz: 1000.0,
                space_hz: 1170.0,
                power: [1.0; 2],
                noise: [0.1; 2],
            };
            let verdict = Verdict {
                start,
                mark: 0,
                evidence: 50.0,
                missing: None,
            };
            is_odd(&verdict, &settings)
        };
        assert!(odd(76.8, Settings::default()));
        assert!(!odd(75.3, Settings::default()));
        let asked = Settings {
            rate_baud: Some(76.8),
            ..Settings::default()
        };
        assert!(!odd(76.8, asked));
    }
}
