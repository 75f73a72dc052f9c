//! A signal that ends: it is said once, and nothing comes after it.

use crate::hear::{Heard, hear_scene, render, scene, sender};
use markhold_air::{Scene, Sender};
use markhold_receive::event::Event;
use markhold_receive::{Receiver, Settings};
use std::sync::LazyLock;

const TEXT: &str = "THIS IS THE LAST LINE FOR TONIGHT DE Q3END 2345";

/// A transmission and noise after it for long enough to be sure of its end.
fn over() -> Scene {
    Scene {
        silence_after_s: 15.0,
        ..scene(sender(TEXT), 14.0)
    }
}

static HEARD: LazyLock<Heard> = LazyLock::new(|| hear_scene(over()));

#[test]
fn ended_is_said_once_and_last() {
    assert_eq!(HEARD.codes(), sender(TEXT).codes, "{}", HEARD.printed());
    assert!(matches!(HEARD.events.first(), Some(Event::Found(_))));
    assert!(matches!(HEARD.events.last(), Some(Event::Ended(_))));
    assert_eq!((HEARD.found().len(), HEARD.ended().len()), (1, 1));
}

#[test]
fn ended_is_said_while_the_noise_goes_on() {
    let sound = render(over(), 8000);
    let mut receiver = Receiver::new(8000.0, Settings::default()).expect("defaults");
    let mut heard = Heard::default();
    for block in sound.chunks(1000) {
        receiver.process(block, &mut |event| heard.events.push(event));
    }
    assert_eq!(
        heard.events, HEARD.events,
        "finishing added or changed something"
    );
}

#[test]
fn the_end_is_where_the_last_character_was() {
    let last = HEARD.characters().last().expect("some").start_s;
    let end = HEARD.ended()[0];
    assert!(
        (end.until_s - last).abs() < 1.0,
        "{} s, last character {last} s",
        end.until_s
    );
    assert!(
        (end.begin_s - 1.0).abs() < 0.5,
        "began at {} s",
        end.begin_s
    );
}

#[test]
fn who_comes_after_it_gets_another_name() {
    let answer = Sender {
        begin_s: 22.0,
        centre_hz: 2180.0,
        ..sender("GOOD COPY HERE DE Q5ANS 5678 AND OUT")
    };
    let mut both = over();
    both.senders.push(answer.clone());
    both.silence_after_s = 1.0;
    let heard = hear_scene(both);
    let names: Vec<_> = heard.found().iter().map(|s| s.id).collect();
    assert_eq!(names.len(), 2, "{}", heard.printed());
    assert_eq!(heard.codes_of(names[0]), sender(TEXT).codes);
    assert_eq!(heard.codes_of(names[1]), answer.codes);
}
