//! How many times faster than real time scenes are rendered; a look, not a test.

use markhold_air::{Agc, Air, Channel, Crashes, Noise, Passband, Scene, Sender};
use markhold_code::FiguresRow;
use std::time::Instant;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let sender = Sender {
        repeat: true,
        channel: Channel::MID_LATITUDE_MODERATE,
        ..Sender::of_text("RYRYRY DE Q1ABC 123\n", FiguresRow::Us)?
    };
    let plain = Scene {
        senders: vec![sender],
        noise: Noise::EsN0Db(12.0),
        duration_s: Some(600.0),
        ..Scene::default()
    };
    let full = Scene {
        crashes: Some(Crashes::default()),
        passband: Some(Passband::default()),
        agc: Some(Agc::default()),
        carriers: vec![Default::default()],
        ..plain.clone()
    };
    for (name, scene) in [("fading and noise", plain), ("everything", full)] {
        for rate in [8000, 48000] {
            let begin = Instant::now();
            let samples = Air::new(scene.clone(), rate)?.render();
            let times = samples.len() as f64 / f64::from(rate) / begin.elapsed().as_secs_f64();
            println!("{name}, {rate} Hz: {times:.0} times real time");
        }
    }
    Ok(())
}
