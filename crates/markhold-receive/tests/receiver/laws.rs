//! Laws: blocks do not matter, same input gives same output.

use crate::hear::{Heard, hear, hear_in_blocks, render, scene, sender};
use markhold_air::{Carrier, Keying, Passband, Place, Scene, Sender};
use markhold_receive::Settings;
use proptest::prelude::*;
use std::sync::LazyLock;

/// Ten seconds of a bulletin with some errors in it, so that probabilities matter.
static SOUND: LazyLock<Vec<f32>> = LazyLock::new(|| {
    let text = "BLOCKS OF ANY SIZE GIVE THE SAME COPY 73 DE Q4LAW";
    let mut sound = render(scene(sender(text), 8.0), 8000);
    sound.truncate(80_000);
    sound
});

static AT_ONCE: LazyLock<Heard> =
    LazyLock::new(|| hear_in_blocks(&SOUND, 8000, Settings::default(), &[usize::MAX]));

/// Two signals, one on the edge of a narrow passband that the search has to learn, carriers
/// in it: all that is told by time, by rivals and by trials that wait for their turn.
static CROWDED: LazyLock<Vec<f32>> = LazyLock::new(|| {
    let at = |centre_hz: f64, level_db: f64, text: &str| Sender {
        centre_hz,
        level_db,
        ..sender(text)
    };
    let carrier = |(hz, keying): (f64, Keying)| Carrier {
        place: Place::At(hz),
        keying,
        ..Carrier::default()
    };
    let morse = Keying::Morse { wpm: 20.0 };
    let scene = Scene {
        senders: vec![
            at(1000.0, 0.0, "A CROWDED BAND DE Q4LAW WITH AN EDGE"),
            at(1490.0, 0.0, "ON THE EDGE OF IT DE Q5LAW LISTENING"),
        ],
        carriers: [(700.0, Keying::Steady), (1210.0, morse)]
            .map(carrier)
            .to_vec(),
        passband: Some(Passband {
            low_hz: 600.0,
            high_hz: 1620.0,
        }),
        ..scene(sender(""), 15.0)
    };
    let mut sound = render(scene, 8000);
    sound.truncate(80_000);
    sound
});

fn all() -> Settings {
    Settings {
        all: true,
        early: true,
        ..Settings::default()
    }
}

static CROWDED_AT_ONCE: LazyLock<Heard> =
    LazyLock::new(|| hear_in_blocks(&CROWDED, 8000, all(), &[usize::MAX]));

#[test]
fn one_receiver_equals_another() {
    let again = hear_in_blocks(&SOUND, 8000, Settings::default(), &[usize::MAX]);
    assert!(again.characters().count() > 20, "{}", again.printed());
    assert_eq!(again, *AT_ONCE);
}

#[test]
fn single_samples_give_the_same_as_all_at_once() {
    assert_eq!(
        hear_in_blocks(&SOUND, 8000, Settings::default(), &[1]),
        *AT_ONCE
    );
}

/// Longer than anything that the receiver remembers.
#[test]
fn a_long_block_gives_the_same_as_short_ones() {
    let long = Scene {
        silence_after_s: 25.0,
        ..scene(sender("A LONG BLOCK DE Q4LAW 73"), 14.0)
    };
    let sound = render(long, 8000);
    let at_once = hear_in_blocks(&sound, 8000, Settings::default(), &[usize::MAX]);
    assert_eq!(hear(&sound, 8000, Settings::default()), at_once);
}

#[test]
fn one_receiver_does_not_know_of_another() {
    // Two receivers in turn, block by block, hear what each hears alone.
    let other = render(scene(sender("SOMETHING ELSE 12345 DE Q9XYZ"), 15.0), 8000);
    let alone = hear(&other, 8000, Settings::default());
    let (a, b) = in_turn(&SOUND, &other);
    assert_eq!((a, b), (hear(&SOUND, 8000, Settings::default()), alone));
}

fn in_turn(first: &[f32], second: &[f32]) -> (Heard, Heard) {
    let new = || markhold_receive::Receiver::new(8000.0, Settings::default()).expect("defaults");
    let (mut a, mut b) = ((new(), Heard::default()), (new(), Heard::default()));
    let mut blocks = (first.chunks(777), second.chunks(777));
    loop {
        let next = (blocks.0.next(), blocks.1.next());
        if let Some(block) = next.0 {
            a.0.process(block, &mut |event| a.1.events.push(event));
        }
        if let Some(block) = next.1 {
            b.0.process(block, &mut |event| b.1.events.push(event));
        }
        if next == (None, None) {
            break;
        }
    }
    a.0.finish(&mut |event| a.1.events.push(event));
    b.0.finish(&mut |event| b.1.events.push(event));
    (a.1, b.1)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 6, ..ProptestConfig::default() })]

    #[test]
    fn any_blocks_give_the_same_as_all_at_once(
        lengths in proptest::collection::vec(1..9000_usize, 1..8),
    ) {
        let heard = hear_in_blocks(&SOUND, 8000, Settings::default(), &lengths);
        prop_assert_eq!(&heard, &*AT_ONCE);
    }

    #[test]
    fn any_blocks_give_the_same_on_a_crowded_band(
        lengths in proptest::collection::vec(1..3000_usize, 1..8),
    ) {
        let found = CROWDED_AT_ONCE.found().len();
        prop_assert!(found >= 2, "{} signals: {}", found, CROWDED_AT_ONCE.printed());
        let heard = hear_in_blocks(&CROWDED, 8000, all(), &lengths);
        prop_assert_eq!(&heard, &*CROWDED_AT_ONCE);
    }
}
