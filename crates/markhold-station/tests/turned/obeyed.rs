//! A person who knows nothing but the sentence: reads it, does what it says, reads it again.

#![allow(dead_code, reason = "test and example use a part each")]

use crate::practice::Evening;
use markhold_air::practice::{Controls, Sideband, WarmUp, stations};
use markhold_sound as live;
use markhold_station::settings::Target;
use markhold_station::tuning::{Instruction, Tuning};

/// A sentence is read when it has stood for so long, s.
const READ_S: f64 = 1.0;
/// How long a hand takes to turn, s.
const HAND_S: f64 = 1.0;
/// How often the person looks, s.
const LOOK_S: f64 = 0.2;

/// What came of an evening at the dial.
#[derive(Clone, Copy, Debug, Default)]
pub struct Outcome {
    /// Turns of the dial.
    pub turns: u32,
    /// When "in tune" was said for good, s from the begin.
    pub in_tune_s: Option<f64>,
    /// Whether a turn was asked for that moved a signal which was read well away from where it should be.
    pub was_sent_away: bool,
    /// How often another sentence was said after that; how long a pause has been is none.
    pub changes: u32,
}

/// Obeys for so long, s.
pub fn obey(evening: &mut Evening, seconds: f64) -> Outcome {
    let begin_s = evening.now_s();
    let mut outcome = Outcome::default();
    while evening.now_s() - begin_s < seconds {
        evening.listen(LOOK_S);
        let now_s = evening.now_s();
        match standing(&evening.told) {
            Some(Instruction::Turn { dial_hz, .. }) => {
                outcome.was_sent_away |= evening.is_read() && evening.leads_away(dial_hz);
                outcome.turns += 1;
                evening.turn_by_hand(dial_hz, HAND_S);
                outcome.in_tune_s = None;
            }
            Some(Instruction::OneTone {
                turn: Some(dial_hz),
            }) => {
                outcome.turns += 1;
                evening.turn_by_hand(dial_hz, HAND_S);
                outcome.in_tune_s = None;
            }
            Some(Instruction::InTune { .. } | Instruction::OtherSideband) => {
                outcome.in_tune_s.get_or_insert(now_s - begin_s);
            }
            _ => {}
        }
    }
    if let Some(since_s) = outcome.in_tune_s {
        // Spectra count time from the first sound that was heard.
        let first_s = evening.told.first().map_or(0.0, |t| t.at_s);
        let after = evening.told.iter().filter(|t| t.at_s > first_s + since_s);
        let after: Vec<&Tuning> = after.collect();
        outcome.changes = after.windows(2).filter(|w| is_another(w[0], w[1])).count() as u32;
    }
    outcome
}

fn is_another(before: &Tuning, now: &Tuning) -> bool {
    let waits = |t: &Tuning| matches!(t.instruction, Instruction::Waiting { .. });
    before.words != now.words && !(waits(before) && waits(now))
}

impl Outcome {
    /// Whether it is as the law says: in tune after at most three turns and 20 s, and never sent away.
    pub fn is_good(&self) -> bool {
        self.turns <= 3 && self.in_tune_s.is_some_and(|s| s <= 20.0) && !self.was_sent_away
    }
}

/// An evening at a random place of the dial near one of the stations, both sidebands, with a receiver
/// that warms up, static and the neighbour; and what it is, in words.
pub fn random_evening(place: u64) -> (Evening, String) {
    let mut state = place;
    let mut draw = |most: f64| most * next(&mut state);
    let (sideband, told) = match draw(1.0) < 0.5 {
        true => (Sideband::Lower, live::Sideband::Lower),
        false => (Sideband::Upper, live::Sideband::Upper),
    };
    let station = &stations()[draw(4.0) as usize];
    let audio_hz = 250.0 + draw(2500.0);
    let sign = match sideband {
        Sideband::Lower => 1.0,
        Sideband::Upper => -1.0,
    };
    let controls = Controls {
        dial_hz: station.middle_hz() + sign * audio_hz,
        sideband,
        warm_up: WarmUp {
            off_hz: draw(100.0) - 50.0,
            time_s: 300.0,
        },
        static_per_min: draw(12.0),
        volume_db: 0.0,
    };
    let target = match draw(1.0) < 0.5 {
        true => Target::Passband,
        false => Target::Middle(2210.0),
    };
    let mut evening = Evening::at(place, controls, told, target);
    evening.skip(draw(60.0));
    let call = station.call;
    (
        evening,
        format!("{call} {audio_hz:5.0} Hz {sideband:?} {target:?}"),
    )
}

/// 0 to 1, seeded (SplitMix64: Steele, Lea and Flood, 2014).
fn next(state: &mut u64) -> f64 {
    *state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
}

/// The instruction that has stood long enough to be read.
fn standing(told: &[Tuning]) -> Option<Instruction> {
    let last = told.last()?;
    let of_late = told
        .iter()
        .rev()
        .take_while(|t| last.at_s - t.at_s < READ_S);
    let stands = of_late.clone().count() > 20 && of_late.clone().all(|t| t.words == last.words);
    stands.then_some(last.instruction)
}
