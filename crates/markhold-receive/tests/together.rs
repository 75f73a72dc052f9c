//! Several receivers of one transmission, from sound to characters.
#![allow(missing_docs, reason = "tests")]

#[path = "../benches/together/scene.rs"]
#[allow(dead_code, reason = "shared with the bench")]
mod scene;
#[path = "../benches/common/score.rs"]
mod score;

use markhold_air::Channel;
use markhold_code::Code;
use markhold_receive::event::{Event, SignalId};
use markhold_receive::settings::LanguageUse;
use markhold_receive::together::{Listened, Listener, Together, Transmission, transmissions};
use markhold_receive::{Receiver, Settings};
use scene::{Heard, RATE, Way, hear};

fn settings() -> Settings {
    Settings {
        language: LanguageUse::Off,
        ..Settings::default()
    }
}

fn codes(event: Event) -> Option<Code> {
    match event {
        Event::Character(c) => Some(c.code),
        _ => None,
    }
}

fn alone(heard: &Heard) -> usize {
    let mut copied = Vec::new();
    let mut receiver = Receiver::new(f64::from(RATE), settings()).unwrap();
    let mut take = |event| copied.extend(codes(event));
    receiver.process(&heard.sound, &mut take);
    receiver.finish(&mut take);
    errors(heard, &copied)
}

fn errors(heard: &Heard, copied: &[Code]) -> usize {
    let sent: Vec<Code> = heard.characters.iter().map(|c| c.0).collect();
    score::errors(&sent, copied)
}

fn found(sounds: &[&[f32]]) -> Vec<Transmission> {
    let listen = |sound: &&[f32]| {
        let mut listener = Listener::new(f64::from(RATE), &settings()).unwrap();
        listener.process(sound);
        listener.finish()
    };
    transmissions(&sounds.iter().map(listen).collect::<Vec<Listened>>())
}

fn copied(of: &Transmission, sounds: &[&[f32]]) -> Vec<Event> {
    copied_by(1500, of, sounds)
}

/// Copied by blocks of so many samples.
fn copied_by(block: usize, of: &Transmission, sounds: &[&[f32]]) -> Vec<Event> {
    let mut together = Together::new(of, SignalId(7), &settings()).unwrap();
    let mut events = Vec::new();
    let mut taken = vec![0; of.members.len()];
    while let Some(k) = together.wants() {
        let sound = sounds[of.members[k].receiver];
        let end = (taken[k] + block).min(sound.len());
        together.push(k, &sound[taken[k]..end], &mut |event| events.push(event));
        taken[k] = end;
    }
    events
}

fn way(channel: Channel, es_n0_db: f64) -> Way {
    Way {
        channel,
        es_n0_db,
        clock: (3.0, 200.0),
        characters: 130,
    }
}

/// Wrong and lost characters of one draw together and of either receiver alone, with clocks and
/// events looked at.
fn fading(seed: u64) -> (usize, [usize; 2]) {
    let fading = Channel::TwoPath {
        delay_ms: 1.0,
        spread_hz: 0.5,
    };
    let heard = [0, 1].map(|k| hear(&way(fading, 9.0), k, seed));
    let sounds = heard.each_ref().map(|h| h.sound.as_slice());
    let of = &found(&sounds)[0];
    assert_eq!(of.members.len(), 2);
    // The clocks are told to a fraction of a millisecond, whichever of them is first.
    let [first, other] = [0, 1].map(|k| &heard[of.members[k].receiver].characters);
    for at in [0, 60, 120] {
        let off_s = of.members[1].time.at(first[at].1) - other[at].1;
        assert!(off_s.abs() < 2e-3, "{off_s} s at character {at}");
    }
    let events = copied(of, &sounds);
    assert!(matches!(&events[0], Event::Found(s) if s.id == SignalId(7)));
    assert!(matches!(events.last(), Some(Event::Ended(_))));
    let both: Vec<Code> = events.into_iter().filter_map(codes).collect();
    (errors(&heard[0], &both), heard.each_ref().map(alone))
}

/// Of three draws: with one alone chance weighs as much as what is tested.
#[test]
fn what_fades_in_one_is_heard_by_the_other() {
    let draws: Vec<_> = (5..8).map(fading).collect();
    let together: usize = draws.iter().map(|d| d.0).sum();
    let by_itself = [0, 1].map(|k| draws.iter().map(|d| d.1[k]).sum::<usize>());
    assert!(
        3 * together <= by_itself[0].min(by_itself[1]),
        "{together} together, {by_itself:?} alone: {draws:?}"
    );
}

/// A dial that is turned a little while somebody sends beside it: where the tones went is told
/// alike however much of the sound is there already.
#[test]
fn any_block_size_gives_the_same_copy() {
    let heard = [0, 1].map(|k| hear(&way(Channel::Steady, 9.0), k, 8));
    let turned = |sound: &[f32]| -> Vec<f32> {
        let beside = |t: f64| (std::f64::consts::TAU * (1500.0 + 40.0 * (t / 5.0).sin()) * t).cos();
        let rate = f64::from(RATE);
        let added = |(n, x): (usize, &f32)| x + 0.05 * beside(n as f64 / rate) as f32;
        sound.iter().enumerate().map(added).collect()
    };
    let sounds = heard.map(|h| turned(&h.sound));
    let sounds = [&sounds[0][..], &sounds[1][..]];
    let of = &found(&sounds)[0];
    assert_eq!(of.members.len(), 2);
    let told = |block: usize| -> Vec<Event> {
        let events = copied_by(block, of, &sounds);
        let is_character = |e: &Event| matches!(e, Event::Character(_));
        events.into_iter().filter(is_character).collect()
    };
    let small = told(700);
    assert!(small.len() > 100);
    for block in [1500, 24_000] {
        assert!(told(block) == small, "blocks of {block}");
    }
}

#[test]
fn a_receiver_that_ends_early_or_hears_something_else_costs_nothing() {
    let heard = [0, 1].map(|k| hear(&way(Channel::Steady, 12.0), k, 6));
    let other = hear(&way(Channel::Steady, 12.0), 2, 9);
    let half = &heard[1].sound[..heard[1].sound.len() / 2];
    let sounds = [&heard[0].sound[..], half, &other.sound];
    let all = found(&sounds);
    let of = all
        .iter()
        .find(|t| t.members.len() == 2)
        .expect("two that heard the same");
    assert_eq!(all.len(), 2);
    let both: Vec<Code> = copied(of, &sounds).into_iter().filter_map(codes).collect();
    assert_eq!(errors(&heard[0], &both), 0);
    let one = all
        .iter()
        .find(|t| t.members.len() == 1)
        .expect("one by itself");
    let single: Vec<Code> = copied(one, &sounds).into_iter().filter_map(codes).collect();
    assert_eq!(errors(&other, &single), 0);
    assert!(found(&[]).is_empty() && found(&[&[0.0; 20_000]]).is_empty());
}
