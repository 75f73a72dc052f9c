//! Cases in which nobody sends radioteletype.

use crate::case::{Case, Length, Matter, Middle, Target};
use crate::cases::morse;
use markhold_air::{Carrier, Keying, Noise, Place, Scene, Speech};
use markhold_receive::settings::LanguageUse;

/// Noise alone, and everything but radioteletype.
pub fn to_copy() -> Vec<Case> {
    let noise = Scene {
        noise: Noise::SnrDb {
            snr_db: 0.0,
            bandwidth_hz: 3000.0,
        },
        ..Scene::default()
    };
    let with = |carriers: Vec<Carrier>, voices: Vec<Speech>| Scene {
        carriers,
        voices,
        ..noise.clone()
    };
    let voice = |level_db, pitch_hz, offset_hz| Speech {
        level_db,
        pitch_hz,
        offset_hz,
    };
    let steady = |hz| Carrier {
        keying: Keying::Steady,
        ..morse(Place::At(hz), 20.0, 5.0)
    };
    let keyed = |hz, wpm, level_db| morse(Place::At(hz), wpm, level_db);
    // Two keyed carriers as far apart as the usual tones are the hardest of these.
    let others = [
        with(
            vec![keyed(2125.0, 20.0, 10.0), keyed(2295.0, 25.0, 10.0)],
            vec![],
        ),
        with(vec![], vec![voice(15.0, 120.0, 0.0)]),
        with(
            vec![
                keyed(700.0, 18.0, 15.0),
                keyed(1550.0, 12.0, 5.0),
                steady(2000.0),
            ],
            vec![],
        ),
        with(
            vec![steady(1275.0), steady(1445.0), keyed(1900.0, 30.0, 20.0)],
            vec![],
        ),
        with(
            vec![keyed(1000.0, 36.0, 10.0)],
            vec![voice(10.0, 210.0, 85.0)],
        ),
        with(
            vec![],
            vec![voice(20.0, 110.0, 0.0), voice(10.0, 190.0, -40.0)],
        ),
    ];
    let hour = |name: &str, scenes: Vec<Scene>| {
        let mut scenes = scenes.into_iter();
        Case {
            name: name.into(),
            targets: vec![Target {
                percent: 5.0,
                of: "characters",
            }],
            ceiling: "",
            length: Length::Hour,
            matter: Matter::Mixed,
            language: LanguageUse::On,
            middle: Middle::Usual,
            scene: scenes.next().unwrap_or_default(),
            following: scenes.collect(),
        }
    };
    vec![
        hour("an hour of noise", vec![noise.clone()]),
        hour("an hour of keyed carriers and speech", others.to_vec()),
    ]
}
