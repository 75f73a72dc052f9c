//! Probabilities are probabilities, alternatives are ordered, and both are honest.

use crate::hear::{Heard, render, scene, sender};
use crate::text::{draw, message};
use markhold_air::{Air, SentCharacter};
use markhold_receive::Settings;
use markhold_receive::settings::LanguageUse;
use std::sync::LazyLock;

/// A bulletin at 5 dB, where a good part of the characters is doubtful.
static COPY: LazyLock<(Vec<SentCharacter>, Heard)> = LazyLock::new(|| {
    let scene = scene(sender(&message(&mut draw("probabilities", 1), 350)), 5.0);
    let air = Air::new(scene.clone(), 8000).expect("the scene makes sense");
    let sound = render(scene, 8000);
    (
        air.truth().characters(0),
        crate::hear::hear(&sound, 8000, alone()),
    )
});

/// The signal alone: with language too few are doubtful to say anything of.
fn alone() -> Settings {
    Settings {
        language: LanguageUse::Off,
        ..Settings::default()
    }
}

#[test]
fn they_lie_between_0_and_1_and_add_up_to_no_more() {
    for character in COPY.1.characters() {
        let [second, third] = character.alternatives.map(|a| a.probability);
        for p in [character.probability, second, third] {
            assert!((0.0..=1.0).contains(&p), "{character:?}");
        }
        let sum = character.probability + second + third;
        assert!(sum <= 1.0 + 1e-4, "{sum}: {character:?}");
    }
}

#[test]
fn alternatives_are_other_codes_in_order() {
    for character in COPY.1.characters() {
        let [second, third] = character.alternatives;
        assert!(character.probability >= second.probability, "{character:?}");
        assert!(second.probability >= third.probability, "{character:?}");
        let codes = [character.code, second.code, third.code];
        assert!(
            codes[0] != codes[1] && codes[1] != codes[2] && codes[0] != codes[2],
            "{character:?}"
        );
    }
}

#[test]
fn characters_come_in_order_of_time_and_where_they_were_sent() {
    let starts: Vec<f64> = COPY.1.characters().map(|c| c.start_s).collect();
    assert!(starts.windows(2).all(|w| w[0] < w[1]), "{starts:?}");
    let near = |at: &&f64| COPY.0.iter().any(|c| (c.start_s - **at).abs() < 0.01);
    let right = starts.iter().filter(near).count();
    assert!(
        right * 20 >= starts.len() * 19,
        "{right} of {}",
        starts.len()
    );
}

/// Of the characters said to be at least 90 % sure, nine in ten are what was sent; the rest
/// are doubtful with good reason, because they are wrong more often.
#[test]
fn what_is_said_to_be_sure_is_right() {
    let (mut sure, mut doubtful) = ([0_usize; 2], [0_usize; 2]);
    for character in COPY.1.characters() {
        let right = COPY
            .0
            .iter()
            .any(|c| c.code == character.code && (c.start_s - character.start_s).abs() < 0.022);
        let of = if character.probability >= 0.9 {
            &mut sure
        } else {
            &mut doubtful
        };
        of[usize::from(right)] += 1;
    }
    let share = |[wrong, right]: [usize; 2]| right as f64 / (right + wrong) as f64;
    assert!(share(sure) >= 0.9, "sure ones: {sure:?} wrong and right");
    assert!(doubtful[0] + doubtful[1] > 0, "the test is too easy");
    assert!(share(doubtful) < share(sure), "{doubtful:?} {sure:?}");
}
