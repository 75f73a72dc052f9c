//! Language helps prose, says what it did, and stays off what is no prose.

use crate::hear::{Heard, hear, render, scene, sender};
use crate::score::errors;
use crate::text::{draw, message};
use markhold_code::Code;
use markhold_receive::Settings;
use markhold_receive::settings::LanguageUse;
use std::sync::LazyLock;

/// A bulletin of prose and reports at 5 dB.
static SCENE: LazyLock<(Vec<Code>, Vec<f32>)> = LazyLock::new(|| {
    let scene = scene(sender(&message(&mut draw("language", 2), 350)), 5.0);
    (scene.senders[0].codes.clone(), render(scene, 8000))
});

fn heard(language: LanguageUse) -> Heard {
    let settings = Settings {
        language,
        ..Settings::default()
    };
    hear(&SCENE.1, 8000, settings)
}

#[test]
fn it_helps_and_says_what_it_changed() {
    let [off, mark, on] = [LanguageUse::Off, LanguageUse::Mark, LanguageUse::On].map(heard);
    let wrong = |heard: &Heard| errors(&SCENE.0, &heard.codes());
    assert!(wrong(&on) < wrong(&off), "{} {}", wrong(&on), wrong(&off));
    assert_eq!(off.codes(), mark.codes());
    assert!(off.characters().all(|c| c.witnesses.is_none()));
    let changed = |heard: &Heard| {
        let list = heard.characters().filter_map(|c| c.witnesses);
        list.filter(|w| w.differ()).count()
    };
    assert!(changed(&mark) > 0);
    for character in on.characters() {
        let witnesses = character.witnesses.expect("language was asked");
        let alone = off
            .characters()
            .find(|c| c.start_s == character.start_s)
            .expect("the signal alone has all characters");
        assert_eq!(alone.code, witnesses.signal.code);
        assert_eq!(alone.symbol, witnesses.signal.symbol);
        if !witnesses.differ() {
            assert_eq!(
                (alone.code, alone.symbol),
                (character.code, character.symbol)
            );
        }
    }
}

#[test]
fn keyboard_rows_in_figures_stay_figures() {
    // Sent in letters shift the same codes are QWERTYUIOP, which language knows well.
    let scene = scene(sender("THE QUICK BROWN FOX 1234567890 DE Q1ABC"), 14.0);
    let sent = scene.senders[0].codes.clone();
    let heard = hear(&render(scene, 8000), 8000, Settings::default());
    assert_eq!(heard.codes(), sent, "{}", heard.printed());
}

#[test]
fn prose_is_told_from_groups_also_where_it_names_what_nobody_knows() {
    let mean = |text: &str| {
        let sound = render(scene(sender(text), 14.0), 8000);
        let heard = hear(&sound, 8000, Settings::default());
        let witnesses = heard.characters().filter_map(|c| c.witnesses);
        // The first line tells of which kind a text is.
        let prose: Vec<f32> = witnesses.skip(25).map(|w| w.prose).collect();
        assert!(prose.len() > 50, "{}", heard.printed());
        prose.iter().sum::<f32>() / prose.len() as f32
    };
    let named = mean(&"NET DE QKESTREL QKESTREL\r\n".repeat(4));
    let german = mean(&"DAS WETTER BLEIBT AUCH MORGEN NOCH RUHIG\r\n".repeat(3));
    let groups = mean(&"XKQVZ PLMWR GTYBN ZQXJC HVWFD\r\n".repeat(4));
    assert!(named > 0.9 && german > 0.9, "{named} {german}");
    assert!(groups < 0.5, "{groups}");
}
