//! Times real time on one core.

use crate::clock::Begin;
use crate::document;
use crate::sound::Sound;
use markhold_air::Air;
use markhold_receive::{Receiver, Settings};

/// How much sound is copied in one run, s.
const SECONDS: f64 = 120.0;
/// Runs of which the median counts.
const RUNS: usize = 3;

/// What is timed: name, sound, samples a second, least times real time if any.
const ROWS: [(&str, Sound, u32, Option<f64>); 6] = [
    (
        "good signal, 15 dB",
        Sound::Bulletin(15.0),
        8000,
        Some(200.0),
    ),
    (
        "good signal, 15 dB",
        Sound::Bulletin(15.0),
        48_000,
        Some(100.0),
    ),
    ("poor signal, 6 dB", Sound::Bulletin(6.0), 8000, Some(50.0)),
    ("poor signal, 6 dB", Sound::Bulletin(6.0), 48_000, None),
    ("noise only", Sound::Noise, 8000, Some(50.0)),
    ("noise only", Sound::Noise, 48_000, None),
];

/// The table.
pub fn table() -> String {
    let mut lines = vec![
        "| sound | samples a second | times real time | target | |".to_string(),
        "| --- | ---: | ---: | ---: | --- |".to_string(),
    ];
    for (name, sound, sample_rate, target) in ROWS {
        let times = times_real_time(sound, sample_rate);
        let (wanted, verdict) = match target {
            None => (String::new(), ""),
            Some(least) if times >= least => (format!("{least}"), "met"),
            Some(least) => (format!("{least}"), "**missed**"),
        };
        lines.push(format!(
            "| {name} | {sample_rate} | {times:.0} | {wanted} | {verdict} |"
        ));
    }
    format!(
        "{}\n\nMedian of {RUNS} runs over {SECONDS} s of sound, one core, by time spent on it, {}.",
        lines.join("\n"),
        document::machine()
    )
}

fn times_real_time(sound: Sound, sample_rate: u32) -> f64 {
    let air = Air::new(sound.scene(SECONDS), sample_rate).expect("the scene makes sense");
    let samples = air.render();
    let mut runs: Vec<f64> = (0..RUNS)
        .map(|_| SECONDS / run_s(&samples, sample_rate))
        .collect();
    runs.sort_by(f64::total_cmp);
    runs[RUNS / 2]
}

/// How long a new receiver takes for all samples in blocks of a quarter second, s.
fn run_s(samples: &[f32], sample_rate: u32) -> f64 {
    let begin = Begin::now();
    let settings = Settings::default();
    let mut receiver = Receiver::new(f64::from(sample_rate), settings).expect("default settings");
    let mut events = 0_usize;
    for block in samples.chunks(sample_rate as usize / 4) {
        receiver.process(block, &mut |_| events += 1);
    }
    receiver.finish(&mut |_| events += 1);
    std::hint::black_box(events);
    begin.elapsed_s()
}
