//! The practice band through receiver and tuning, step by step and without threads: what is
//! told at which sample never depends on how busy the machine is.

#![allow(dead_code, reason = "test and example use a part each")]

use markhold_air::practice::{Controls, Practice, Sideband, WarmUp, stations};
use markhold_event::{Event, Signal};
use markhold_receive::Receiver;
use markhold_station::instruments::spectra::Spectra;
use markhold_station::settings::{InUse, Target};
use markhold_station::tuning::{FollowedNow, Instruction, Tuner, Tuning, dial_hz};

const RATE: u32 = 8000;
/// A block as the practice source gives it, samples: 20 ms.
const BLOCK: usize = 160;
/// How often the live path tells what is followed, s.
const FOLLOWED_S: f64 = 1.0;
/// Middle of the tones of a terminal unit of 2125 and 2295 Hz.
pub const TARGET_HZ: f64 = 2210.0;

/// An evening at the practice receiver.
pub struct Evening {
    sideband: Sideband,
    practice: Practice,
    receiver: Receiver,
    spectra: Spectra,
    tuner: Tuner,
    in_use: InUse,
    followed: Vec<FollowedNow>,
    followed_s: f64,
    /// What was told with each spectrum.
    pub told: Vec<Tuning>,
    /// What the receiver reported.
    pub copy: Vec<Event>,
    /// What the receiver followed, when it was looked at.
    pub signals: Vec<(f64, Vec<Signal>)>,
}

impl Evening {
    /// A warm receiver without static, with the first station's middle `off_hz` above the
    /// target.
    pub fn new(seed: u64, sideband: Sideband, off_hz: f64) -> Self {
        let mut practice = Practice::new(RATE, seed).expect("a rate that works");
        let middle = stations()[0].middle_hz();
        let audio_hz = TARGET_HZ + off_hz;
        let (dial_hz, told) = match sideband {
            Sideband::Lower => (middle + audio_hz, markhold_sound::Sideband::Lower),
            Sideband::Upper => (middle - audio_hz, markhold_sound::Sideband::Upper),
        };
        practice.set(Controls {
            dial_hz,
            sideband,
            static_per_min: 0.0,
            warm_up: WarmUp {
                off_hz: 0.0,
                time_s: 60.0,
            },
            volume_db: 0.0,
        });
        let in_use = InUse {
            sideband: Some(told),
            target: Target::Middle(TARGET_HZ),
            ..InUse::default()
        };
        Evening {
            sideband,
            practice,
            receiver: Receiver::new(f64::from(RATE), in_use.settings()).expect("a rate"),
            spectra: Spectra::new(RATE, 0.0),
            tuner: Tuner::default(),
            in_use,
            followed: Vec::new(),
            followed_s: 0.0,
            told: Vec::new(),
            copy: Vec::new(),
            signals: Vec::new(),
        }
    }

    /// What has gone by, s.
    pub fn now_s(&self) -> f64 {
        self.practice.position() as f64 / f64::from(RATE)
    }

    /// An evening with any controls and any aim, with the sideband told as the person believes it to be.
    pub fn at(
        seed: u64,
        controls: Controls,
        told: markhold_sound::Sideband,
        target: Target,
    ) -> Self {
        let mut evening = Evening::new(seed, controls.sideband, 0.0);
        evening.practice.set(controls);
        evening.in_use.sideband = Some(told);
        evening.in_use.target = target;
        evening
    }

    /// Where the middle of the first station's tones is, Hz.
    pub fn middle_hz(&self) -> f64 {
        let [mark, space] = self.practice.tones_hz(0).expect("a station");
        0.5 * (mark + space)
    }

    /// Turns the dial so that the tones move by `audio_hz`.
    pub fn move_tones(&mut self, audio_hz: f64) {
        let by_hz = match self.sideband {
            Sideband::Lower => audio_hz,
            Sideband::Upper => -audio_hz,
        };
        let dial_hz = self.practice.controls().dial_hz;
        self.practice.set_dial(dial_hz + by_hz);
    }

    /// What the dial should be turned by as told last, Hz.
    pub fn asked_hz(&self) -> Option<f64> {
        match self.told.last()?.instruction {
            Instruction::Turn { dial_hz, .. } => Some(dial_hz),
            _ => None,
        }
    }

    /// Turns the dial, Hz of radio.
    pub fn turn(&mut self, by_hz: f64) {
        let dial_hz = self.practice.controls().dial_hz;
        self.practice.set_dial(dial_hz + by_hz);
    }

    /// Turns the dial as a hand does, in so many seconds, Hz of radio.
    pub fn turn_by_hand(&mut self, by_hz: f64, seconds: f64) {
        let steps = (seconds / 0.02).max(1.0) as u32;
        for _ in 0..steps {
            self.turn(by_hz / f64::from(steps));
            self.listen(0.02);
        }
    }

    /// Whether the signal that is copied is read well where the tones are.
    pub fn is_read(&self) -> bool {
        let tones = self.told.last().and_then(|t| t.tones_hz);
        let here = |f: &FollowedNow| {
            tones.is_some_and(|seen| (0..2).all(|k| (seen[k] - f.tones_hz[k]).abs() < 30.0))
        };
        let well =
            |f: &&FollowedNow| here(f) && f.quality.is_some_and(|q| q > 0.8) && f.characters > 5;
        self.followed.first().filter(well).is_some()
    }

    /// Whether a turn moves the tones away from where they should be: from any place, where none
    /// was named, since the signal is read there; else from the named one.
    pub fn leads_away(&self, by_hz: f64) -> bool {
        let (Target::Middle(wanted_hz), Some([low, high]), Some(sideband)) = (
            self.in_use.target,
            self.told.last().and_then(|t| t.tones_hz),
            self.in_use.sideband,
        ) else {
            return true;
        };
        let off_hz = 0.5 * (low + high) - wanted_hz;
        // The way there and the way back are the same.
        let after_hz = off_hz + dial_hz(by_hz, sideband);
        after_hz.abs() > off_hz.abs()
    }

    /// Lets so much go by unheard, s.
    pub fn skip(&mut self, seconds: f64) {
        let mut unheard = vec![0.0; (seconds * f64::from(RATE)) as usize];
        self.practice.fill(&mut unheard);
    }

    /// Listens for so long, s.
    pub fn listen(&mut self, seconds: f64) {
        let end_s = self.now_s() + seconds;
        let mut block = [0.0; BLOCK];
        while self.now_s() < end_s {
            self.practice.fill(&mut block);
            self.hear(&block);
        }
    }

    fn hear(&mut self, block: &[f32]) {
        let (now_s, copy) = (self.now_s(), &mut self.copy);
        self.receiver.process(block, &mut |event| copy.push(event));
        if now_s - self.followed_s >= FOLLOWED_S {
            self.look();
        }
        let (tuner, told) = (&mut self.tuner, &mut self.told);
        let (followed, in_use) = (&self.followed, &self.in_use);
        self.spectra.process(block, &mut |spectrum| {
            told.push(tuner.process(&spectrum, None, followed, in_use));
        });
    }

    fn look(&mut self) {
        self.followed_s = self.now_s();
        let mut signals = self.receiver.signals();
        let chosen = self.receiver.chosen();
        signals.sort_by_key(|s| Some(s.id) != chosen);
        self.followed = signals
            .iter()
            .map(|s| followed_now(s, &self.copy))
            .collect();
        self.signals.push((self.followed_s, signals));
    }
}

/// Characters that the live path takes the quality of.
const QUALITY_OF: usize = 40;

fn followed_now(signal: &Signal, copy: &[Event]) -> FollowedNow {
    let (mark, space) = (signal.mark_hz, signal.space_hz);
    let own: Vec<f32> = copy
        .iter()
        .filter_map(|event| match event {
            Event::Character(c) if c.signal == signal.id => Some(c.probability),
            _ => None,
        })
        .collect();
    let latest = &own[own.len().saturating_sub(QUALITY_OF)..];
    let mean = latest.iter().sum::<f32>() / latest.len().max(1) as f32;
    FollowedNow {
        tones_hz: [mark.min(space), mark.max(space)],
        sense: signal.sense,
        drift_hz_per_min: signal.drift_hz_per_min,
        quality: (!latest.is_empty()).then_some(mean),
        characters: own.len() as u64,
    }
}
