//! The bench of edges: how fast one core copies sound whose band ends anywhere, by a filter of
//! any steepness, as sound cards and receivers give it.
//!
//! `cargo bench -p markhold-receive --bench edges -- [PART] [--draws N] [--seed N] [--write]`

#[path = "../common/clock.rs"]
mod clock;
#[path = "../common/document.rs"]
mod document;
#[path = "../evenings/mod.rs"]
mod evenings;

use clock::Begin;
use evenings::alphabet::Row;
use evenings::draw::Draw;
use evenings::filter::BandPass;
use evenings::noise;
use evenings::sender::{Oscillator, Pace, Sender};
use evenings::text::Matter;
use markhold_receive::{Receiver, Settings};
use std::process::ExitCode;

const USAGE: &str = "\
edges bench: [PART] [--draws N] [--seed N] [--write]

  PART       only sound with this in its name, like '12 dB, 8000'
  --draws N  bands of each kind; 6 by default
  --seed N   the first draw's seed; 1 by default
  --write    put the table into docs/performance.md as well";

/// How much sound is copied each time, s.
const SECONDS: f64 = 60.0;
/// No band at all may be slower than so many times real time.
const LEAST: f64 = 20.0;
/// Samples a second, Es/N0 of the signal if there is one, dB, and least times real time.
const ROWS: [(f64, Option<f64>, f64); 6] = [
    (8000.0, None, 300.0),
    (8000.0, Some(12.0), 300.0),
    (8000.0, Some(5.0), 150.0),
    (48_000.0, None, 200.0),
    (48_000.0, Some(12.0), 150.0),
    (48_000.0, Some(5.0), 80.0),
];

fn main() -> ExitCode {
    match read(std::env::args().skip(1)).and_then(|asked| run(&asked)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => {
            eprintln!("{message}");
            ExitCode::from(2)
        }
    }
}

/// What is measured.
struct Asked {
    part: String,
    draws: u64,
    seed: u64,
    write: bool,
}

fn read(mut arguments: impl Iterator<Item = String>) -> Result<Asked, String> {
    let mut asked = Asked {
        part: String::new(),
        draws: 6,
        seed: 1,
        write: false,
    };
    while let Some(argument) = arguments.next() {
        let mut number = || {
            let found = arguments.next().unwrap_or_default();
            match found.parse() {
                Ok(number @ 1..) => Ok(number),
                _ => Err(format!(
                    "{argument} is '{found}'; give a number of 1 or more"
                )),
            }
        };
        match argument.as_str() {
            "--draws" => asked.draws = number()?,
            "--seed" => asked.seed = number()?,
            "--write" => asked.write = true,
            // Cargo adds it to the arguments of every bench.
            "--bench" => {}
            "--help" => return Err(USAGE.into()),
            option if option.starts_with('-') => {
                return Err(format!("{option} is not understood\n\n{USAGE}"));
            }
            part => asked.part = part.into(),
        }
    }
    if asked.write && !asked.part.is_empty() {
        return Err("--write writes the whole table: leave out which part".into());
    }
    Ok(asked)
}

fn run(asked: &Asked) -> Result<(), String> {
    let Asked { draws, seed, .. } = *asked;
    let mut lines = vec![
        "| sound | samples a second | slowest | its band | median | fastest | target | |"
            .to_string(),
        "| --- | ---: | ---: | --- | ---: | ---: | ---: | --- |".to_string(),
    ];
    for (rate, es_n0_db, target) in ROWS {
        let name = es_n0_db.map_or("noise only".into(), |db| format!("a signal of {db} dB"));
        if !format!("{name}, {rate}").contains(&asked.part) {
            continue;
        }
        let mut times: Vec<(f64, String)> = (seed..seed + draws)
            .map(|seed| {
                let draw = &mut Draw::new(&format!("{name} {rate}"), seed);
                let band = band(draw);
                let sound = sound(rate, es_n0_db, &band, draw);
                let times = SECONDS / copy_s(&sound, rate);
                let BandPass {
                    low_hz,
                    high_hz,
                    order,
                } = band;
                let said = format!("{low_hz:.0} to {high_hz:.0} Hz, {order} poles");
                eprintln!("{name}, {rate} Hz, seed {seed}: {said}: {times:.0} x");
                (times, said)
            })
            .collect();
        times.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (slowest, its_band) = &times[0];
        let median = times[times.len() / 2].0;
        let met = median >= target && *slowest >= LEAST;
        lines.push(format!(
            "| {name} | {rate} | {slowest:.0} | {its_band} | {median:.0} | {:.0} | {target:.0} | {} |",
            times[times.len() - 1].0,
            if met { "met" } else { "**missed**" },
        ));
    }
    let block = format!(
        "{}\n\n*Met* is a median of at least the target and nothing slower than {LEAST:.0} times. {draws} bands of each, \
         {SECONDS} s of sound, one core, by time spent on it, {}.",
        lines.join("\n"),
        document::machine()
    );
    println!("{block}");
    if asked.write {
        document::write("edges", &block)
    } else {
        Ok(())
    }
}

/// A band that ends anywhere from 2.4 to 4 kHz.
fn band(draw: &mut Draw) -> BandPass {
    BandPass {
        low_hz: draw.range(50.0, 400.0),
        high_hz: draw.range(2400.0, 4000.0),
        order: draw.pick(&[2, 3, 4, 6, 8, 12, 16, 24]),
    }
}

/// Noise, and a bulletin in it if a strength is told.
fn sound(rate: f64, es_n0_db: Option<f64>, band: &BandPass, draw: &mut Draw) -> Vec<f32> {
    let mut sound = vec![0.0; (rate * SECONDS) as usize];
    let sender = sender(draw);
    if es_n0_db.is_some() {
        let line = sender.key(0.5, SECONDS, draw);
        let tones = sender.tones(&line, rate, sound.len(), &|_| 0.0, draw);
        sound.iter_mut().zip(tones).for_each(|(s, t)| *s = t.re);
    }
    let strength = 10_f64.powf(es_n0_db.unwrap_or(12.0) / 10.0);
    noise::add(&mut sound, rate, 0.5 / sender.baud / strength, draw);
    band.pass(&mut sound, rate);
    sound.iter_mut().for_each(|s| *s *= 0.05);
    sound
}

/// 45.45 baud, 170 Hz: the usual one.
fn sender(draw: &mut Draw) -> Sender {
    let mark_hz = draw.range(700.0, 1900.0);
    Sender {
        matter: Matter::Mixed,
        row: Row::Ita2,
        unshift: false,
        repeat_shift: true,
        line_end: "\r\n",
        mark_hz,
        space_hz: mark_hz + 170.0,
        baud: 45.45,
        stop: 1.5,
        pace: Pace::Tape,
        hunt: 0.0,
        bias: 0.0,
        jitter_s: 0.0,
        oscillator: Oscillator::Moved,
        chirp_hz: 0.0,
        ripple: None,
        levels: [1.0, 1.0],
        overs_s: None,
        lead_s: 1.0,
    }
}

/// How long a new receiver takes, s.
fn copy_s(sound: &[f32], rate: f64) -> f64 {
    let begin = Begin::now();
    let mut receiver = Receiver::new(rate, Settings::default()).expect("usual rates");
    let mut events = 0_usize;
    for block in sound.chunks(rate as usize / 4) {
        receiver.process(block, &mut |_| events += 1);
    }
    receiver.finish(&mut |_| events += 1);
    std::hint::black_box(events);
    begin.elapsed_s()
}
