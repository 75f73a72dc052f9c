//! The practice band as a source of live sound, its receiver as the page turns it, and somebody
//! who answers.
//!
//! ```text
//!   practice transmitter --codes--> key --an over--> over_there: sound, path, receiver
//!                                    |                      | what came through
//!      live path <-- band <----------+---- answer <-- partner: operator
//! ```
//!
//! Everything goes by the samples of the band; nothing of it is on the air.

mod air;
mod key;
mod operator;
mod over_there;
mod partner;

pub use air::PracticeAir;

use key::{Keyed, PracticeLine};
use markhold_air::Channel;
use markhold_air::practice::{Controls, Practice, PracticeAnswer, Sideband, WarmUp};
use markhold_code::{EncodeOptions, FiguresRow, encode_lossy};
use markhold_sound::{Source, Taken};
use partner::Partner;
use serde::{Deserialize, Serialize};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// Samples per second of the practice band, Hz: enough for a voice filter.
pub const RATE: u32 = 8000;
/// Samples of one block: a fiftieth of a second.
const BLOCK: usize = RATE as usize / 50;
/// How long a pulled plug is waited for at a time.
const PATIENCE: Duration = Duration::from_millis(50);
/// How much less the receiver gives while the transmitter is keyed: one that is muted, dB down by
/// 26.
const MUTED: f32 = 0.05;
/// When the machine slept for longer than this, the band goes on from now.
const SLEPT: Duration = Duration::from_secs(1);

/// How the practice receiver stands, and what is to be turned: what is not given stays.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Turned {
    /// The dial: suppressed carrier, Hz of radio.
    pub dial_hz: Option<f64>,
    /// "lower" or "upper".
    pub sideband: Option<markhold_sound::Sideband>,
    /// How far off the receiver was at switch-on, Hz.
    pub off_hz: Option<f64>,
    /// Time constant of its warm-up, s.
    pub warm_s: Option<f64>,
    /// Static crashes in a minute.
    pub static_per_min: Option<f64>,
    /// Volume, dB.
    pub volume_db: Option<f64>,
    /// Whether the plug is in; without it the sound is lost, as when a device is pulled.
    pub plugged: Option<bool>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct State {
    controls: Controls,
    plugged: bool,
}

/// The knobs of the practice receiver. Clones are the same receiver.
#[derive(Clone, Debug)]
pub struct PracticeReceiver {
    // Configured.
    seed: u64,
    pace: f64,
    // State.
    state: Arc<Mutex<State>>,
    line: PracticeLine,
}

impl PracticeReceiver {
    /// A receiver on the band of this seed. `pace` is 1 for the speed of the clock; at 4 the
    /// evening passes four times as fast, which checks use.
    pub fn new(seed: u64, pace: f64) -> Self {
        let state = State {
            controls: Controls::default(),
            plugged: true,
        };
        Self {
            seed,
            pace: pace.clamp(0.1, 20.0),
            state: Arc::new(Mutex::new(state)),
            line: PracticeLine::default(),
        }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Turns what is given.
    pub fn turn(&self, turned: Turned) {
        let mut state = self.state();
        let c = &mut state.controls;
        let off = turned.sideband.map(|s| match s {
            markhold_sound::Sideband::Lower => Sideband::Lower,
            markhold_sound::Sideband::Upper => Sideband::Upper,
        });
        *c = Controls {
            dial_hz: turned.dial_hz.unwrap_or(c.dial_hz),
            sideband: off.unwrap_or(c.sideband),
            warm_up: WarmUp {
                off_hz: turned.off_hz.unwrap_or(c.warm_up.off_hz),
                time_s: turned.warm_s.unwrap_or(c.warm_up.time_s),
            },
            static_per_min: turned.static_per_min.unwrap_or(c.static_per_min),
            volume_db: turned.volume_db.unwrap_or(c.volume_db),
        }
        .on_scales(*c);
        state.plugged = turned.plugged.unwrap_or(state.plugged);
    }

    /// How everything stands.
    pub fn stands(&self) -> Turned {
        let State { controls, plugged } = *self.state();
        Turned {
            dial_hz: Some(controls.dial_hz),
            sideband: Some(match controls.sideband {
                Sideband::Lower => markhold_sound::Sideband::Lower,
                Sideband::Upper => markhold_sound::Sideband::Upper,
            }),
            off_hz: Some(controls.warm_up.off_hz),
            warm_s: Some(controls.warm_up.time_s),
            static_per_min: Some(controls.static_per_min),
            volume_db: Some(controls.volume_db),
            plugged: Some(plugged),
        }
    }

    /// The line of its transmitter.
    pub fn line(&self) -> PracticeLine {
        self.line.clone()
    }

    /// Its sound, switched on now.
    ///
    /// # Errors
    ///
    /// Why the band cannot be made, in words.
    pub fn source(&self) -> Result<Box<dyn Source>, String> {
        Ok(Box::new(self.band()?))
    }

    fn band(&self) -> Result<PracticeSource, String> {
        let practice = Practice::new(RATE, self.seed).map_err(|e| e.to_string())?;
        Ok(PracticeSource {
            receiver: self.clone(),
            practice,
            partner: Partner::new(self.seed),
            begun: Instant::now(),
            given: 0,
            plugged: true,
        })
    }
}

/// The sound of the practice receiver at the pace of the clock.
struct PracticeSource {
    receiver: PracticeReceiver,
    practice: Practice,
    partner: Partner,
    begun: Instant,
    /// Samples since `begun`, lost ones included.
    given: u64,
    plugged: bool,
}

impl PracticeSource {
    /// Time of the band since `begun`.
    fn passed(&self) -> Duration {
        self.begun.elapsed().mul_f64(self.receiver.pace)
    }

    /// Waits until the next block would have been heard.
    fn wait(&mut self) {
        let due = Duration::from_secs_f64(self.given as f64 / f64::from(RATE));
        let passed = self.passed();
        if passed > due + SLEPT {
            self.begun = Instant::now();
            self.given = 0;
        }
        std::thread::sleep(due.saturating_sub(passed).div_f64(self.receiver.pace));
    }

    /// Somebody answers where the transmitter was heard, as good as by ear.
    fn answer(&mut self, text: &str) {
        let sent = self.receiver.line.sent();
        let Controls {
            dial_hz, sideband, ..
        } = self.practice.controls();
        let off_hz = 10.0;
        let [lower_hz, upper_hz] = match sideband {
            Sideband::Lower => [
                dial_hz - sent.lower_hz - sent.shift_hz,
                dial_hz - sent.lower_hz,
            ],
            Sideband::Upper => [
                dial_hz + sent.lower_hz,
                dial_hz + sent.lower_hz + sent.shift_hz,
            ],
        };
        let (mark_hz, space_hz) = match sent.reversed {
            false => (upper_hz, lower_hz),
            true => (lower_hz, upper_hz),
        };
        self.practice.answer(&PracticeAnswer {
            codes: encode_lossy(text, FiguresRow::Us, EncodeOptions::default(), ' '),
            mark_hz: mark_hz + off_hz,
            shift_hz: space_hz - mark_hz,
            speed: sent.speed,
            channel: Channel::MID_LATITUDE_QUIET,
            level_db: 0.0,
        });
    }

    fn unplugged(&mut self) -> Taken {
        std::thread::sleep(PATIENCE);
        if std::mem::replace(&mut self.plugged, false) {
            let why = "the plug of the practice receiver was pulled; put it in again".into();
            return Taken::Gone { why };
        }
        Taken::Nothing
    }

    fn plugged_in(&mut self) -> Taken {
        self.plugged = true;
        let passed = (self.passed().as_secs_f64() * f64::from(RATE)) as u64;
        let lost = passed.saturating_sub(self.given);
        self.given += lost;
        Taken::Back { lost }
    }
}

impl Source for PracticeSource {
    fn name(&self) -> String {
        "Practice band".into()
    }

    fn rate(&self) -> u32 {
        RATE
    }

    /// At another pace than the clock's nobody listens to it, and nothing need be left out.
    fn is_live(&self) -> bool {
        self.receiver.pace == 1.0
    }

    fn take(&mut self, block: &mut Vec<f32>) -> Taken {
        let State { controls, plugged } = *self.receiver.state();
        match (plugged, self.plugged) {
            (false, _) => return self.unplugged(),
            (true, false) => return self.plugged_in(),
            (true, true) => {}
        }
        if controls != self.practice.controls() {
            self.practice.set(controls);
        }
        self.wait();
        block.resize(BLOCK, 0.0);
        self.practice.fill(block);
        self.given += BLOCK as u64;
        let passed_s = BLOCK as f64 / f64::from(RATE);
        let keyed = self.receiver.line.pass(passed_s);
        if keyed == Keyed::Yes {
            block.iter_mut().for_each(|sample| *sample *= MUTED);
        }
        if let Some(text) = self.partner.pass(passed_s, keyed) {
            self.answer(&text);
        }
        Taken::Sound
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_turned_is_told_and_kept_on_its_scale() {
        let receiver = PracticeReceiver::new(1, 1.0);
        receiver.turn(Turned {
            dial_hz: Some(1.0),
            sideband: Some(markhold_sound::Sideband::Upper),
            volume_db: Some(f64::NAN),
            ..Turned::default()
        });
        let stands = receiver.stands();
        assert_eq!(stands.dial_hz, Some(Controls::DIAL_HZ.0));
        assert_eq!(stands.sideband, Some(markhold_sound::Sideband::Upper));
        assert_eq!(stands.volume_db, Some(0.0));
    }

    #[test]
    fn the_plug_can_be_pulled() {
        let receiver = PracticeReceiver::new(1, 20.0);
        let mut source = receiver.source().expect("a band");
        let mut block = Vec::new();
        assert_eq!(source.take(&mut block), Taken::Sound);
        assert_eq!(block.len(), BLOCK);
        let plug = |plugged| Turned {
            plugged: Some(plugged),
            ..Turned::default()
        };
        receiver.turn(plug(false));
        assert!(matches!(source.take(&mut block), Taken::Gone { .. }));
        assert_eq!(source.take(&mut block), Taken::Nothing);
        receiver.turn(plug(true));
        assert!(matches!(source.take(&mut block), Taken::Back { lost } if lost > 0));
        assert_eq!(source.take(&mut block), Taken::Sound);
    }

    /// An answer stands on the band where the transmitter was heard.
    #[test]
    fn somebody_answers_on_the_frequency() {
        use markhold_event::Event;
        let receiver = PracticeReceiver::new(1, 20.0);
        receiver.turn(Turned {
            dial_hz: Some(7_040_500.0),
            off_hz: Some(0.0),
            static_per_min: Some(0.0),
            ..Turned::default()
        });
        let mut source = receiver.band().expect("a band");
        let mut block = Vec::new();
        assert_eq!(source.take(&mut block), Taken::Sound);
        source.answer("\r\nQ1ABC Q1ABC DE Q8RSA Q8RSA\r\n");
        let copier = markhold_receive::Receiver::new(f64::from(RATE), Default::default());
        let mut copier = copier.expect("a rate");
        let (mut text, mut mark_hz) = (String::new(), 0.0);
        let mut take = |event| match event {
            Event::Character(c) => text.extend(c.symbol.text()),
            Event::Found(signal) => mark_hz = signal.mark_hz,
            _ => {}
        };
        while source.practice.is_answering() {
            assert_eq!(source.take(&mut block), Taken::Sound);
            copier.process(&block, &mut take);
        }
        copier.finish(&mut take);
        assert!(text.contains("DE Q8RSA"), "{text:?}");
        assert!((mark_hz - 2125.0).abs() < 20.0, "{mark_hz}");
    }
}
