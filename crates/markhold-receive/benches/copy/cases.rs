//! What is sent, what happens to it on the way, and how well it must be copied.

use crate::case::{Case, Length, Matter, Middle, Target};
use crate::{language, nothing, senders};
use markhold_air::{
    Agc, Carrier, Channel, CrashTiming, Crashes, Drift, Gaps, Hops, Keying, Noise, Pace, Place,
    Scene, Sender, Sense,
};
use markhold_receive::settings::LanguageUse;

/// Every case, in the order of the table.
pub fn all() -> Vec<Case> {
    [
        steady(),
        other_sideband(),
        keyboard(),
        two_paths(),
        frequency(),
        interference(),
        language::cases(),
        senders::usual(),
        senders::kinds(),
        nothing::to_copy(),
    ]
    .concat()
}

/// A case of one sender, 45.45 baud and 170 Hz, in steady noise.
pub fn case(name: impl Into<String>, es_n0_db: f64) -> Case {
    Case {
        name: name.into(),
        targets: Vec::new(),
        ceiling: "",
        length: Length::Characters(600),
        matter: Matter::Mixed,
        language: LanguageUse::Off,
        middle: Middle::Usual,
        scene: Scene {
            senders: vec![Sender::default()],
            noise: Noise::EsN0Db(es_n0_db),
            ..Scene::default()
        },
        following: Vec::new(),
    }
}

/// The sender of a case made by [`case`].
pub fn sender(case: &mut Case) -> &mut Sender {
    &mut case.scene.senders[0]
}

/// One target for the whole case.
pub fn at_most(percent: f64) -> Vec<Target> {
    vec![Target { percent, of: "" }]
}

fn steady() -> Vec<Case> {
    let followed = |percent| Target {
        percent,
        of: "phase followed",
    };
    let known = |percent| Target {
        percent,
        of: "non-coherent",
    };
    [
        (
            12.0,
            at_most(0.4),
            "0.09 % non-coherent, framing given; ~0 phase followed",
        ),
        (
            10.0,
            at_most(2.5),
            "2.1 % non-coherent, sequence framing; ~0 phase followed",
        ),
        (9.0, at_most(5.5), ""),
        (
            8.0,
            vec![known(12.0), followed(0.5)],
            "11 % non-coherent, sequence framing; 0.1 % phase followed",
        ),
        (
            6.0,
            vec![followed(2.0)],
            "31 % non-coherent, sequence framing; 0.8 % phase followed",
        ),
        (5.0, vec![followed(5.0)], ""),
        (
            4.0,
            vec![followed(12.0)],
            "54 % non-coherent, framing given; 5.7 % phase followed",
        ),
    ]
    .map(|(db, targets, ceiling)| Case {
        targets,
        ceiling,
        ..case(format!("steady {db} dB"), db)
    })
    .to_vec()
}

fn other_sideband() -> Vec<Case> {
    [(12.0, 0.4), (10.0, 2.5), (9.0, 5.5), (8.0, 12.0)]
        .map(|(db, percent)| {
            let mut case = case(format!("other sideband, anywhere, {db} dB"), db);
            sender(&mut case).sense = Sense::HigherTone;
            Case {
                targets: at_most(percent),
                ceiling: "as steady",
                middle: Middle::Anywhere,
                ..case
            }
        })
        .to_vec()
}

fn keyboard() -> Vec<Case> {
    [
        (12.0, 1.0, ""),
        (10.0, 5.0, "4.3 % sequence framing; 1.7 % framing given"),
    ]
    .map(|(db, percent, ceiling)| {
        let mut case = case(format!("keyboard pace {db} dB"), db);
        sender(&mut case).pace = Pace::Keyboard {
            characters_per_second: 4.0,
            gaps: Gaps::Exponential,
        };
        Case {
            targets: at_most(percent),
            ceiling,
            length: Length::Characters(400),
            ..case
        }
    })
    .to_vec()
}

fn two_paths() -> Vec<Case> {
    let paths = |delay_ms: f64, spread_hz: f64, ceiling, rows: [(f64, f64); 5]| {
        rows.map(|(db, percent)| {
            let name = format!("two paths {delay_ms} ms {spread_hz} Hz, {db} dB");
            let mut case = case(name, db);
            sender(&mut case).channel = Channel::TwoPath {
                delay_ms,
                spread_hz,
            };
            Case {
                targets: at_most(percent),
                ceiling,
                length: Length::Characters(900),
                ..case
            }
        })
    };
    let near = "5 % at 15.1 dB with gains known; 5 % at 9.7 and 10 % at 7.5 dB phase followed";
    let far = "5 % at 13.6 dB with gains known; 5 % at 9.1 and 10 % at 6.8 dB phase followed";
    [
        paths(
            1.0,
            0.5,
            near,
            [
                (20.0, 2.5),
                (16.0, 6.0),
                (14.0, 2.0),
                (11.0, 5.0),
                (9.0, 10.0),
            ],
        ),
        paths(
            2.0,
            1.0,
            far,
            [
                (20.0, 1.5),
                (16.0, 4.0),
                (14.0, 2.0),
                (11.0, 5.0),
                (9.0, 9.0),
            ],
        ),
    ]
    .concat()
}

fn frequency() -> Vec<Case> {
    let moving = |name: &str, db, seconds, percent, drift| {
        let mut case = case(name, db);
        case.scene.dial_drift = drift;
        Case {
            targets: at_most(percent),
            length: Length::Seconds(seconds),
            ..case
        }
    };
    let steadily = Drift {
        linear_hz_per_s: 2.0,
        ..Drift::default()
    };
    let jumping = Drift {
        hops: Some(Hops {
            period_s: 30.0,
            by_hz: 60.0,
        }),
        ..Drift::default()
    };
    // Five time constants: within 2 Hz of its end after ten minutes.
    let warming_up = Drift {
        warm_up_hz: 300.0,
        warm_up_s: 120.0,
        ..Drift::default()
    };
    vec![
        moving(
            "drift 2 Hz/s for two minutes, 12 dB",
            12.0,
            120.0,
            1.0,
            steadily,
        ),
        moving(
            "dial jump of 60 Hz each 30 s, 15 dB",
            15.0,
            180.0,
            2.0,
            jumping,
        ),
        moving(
            "warm-up of 300 Hz over 10 minutes, 12 dB",
            12.0,
            600.0,
            1.0,
            warming_up,
        ),
    ]
}

fn interference() -> Vec<Case> {
    let crashes = |name: &str, rate_per_s, percent| {
        let mut case = case(name, 15.0);
        case.scene.crashes = Some(Crashes {
            rate_per_s,
            shortest_ms: 5.0,
            longest_ms: 60.0,
            level_db: 25.0,
            timing: CrashTiming::Random,
        });
        Case {
            targets: at_most(percent),
            ..case
        }
    };
    let mut neighbour = case("keyed carrier 25 dB over, 400 Hz off, AGC, 20 dB", 20.0);
    neighbour.targets = at_most(3.0);
    neighbour.scene.carriers = vec![morse(Place::Beside(400.0), 20.0, 25.0)];
    neighbour.scene.agc = Some(Agc {
        attack_ms: 2.0,
        decay_s: 0.5,
        ..Agc::default()
    });
    vec![
        crashes("static crash each two seconds, 15 dB", 0.5, 1.5),
        crashes("two static crashes a second, 15 dB", 2.0, 5.0),
        neighbour,
    ]
}

/// A carrier keyed in Morse.
pub fn morse(place: Place, wpm: f64, level_db: f64) -> Carrier {
    Carrier {
        place,
        keying: Keying::Morse { wpm },
        level_db,
        ..Carrier::default()
    }
}
