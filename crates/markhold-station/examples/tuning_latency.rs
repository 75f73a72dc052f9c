//! How soon a turn of the dial is told: from the first sample after the turn to the last
//! sample that the right instruction needed. A figure, not a test.
//!
//! The device's block, 40 ms at most, and computing come on top.
//!
//! cargo run --release -p markhold-station --example tuning_latency

use markhold_air::{Air, Jump, Noise, Passband, Scene, Sender};
use markhold_code::FiguresRow;
use markhold_sound::Sideband;
use markhold_station::instruments::spectra::Spectra;
use markhold_station::settings::{InUse, Target};
use markhold_station::tuning::{Instruction, Tuner, Tuning};

/// Turns tried for each signal strength.
const TURNS: u32 = 60;
/// When the dial is turned, s; after that it stays for as long again.
const AT_S: f64 = 4.0;
/// How near to the truth an instruction must be, Hz: a third of a usual shift's half.
const NEAR_HZ: f64 = 30.0;

fn main() {
    println!("from the turn to the right instruction (within {NEAR_HZ} Hz), ms of sound");
    println!("Es/N0 dB   median   90 %   worst   told within 150 ms");
    for es_n0_db in [12.0, 14.0, 16.0, 18.0, 22.0, 30.0] {
        let mut times: Vec<f64> = (0..TURNS).map(|turn| time_ms(es_n0_db, turn)).collect();
        times.sort_by(f64::total_cmp);
        let at = |share: f64| times[((times.len() - 1) as f64 * share) as usize];
        let soon = times.iter().filter(|ms| **ms <= 150.0).count();
        println!(
            "{es_n0_db:8}   {:6.0}   {:4.0}   {:5.0}   {:3.0} %",
            at(0.5),
            at(0.9),
            at(1.0),
            100.0 * soon as f64 / times.len() as f64
        );
    }
}

/// One turn of the dial on text sent without a pause.
fn time_ms(es_n0_db: f64, turn: u32) -> f64 {
    // Turns from 60 to 700 Hz either way, none of them the shift.
    let size_hz = 60.0 + 11.0 * f64::from(turn);
    let by_hz = if turn.is_multiple_of(2) {
        size_hz
    } else {
        -size_hz
    };
    // Not at the beginning of an element.
    let at_s = AT_S + 0.0037 * f64::from(turn);
    let told = told(es_n0_db, at_s, by_hz, turn);
    let right = |t: &&Tuning| match t.instruction {
        // The signal was where it should be, so all of the turn is to be taken back.
        Instruction::Turn { dial_hz, .. } => (dial_hz + by_hz).abs() < NEAR_HZ,
        _ => false,
    };
    let first = told.iter().filter(|t| t.at_s > at_s).find(right);
    first.map_or(f64::INFINITY, |t| 1000.0 * (t.at_s - at_s))
}

fn told(es_n0_db: f64, at_s: f64, by_hz: f64, seed: u32) -> Vec<Tuning> {
    let text = "THE HARBOUR CLUB WISHES ALL STATIONS A QUIET EVENING 73 ";
    let sender = Sender::of_text(text, FiguresRow::Ita2).expect("it can be sent");
    let mut scene = Scene {
        seed: seed.into(),
        senders: vec![Sender {
            repeat: true,
            centre_hz: 1500.0,
            ..sender
        }],
        noise: Noise::EsN0Db(es_n0_db),
        passband: Some(Passband::default()),
        duration_s: Some(2.0 * AT_S),
        ..Scene::default()
    };
    scene.dial_drift.jumps = vec![Jump { at_s, by_hz }];
    let in_use = InUse {
        sideband: Some(Sideband::Lower),
        target: Target::Middle(1500.0),
        ..InUse::default()
    };
    let sound = Air::new(scene, 8000).expect("a scene").render();
    let (mut tuner, mut told) = (Tuner::default(), Vec::new());
    Spectra::new(8000, 0.0).process(&sound, &mut |s| {
        told.push(tuner.process(&s, None, &[], &in_use));
    });
    told
}
