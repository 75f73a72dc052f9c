//! Settings changed while the receiver runs: held, let go, and nothing copied twice.

use crate::hear::{Heard, render, scene, sender};
use markhold_air::{Scene, Sender};
use markhold_receive::event::{Event, Sense};
use markhold_receive::{Receiver, Settings};

const RATE_HZ: u32 = 8000;
const TEXT: &str = "HOLD WHAT YOU HAVE AND LET GO WHAT YOU DO NOT WANT DE Q3HLD PSE K \
                    THE SECOND HALF IS FOR THE OTHER HAND TO HOLD AND THEN LET GO AGAIN";

/// Hears sound, with the settings changed at an instant, s.
fn changed(sound: &[f32], at_s: f64, settings: Settings) -> (Heard, Receiver) {
    let mut receiver = Receiver::new(f64::from(RATE_HZ), Settings::default()).expect("defaults");
    let mut heard = Heard::default();
    let mut report = |event| heard.events.push(event);
    let (before, after) = sound.split_at((at_s * f64::from(RATE_HZ)) as usize);
    receiver.process(before, &mut report);
    receiver
        .set_settings(settings, &mut report)
        .expect("settings that work");
    receiver.process(after, &mut report);
    (heard, receiver)
}

/// Two senders, the second weaker and 710 Hz lower.
fn two() -> Vec<f32> {
    let low = Sender {
        centre_hz: 1500.0,
        level_db: -6.0,
        ..sender(&TEXT.replace("HOLD", "KEEP"))
    };
    let both = Scene {
        senders: vec![sender(TEXT), low],
        ..scene(sender(TEXT), 22.0)
    };
    render(both, RATE_HZ)
}

#[test]
fn what_fits_goes_on_without_a_break() {
    let sound = render(scene(sender(TEXT), 14.0), RATE_HZ);
    let held = Settings {
        sense: Some(Sense::LowerTone),
        shift_hz: Some(170.0),
        rate_baud: Some(45.45),
        ..Settings::default()
    };
    let (mut heard, mut receiver) = changed(&sound, 12.0, held);
    receiver.finish(&mut |event| heard.events.push(event));
    assert_eq!(heard.printed(), TEXT);
    assert_eq!(heard.found().len(), 1);
}

#[test]
fn another_pair_is_taken_up_and_nothing_is_copied_twice() {
    let at = Settings {
        at_hz: Some(1500.0),
        ..Settings::default()
    };
    let (mut heard, mut receiver) = changed(&two(), 10.0, at);
    assert_eq!(receiver.signals().len(), 1);
    receiver.finish(&mut |event| heard.events.push(event));
    let found: Vec<_> = heard.found().iter().map(|s| (s.id, s.mark_hz)).collect();
    let [(first, high_hz), (second, low_hz)] = found[..] else {
        panic!("{found:?}");
    };
    assert!(low_hz < 1600.0 && high_hz > 2000.0, "{found:?}");
    let ended = heard
        .events
        .iter()
        .position(|e| matches!(e, Event::Ended(s) if s.id == first));
    let begun = heard
        .events
        .iter()
        .position(|e| matches!(e, Event::Found(s) if s.id == second));
    assert!(ended < begun, "{ended:?} {begun:?}");
    assert!(heard.codes_of(first).len() > 20);
    assert!(heard.codes_of(second).len() > 60);
}

#[test]
fn a_sense_held_against_the_signal_is_let_go_again() {
    let sound = render(scene(sender(TEXT), 14.0), RATE_HZ);
    let wrong = Settings {
        sense: Some(Sense::HigherTone),
        ..Settings::default()
    };
    let (mut heard, mut receiver) = changed(&sound[..120_000], 8.0, wrong);
    assert_eq!(heard.ended().len(), 1);
    assert!(receiver.signals().is_empty());
    let mut report = |event| heard.events.push(event);
    receiver
        .set_settings(Settings::default(), &mut report)
        .expect("defaults");
    receiver.process(&sound[120_000..], &mut report);
    receiver.finish(&mut report);
    let all = heard.printed();
    assert!(all.ends_with(&TEXT[TEXT.len() - 40..]), "{all}");
    assert_eq!(heard.found().len(), 2);
}

#[test]
fn settings_that_cannot_work_change_nothing() {
    let mut receiver = Receiver::new(8000.0, Settings::default()).expect("defaults");
    let impossible = Settings {
        rate_baud: Some(300.0),
        ..Settings::default()
    };
    let mut events = 0;
    let error = receiver.set_settings(impossible, &mut |_| events += 1);
    assert!(error.is_err());
    assert_eq!(events, 0);
}
