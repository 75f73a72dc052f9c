//! How long joining takes.

use std::time::Instant;

use markhold_join::join;
use rand::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;

use crate::air::{Invented, Simulated, Way, hear};
use crate::score::{distance, joined};
use crate::text::{codes, paragraph};

const LENGTH: usize = 22_000;

pub fn run() {
    println!(
        "\nProcessor time for copies of {LENGTH} characters, 2 % lost and invented, two fades"
    );
    println!("| Es/N0 | K | s | errors |\n|---|---|---|---|");
    for (es_n0_db, k) in [(4.0, 2), (6.0, 2), (8.0, 2), (6.0, 4)] {
        let way = Way {
            es_n0_db,
            lost: 0.02,
            invented: Invented::FromNoise,
            fading: 0,
            fades: 2,
        };
        let mut random = Xoshiro256PlusPlus::seed_from_u64(7);
        let text = &codes(&paragraph(&mut random, LENGTH))[..LENGTH];
        let copies: Vec<Simulated> = (0..k).map(|_| hear(text, way, &mut random)).collect();
        let all: Vec<_> = copies.iter().map(|c| c.copied.clone()).collect();
        let begin = (Instant::now(), processor_s());
        let joint = join(&all);
        let took_s = match (begin.1, processor_s()) {
            (Some(before), Some(after)) => after - before,
            _ => begin.0.elapsed().as_secs_f64(),
        };
        let wrong = distance(&joined(&joint[0]), text) as f64 / text.len() as f64;
        println!("| {es_n0_db:.0} | {k} | {took_s:.2} | {wrong:.3} |");
    }
}

/// Time that this thread has run, s, where the system tells: other work may run beside it.
fn processor_s() -> Option<f64> {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    let nanoseconds: f64 = text.split_whitespace().next()?.parse().ok()?;
    Some(nanoseconds * 1e-9)
}
