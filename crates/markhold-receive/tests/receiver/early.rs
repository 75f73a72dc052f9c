//! Early reading: soon after the stop element, in agreement with what is decided later.

use crate::hear::{Heard, hear, hear_in_blocks, render, scene, sender};
use markhold_air::{Air, Channel, Scene, Sender};
use markhold_code::StartStop;
use markhold_receive::event::{Character, CharacterId, Event};
use markhold_receive::{Receiver, Settings};

const RATE_HZ: u32 = 8000;
/// A first reading comes at most this long after the end of the stop element, s: what a
/// person at the dial still takes for at once.
const DELAY_S: f64 = 0.2;
const TEXT: &str = "EARLY BIRDS READ FIRST: 1234 5678 DE Q7EAR THE QUICK BROWN FOX JUMPS OVER \
                    THE LAZY DOG AND RESTS AWHILE";

fn early() -> Settings {
    Settings {
        early: true,
        ..Settings::default()
    }
}

fn firsts(heard: &Heard) -> Vec<&Character> {
    let early = heard.events.iter().filter_map(|event| match event {
        Event::Early(character) => Some(character),
        _ => None,
    });
    early.collect()
}

/// Each first reading with the instant until which sound had been given, s.
fn with_instants(sound: &[f32], block: usize) -> Vec<(f64, Character)> {
    let mut receiver = Receiver::new(f64::from(RATE_HZ), early()).expect("settings that work");
    let (mut given, mut out) = (0, Vec::new());
    for samples in sound.chunks(block) {
        given += samples.len();
        receiver.process(samples, &mut |event| {
            if let Event::Early(character) = event {
                out.push((given as f64 / f64::from(RATE_HZ), character));
            }
        });
    }
    out
}

#[test]
fn comes_within_a_fifth_of_a_second_of_the_stop_element() {
    let air = Air::new(scene(sender(TEXT), 14.0), RATE_HZ).expect("the scene makes sense");
    let sent = air.truth().characters(0);
    let sound = air.render();
    let speed = StartStop::new(1.0 / 0.022, 1.5);
    let firsts = with_instants(&sound, 8);
    let found_s = firsts.first().expect("some were read").0;
    let ends = sent
        .iter()
        .map(|c| (c.start_s, c.start_s + speed.character_s()));
    let mut followed = 0;
    for (start_s, end_s) in ends.filter(|(_, end_s)| *end_s > found_s) {
        let first = firsts
            .iter()
            .find(|(_, c)| (c.start_s - start_s).abs() < 0.01);
        let (at_s, _) = first.unwrap_or_else(|| panic!("nothing read at {start_s:.3} s"));
        let delay_s = at_s - end_s;
        assert!(delay_s < DELAY_S, "{delay_s:.3} s late at {start_s:.3} s");
        followed += 1;
    }
    assert!(followed > 60, "{followed} of {}", sent.len());
}

#[test]
fn agrees_with_what_is_decided_later_on_a_good_signal() {
    let heard = hear(
        &render(scene(sender(TEXT), 14.0), RATE_HZ),
        RATE_HZ,
        early(),
    );
    let firsts = firsts(&heard);
    assert!(firsts.len() > 60, "{}", firsts.len());
    for first in &firsts {
        let late = heard.characters().find(|c| c.id == first.id);
        let late = late.unwrap_or_else(|| panic!("none decided at {:.3} s", first.start_s));
        assert_eq!((late.code, late.symbol), (first.code, first.symbol));
    }
}

/// Most first readings in fading are right, too, and none is given twice.
#[test]
fn holds_in_fading() {
    let faded = Sender {
        channel: Channel::MID_LATITUDE_MODERATE,
        ..sender(TEXT)
    };
    let heard = hear(&render(scene(faded, 18.0), RATE_HZ), RATE_HZ, early());
    let firsts = firsts(&heard);
    let apart = firsts.windows(2).map(|w| w[1].start_s - w[0].start_s);
    assert!(apart.fold(f64::MAX, f64::min) > 0.12);
    let agreeing = firsts
        .iter()
        .filter(|f| heard.characters().any(|c| c.id == f.id && c.code == f.code));
    let (agreeing, all) = (agreeing.count(), firsts.len());
    assert!(all > 60 && agreeing * 10 > all * 8, "{agreeing} of {all}");
}

#[test]
fn changes_nothing_of_what_is_decided() {
    let sound = render(scene(sender(TEXT), 8.0), RATE_HZ);
    let mut with = hear(&sound, RATE_HZ, early());
    with.events.retain(|e| !matches!(e, Event::Early(_)));
    let without = hear(&sound, RATE_HZ, Settings::default());
    assert_eq!(unnamed(with), unnamed(without));
}

/// Without the ids of characters: one that was read early keeps the name it got then, from a
/// start that is known a hundredth of a second better later on.
fn unnamed(mut heard: Heard) -> Heard {
    for event in &mut heard.events {
        if let Event::Character(character) = event {
            character.id = CharacterId::default();
        }
    }
    heard
}

#[test]
fn blocks_do_not_matter() {
    let sound = render(
        scene(sender("BLOCKS FOR EARLY READERS 73 DE Q4LAW"), 9.0),
        RATE_HZ,
    );
    let at_once = hear_in_blocks(&sound, RATE_HZ, early(), &[usize::MAX]);
    assert!(!firsts(&at_once).is_empty());
    for block in [1, 100, 997] {
        assert_eq!(hear_in_blocks(&sound, RATE_HZ, early(), &[block]), at_once);
    }
}

#[test]
fn noise_after_a_signal_reads_as_nothing() {
    let ending = Scene {
        silence_after_s: 20.0,
        ..scene(sender(TEXT), 12.0)
    };
    let air = Air::new(ending, RATE_HZ).expect("the scene makes sense");
    let last_s = air.truth().characters(0).last().expect("some text").start_s;
    let heard = hear(&air.render(), RATE_HZ, early());
    let firsts = firsts(&heard);
    assert!(firsts.len() > 60, "{}", firsts.len());
    let after = firsts.iter().filter(|c| c.start_s > last_s + 0.1);
    assert_eq!(after.count(), 0);
}
