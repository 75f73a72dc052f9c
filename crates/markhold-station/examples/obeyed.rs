//! Whoever obeys the sentence to the letter: in tune after how many turns and seconds, from
//! random places of the dial on the practice band. Figures, not a test.
//!
//! cargo run --release -p markhold-station --example obeyed -- [PLACES] [FIRST]

#[path = "../tests/turned/obeyed.rs"]
mod obeyed;
#[path = "../tests/turned/practice.rs"]
mod practice;

use markhold_air::practice::{Controls, Sideband, WarmUp, stations};
use markhold_sound as live;
use markhold_station::live::Target;
use practice::Evening;

/// For how long is obeyed, s, and from when on one sentence should stand.
const LISTEN_S: f64 = 80.0;

fn main() {
    let mut words = std::env::args().skip(1).map(|w| w.parse::<u64>());
    let places = words.next().map_or(20, |n| n.expect("a number of places"));
    let first = words.next().map_or(1, |n| n.expect("the first place"));
    for place in first..first + places {
        one(place);
    }
}

fn one(place: u64) {
    let mut random = place.wrapping_mul(0x9E37_79B9_7F4A_7C15);
    let mut draw = |n: f64| {
        random = random
            .wrapping_mul(6364136223846793005)
            .wrapping_add(1442695040888963407);
        n * ((random >> 33) as f64 / (1u64 << 31) as f64)
    };
    let sideband = if draw(1.0) < 0.5 {
        Sideband::Lower
    } else {
        Sideband::Upper
    };
    let station = &stations()[draw(4.0) as usize];
    let audio_hz = 250.0 + draw(2500.0);
    let sign = if sideband == Sideband::Lower {
        1.0
    } else {
        -1.0
    };
    let controls = Controls {
        dial_hz: station.middle_hz() + sign * audio_hz,
        sideband,
        warm_up: WarmUp {
            off_hz: draw(100.0) - 50.0,
            time_s: 300.0,
        },
        static_per_min: draw(12.0),
        volume_db: 0.0,
    };
    let told = if sideband == Sideband::Lower {
        live::Sideband::Lower
    } else {
        live::Sideband::Upper
    };
    let target = if draw(1.0) < 0.5 {
        Target::Passband
    } else {
        Target::Middle(2210.0)
    };
    let mut evening = Evening::at(place, controls, told, target);
    let skip = draw(60.0);
    evening.skip(skip);
    let outcome = obeyed::obey(&mut evening, LISTEN_S);
    println!(
        "{place:3} {} {audio_hz:5.0} Hz {sideband:?} {target:?}: {outcome:?}",
        station.call
    );
    if std::env::var("WORDS").is_ok() {
        let mut said = String::new();
        for t in &evening.told {
            if t.words != said {
                println!("    {:5.1} {} {:?}", t.at_s, t.words, t.tones_hz);
                said.clone_from(&t.words);
            }
        }
    }
}
