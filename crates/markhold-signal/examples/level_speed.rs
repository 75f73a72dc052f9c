//! How many times faster than real time sound is made level; a look, not a test.

use markhold_air::{Agc, Air, Carrier, Crashes, Noise, Scene, Sender};
use markhold_code::FiguresRow;
use markhold_signal::BandPlan;
use markhold_signal::level::Leveller;
use std::time::Instant;

/// Samples in one block, as a sound card brings them.
const BLOCK: usize = 1024;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let sender = Sender {
        repeat: true,
        ..Sender::of_text("RYRYRY DE Q1ABC 123\n", FiguresRow::Us)?
    };
    let plain = Scene {
        senders: vec![sender],
        noise: Noise::EsN0Db(15.0),
        duration_s: Some(60.0),
        level_dbfs: -40.0,
        ..Scene::default()
    };
    let full = Scene {
        crashes: Some(Crashes::default()),
        agc: Some(Agc::default()),
        carriers: vec![Carrier::default()],
        level_dbfs: -20.0,
        ..plain.clone()
    };
    for (name, scene) in [("noise", plain), ("crashes, AGC, neighbour", full)] {
        for rate in [8000_u32, 48_000, 192_000] {
            let sound = Air::new(scene.clone(), rate)?.render();
            let mut leveller = Leveller::new(BandPlan::new(f64::from(rate)));
            let (mut out, mut cells) = (Vec::new(), Vec::new());
            let begin = Instant::now();
            for block in sound.chunks(BLOCK) {
                leveller.process(block, &mut out, &mut cells);
                out.clear();
                cells.clear();
            }
            let times = sound.len() as f64 / f64::from(rate) / begin.elapsed().as_secs_f64();
            println!("{name}, {rate} Hz: {times:.0} times real time");
        }
    }
    Ok(())
}
