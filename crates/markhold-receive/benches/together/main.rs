//! Several receivers of one transmission copied as one:
//! `cargo bench -p markhold-receive --bench together [-- PART]`, a part being `fading`, `three`,
//! `steady` or `clocks`. Prints Markdown.
//!
//! Errors are those of codes, by edit distance over those sent, without language. Beside them
//! stands what the sum of known elements gives (`known.rs`), and by how many dB more the
//! receiver needs for the same.

#![allow(missing_docs, reason = "a bench")]

mod known;
#[path = "../common/many.rs"]
mod many;
mod scene;
#[path = "../common/score.rs"]
mod score;

use markhold_air::Channel;
use markhold_code::Code;
use markhold_receive::event::{Event, SignalId};
use markhold_receive::settings::LanguageUse;
use markhold_receive::together::{Listened, Listener, Together, transmissions};
use markhold_receive::{Receiver, Settings};
use markhold_signal::bessel::LnI0;
use scene::{Heard, RATE, Way, hear};

const SEEDS: u64 = 4;
const CHARACTERS: usize = 500;

fn settings() -> Settings {
    Settings {
        language: LanguageUse::Off,
        ..Settings::default()
    }
}

/// The codes of one receiver's sound alone.
fn alone(sound: &[f32]) -> Vec<Code> {
    let mut codes = Vec::new();
    let mut take = |event| {
        if let Event::Character(c) = event {
            codes.push(c.code);
        }
    };
    let mut receiver = Receiver::new(f64::from(RATE), settings()).expect("a usual rate");
    receiver.process(sound, &mut take);
    receiver.finish(&mut take);
    codes
}

/// The codes of all together, how many took part, and the clocks as they were found: s ahead
/// at the middle.
fn joint(heard: &[Heard]) -> (Vec<Code>, usize, f64) {
    let listen = |h: &Heard| {
        let mut listener = Listener::new(f64::from(RATE), &settings()).expect("a usual rate");
        h.sound
            .chunks(4096)
            .for_each(|block| listener.process(block));
        listener.finish()
    };
    let listened: Vec<Listened> = heard.iter().map(listen).collect();
    let Some(found) = transmissions(&listened).into_iter().next() else {
        return (Vec::new(), 0, f64::NAN);
    };
    let mut together = Together::new(&found, SignalId(1), &settings()).expect("members");
    let mut codes = Vec::new();
    let mut taken = vec![0; found.members.len()];
    while let Some(k) = together.wants() {
        let sound = &heard[found.members[k].receiver].sound;
        let end = (taken[k] + 2000).min(sound.len());
        together.push(k, &sound[taken[k]..end], &mut |event| {
            if let Event::Character(c) = event {
                codes.push(c.code);
            }
        });
        taken[k] = end;
    }
    let off = found.members.iter().skip(1).map(|m| {
        let at = heard[0].characters.len() / 2;
        let [a, b] = [found.members[0].receiver, m.receiver].map(|r| heard[r].characters[at].1);
        (m.time.at(a) - b).abs()
    });
    (codes, found.members.len(), off.fold(0.0, f64::max))
}

fn share(heard: &Heard, codes: &[Code]) -> f64 {
    let sent: Vec<Code> = heard.characters.iter().map(|c| c.0).collect();
    score::errors(&sent, codes) as f64 / sent.len() as f64
}

struct Row {
    alone: f64,
    joint: f64,
    known: f64,
    /// dB more than known elements need.
    more_db: f64,
    members: f64,
    clock_ms: f64,
}

/// One draw.
struct Drawn {
    alone: f64,
    joint: f64,
    /// Errors of known elements from 3 dB less to 9 dB more, by half a dB.
    curve: Vec<f64>,
    members: f64,
    clock_s: f64,
}

fn row(way: Way, receivers: usize) -> Row {
    let seeds: Vec<u64> = (1..=SEEDS).collect();
    let one = |seed: &u64| {
        let heard: Vec<Heard> = (0..receivers).map(|k| hear(&way, k, *seed)).collect();
        let by_itself = heard
            .iter()
            .map(|h| share(h, &alone(&h.sound)))
            .sum::<f64>();
        let (codes, members, clock_s) = joint(&heard);
        let ln_i0 = LnI0::default();
        let known = |db: f64| {
            (0..4)
                .map(|n| known::errors(&heard, db, 77 * seed + n, &ln_i0))
                .sum::<f64>()
                / 4.0
        };
        let curve: Vec<f64> = (-6..=18)
            .map(|n| known(way.es_n0_db + 0.5 * f64::from(n)))
            .collect();
        Drawn {
            alone: by_itself / receivers as f64,
            joint: share(&heard[0], &codes),
            curve,
            members: members as f64,
            clock_s,
        }
    };
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let all = many::each(&seeds, threads, one);
    let mean = |of: &dyn Fn(&Drawn) -> f64| all.iter().map(of).sum::<f64>() / all.len() as f64;
    let joint = mean(&|r| r.joint);
    let curve: Vec<f64> = (0..25).map(|n| mean(&|r| r.curve[n])).collect();
    Row {
        alone: mean(&|r| r.alone),
        joint,
        known: curve[6],
        more_db: -(below(&curve, joint) - 6.0) / 2.0,
        members: mean(&|r| r.members),
        clock_ms: 1e3 * all.iter().map(|r| r.clock_s).fold(0.0, f64::max),
    }
}

/// Where a falling curve goes through a value, by straight lines of its logarithm.
fn below(curve: &[f64], value: f64) -> f64 {
    let ln = |v: f64| v.max(1e-4).ln();
    let at = curve.iter().position(|c| *c <= value);
    match at {
        Some(0) => 0.0,
        Some(k) => {
            let (a, b) = (ln(curve[k - 1]), ln(curve[k]));
            (k - 1) as f64 + (a - ln(value)) / (a - b).max(1e-9)
        }
        None => curve.len() as f64,
    }
}

fn table(title: &str, channel: Channel, levels: &[f64], counts: &[usize], clock: (f64, f64)) {
    println!("\n{title}\n");
    println!(
        "| Es/N0, dB | receivers | each alone | together | known elements | needs more, dB | took part | clocks off, ms |"
    );
    println!("|---|---|---|---|---|---|---|---|");
    for es_n0_db in levels {
        for receivers in counts {
            let way = Way {
                channel,
                es_n0_db: *es_n0_db,
                clock,
                characters: CHARACTERS,
            };
            let r = row(way, *receivers);
            println!(
                "| {es_n0_db} | {receivers} | {:.3} | {:.3} | {:.3} | {:+.1} | {:.1} | {:.2} |",
                r.alone, r.joint, r.known, r.more_db, r.members, r.clock_ms
            );
        }
    }
}

fn main() {
    let part = std::env::args().skip(1).find(|a| !a.starts_with('-'));
    let wanted = |name: &str| part.as_deref().is_none_or(|p| p == name);
    let fading = Channel::TwoPath {
        delay_ms: 1.0,
        spread_hz: 0.5,
    };
    let apart = (3.0, 200.0);
    if wanted("fading") {
        let title = "1 ms, 0.5 Hz, fading of their own each; clocks 3 s and 200 ppm apart";
        table(title, fading, &[6.0, 8.0, 10.0], &[2], apart);
    }
    if wanted("three") {
        let title = "Three of them, the same";
        table(title, fading, &[6.0, 8.0], &[3], apart);
    }
    if wanted("steady") {
        table(
            "Steady; clocks 3 s and 200 ppm apart",
            Channel::Steady,
            &[3.0, 5.0],
            &[2],
            (3.0, 200.0),
        );
    }
    if wanted("clocks") {
        table(
            "1 ms, 0.5 Hz, clocks alike",
            fading,
            &[10.0],
            &[2],
            (0.0, 0.0),
        );
    }
}
