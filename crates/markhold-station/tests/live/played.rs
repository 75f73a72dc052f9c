//! A source made of what a test wants to happen, and what came of it.

use markhold_air::{Air, Noise, Scene, Sender};
use markhold_code::FiguresRow;
use markhold_receive::event::{Character, Event};
use markhold_receive::{Receiver, Settings};
use markhold_station::live::{
    Delivery, InputReport, Live, LiveOptions, Report, Source, Subscription, Taken,
};
use std::collections::VecDeque;
use std::sync::Arc;

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

/// What the receiver alone makes of sound.
pub fn offline(samples: &[f32], rate: u32) -> Vec<Event> {
    let mut events = Vec::new();
    let mut receiver = Receiver::new(f64::from(rate), Settings::default()).expect("a rate");
    receiver.process(samples, &mut |event| events.push(event));
    receiver.finish(&mut |event| events.push(event));
    events
}

/// Starts, and joins before anything can be missed.
pub fn start(source: Box<dyn Source>, options: LiveOptions) -> (Live, Subscription) {
    let live = Live::start(source, options).expect("a source that works");
    let subscription = live.subscribe();
    (live, subscription)
}

/// Everything told until the source ended.
pub fn until_end(subscription: &mut Subscription) -> Vec<Arc<Report>> {
    let mut all = Vec::new();
    while let Some(delivery) = subscription.wait() {
        match delivery {
            Delivery::Report(report) => all.push(report),
            Delivery::Missed(count) => panic!("missed {count}"),
        }
        if let Some(Report::Input(InputReport::Ended { .. })) = all.last().map(AsRef::as_ref) {
            break;
        }
    }
    all
}

/// The events among reports.
pub fn events(reports: &[Arc<Report>]) -> Vec<Event> {
    let events = reports.iter().filter_map(|report| match report.as_ref() {
        Report::Event(event) => Some(event.clone()),
        _ => None,
    });
    events.collect()
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
