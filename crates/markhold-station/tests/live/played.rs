//! A source made of what a test wants to happen, and what came of it.

use markhold_air::{Air, Noise, Scene, Sender};
use markhold_code::FiguresRow;
use markhold_event::{Character, Event};
use markhold_receive::{Receiver, Settings};
use markhold_shelf::GapCause;
use markhold_sound::{Source, Taken};
use markhold_station::live::{KeepSound, KeepTold, Live, LiveOptions};
use markhold_station::report::{Anchor, InputReport};
use markhold_station::{Delivery, Report, Snapshot};
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard};
use std::time::Duration;

/// What happens at a source.
#[derive(Clone, Debug)]
pub enum Play {
    Sound(Vec<f32>),
    Happens(Taken),
    /// From here on the rate is another one.
    Rate(u32),
}

/// Plays a script, as fast as it is taken.
pub struct Played {
    pub rate: u32,
    pub script: VecDeque<Play>,
}

impl Source for Played {
    fn name(&self) -> String {
        "a test".into()
    }

    fn rate(&self) -> u32 {
        self.rate
    }

    fn is_live(&self) -> bool {
        false
    }

    fn take(&mut self, block: &mut Vec<f32>) -> Taken {
        match self.script.front_mut() {
            None => Taken::Ended { why: None },
            Some(Play::Sound(samples)) => {
                // An odd length that divides nothing.
                let count = samples.len().min(157);
                block.clear();
                block.extend(samples.drain(..count));
                if samples.is_empty() {
                    self.script.pop_front();
                }
                Taken::Sound
            }
            Some(Play::Happens(taken)) => {
                let taken = taken.clone();
                self.script.pop_front();
                taken
            }
            Some(Play::Rate(rate)) => {
                self.rate = *rate;
                self.script.pop_front();
                self.take(block)
            }
        }
    }
}

/// Sound of this name, then nothing for as long as somebody listens.
pub struct ThenNothing(pub &'static str, pub Box<dyn Source>);

impl Source for ThenNothing {
    fn name(&self) -> String {
        self.0.into()
    }

    fn rate(&self) -> u32 {
        self.1.rate()
    }

    fn is_live(&self) -> bool {
        false
    }

    fn take(&mut self, block: &mut Vec<f32>) -> Taken {
        match self.1.take(block) {
            Taken::Ended { .. } => {
                std::thread::sleep(Duration::from_millis(5));
                Taken::Nothing
            }
            other => other,
        }
    }
}

/// A source that plays this at 8000 Hz.
pub fn played(script: impl IntoIterator<Item = Play>) -> Box<Played> {
    Box::new(Played {
        rate: 8000,
        script: script.into_iter().collect(),
    })
}

/// A steady sender of `text` with a little noise.
pub fn sound_of(text: &str, rate: u32) -> Vec<f32> {
    let scene = Scene {
        senders: vec![Sender::of_text(text, FiguresRow::Ita2).expect("can be sent")],
        noise: Noise::EsN0Db(18.0),
        silence_after_s: 1.0,
        ..Scene::default()
    };
    Air::new(scene, rate).expect("a scene").render()
}

/// What the receiver alone makes of sound, told everything.
pub fn offline(samples: &[f32], rate: u32) -> Vec<Event> {
    let mut events = Vec::new();
    let settings = Settings {
        early: true,
        unlikely: true,
        ..Settings::default()
    };
    let mut receiver = Receiver::new(f64::from(rate), settings).expect("a rate");
    receiver.process(samples, &mut |event| events.push(event));
    receiver.finish(&mut |event| events.push(event));
    events
}

/// What a keeper was given.
#[derive(Clone, Debug, Default)]
pub struct Kept {
    pub begun: Vec<(u32, f64)>,
    pub samples: Vec<f32>,
    /// What was missing before each begin.
    pub before: Vec<GapCause>,
    pub lost: Vec<(Option<u64>, GapCause)>,
    pub events: Vec<Event>,
    /// How many events had come at each begin.
    pub events_at_begin: Vec<usize>,
    pub finished: bool,
    /// What the clock showed at each begin.
    pub clock: Vec<jiff::Timestamp>,
    /// By how much the computer's clock was put forward.
    pub steps: Vec<f64>,
    /// Until where the sound was copied, live time, s.
    pub copied_s: f64,
    /// How many events had come when the sound was at its end.
    pub events_at_end_of_sound: Option<usize>,
    /// What it is to tell.
    pub told: Vec<KeepTold>,
}

/// Keeps everything where the test can see it.
#[derive(Clone, Default)]
pub struct Recorder(pub Arc<Mutex<Kept>>);

impl Recorder {
    fn kept(&self) -> MutexGuard<'_, Kept> {
        self.0.lock().expect("no test panics meanwhile")
    }
}

impl KeepSound for Recorder {
    fn begin(&mut self, _: &str, rate: u32, anchor: &Anchor, before: GapCause) {
        let mut kept = self.kept();
        kept.begun.push((rate, anchor.at_s));
        kept.clock.push(anchor.utc);
        kept.before.push(before);
        let events = kept.events.len();
        kept.events_at_begin.push(events);
    }

    fn sound(&mut self, samples: &[f32]) {
        self.kept().samples.extend_from_slice(samples);
    }

    fn gap(&mut self, lost: Option<u64>, cause: GapCause) {
        self.kept().lost.push((lost, cause));
    }

    fn event(&mut self, event: &Event) {
        self.kept().events.push(event.clone());
    }

    fn copied(&mut self, until_s: f64) {
        self.kept().copied_s = until_s;
    }

    fn clock_step(&mut self, by_s: f64) {
        self.kept().steps.push(by_s);
    }

    fn told(&mut self) -> Vec<KeepTold> {
        std::mem::take(&mut self.kept().told)
    }

    fn end_of_sound(&mut self) {
        let events = self.kept().events.len();
        self.kept().events_at_end_of_sound = Some(events);
    }

    fn finish(&mut self) -> Result<(), String> {
        self.kept().finished = true;
        Ok(())
    }
}

/// Listens with a keeper that sees all.
pub fn start(source: Box<dyn Source>, recorder: &Recorder) -> Live {
    let options = LiveOptions {
        keeper: Box::new(recorder.clone()),
        ..LiveOptions::default()
    };
    Live::start(source, options).expect("a source that works")
}

/// Waits until the source has ended. What a slow test misses stands in the snapshot.
pub fn wait_for_end(live: &Live) {
    let (snapshot, mut subscription) = live.board().join();
    if snapshot.gone.is_some_and(|why| why.contains("has ended")) {
        return;
    }
    while let Some(delivery) = subscription.wait() {
        match delivery {
            Delivery::Report(report) => {
                if let Report::Input(InputReport::Ended { .. }) = report.as_ref() {
                    return;
                }
            }
            Delivery::Missed(_) => return wait_for_end(live),
        }
    }
}

/// Listens to a source to its end: what was kept, and the sum of what was told.
pub fn listen(source: Box<dyn Source>) -> (Kept, Snapshot) {
    let recorder = Recorder::default();
    let live = start(source, &recorder);
    wait_for_end(&live);
    live.stop();
    let kept = recorder.kept().clone();
    (kept, live.board().snapshot())
}

/// What was printed.
pub fn printed<'a>(characters: impl IntoIterator<Item = &'a Character>) -> String {
    let characters = characters.into_iter();
    characters.filter_map(|c| c.symbol.text()).collect()
}

/// The characters among events.
pub fn characters(events: &[Event]) -> Vec<Character> {
    let characters = events.iter().filter_map(|event| match event {
        Event::Character(character) => Some(character.clone()),
        _ => None,
    });
    characters.collect()
}
