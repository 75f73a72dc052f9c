//! Errors of codes by the number of copies.

use markhold_join::join;
use rand::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;

use crate::air::{Invented, Simulated, Way, hear};
use crate::score::{alone, distance, joined, known, voted};
use crate::text::{codes, paragraph};

const RUNS: u64 = 6;
const LENGTH: usize = 1_400;

pub fn steady() {
    for (invented, title) in [
        (
            Invented::FromNoise,
            "invented from noise, which the receiver suspects",
        ),
        (
            Invented::LikeSent,
            "invented like any character of a random code",
        ),
    ] {
        println!("\nSteady; {title}. Errors of codes: joint / known / voted / best alone");
        head(&[0.0, 0.02, 0.05].map(|p| format!("{:.0} % lost and invented", 100.0 * p)));
        for es_n0_db in [4.0, 6.0, 8.0] {
            for k in 1..=4 {
                let way = |lost| Way {
                    es_n0_db,
                    lost,
                    invented,
                    fading: 0,
                    fades: 0,
                };
                row(es_n0_db, k, &[0.0, 0.02, 0.05].map(way));
            }
        }
    }
}

pub fn fading() {
    println!("\nFading, 2 % lost and invented from noise; the same");
    let names = ["steady, two fades of 40 characters lost", "Rayleigh, slow"];
    head(&names.map(String::from));
    for es_n0_db in [6.0, 8.0, 10.0, 12.0] {
        for k in [1, 2, 4] {
            let way = |(fading, fades)| Way {
                es_n0_db,
                lost: 0.02,
                invented: Invented::FromNoise,
                fading,
                fades,
            };
            row(es_n0_db, k, &[(0, 2), (30, 0)].map(way));
        }
    }
}

fn head(columns: &[String]) {
    println!("| Es/N0 | K | {} |", columns.join(" | "));
    println!("|---|---|{}", "---|".repeat(columns.len()));
}

fn row(es_n0_db: f64, k: usize, ways: &[Way]) {
    let cells: Vec<String> = ways.iter().map(|way| cell(*way, k)).collect();
    println!("| {es_n0_db:.0} | {k} | {} |", cells.join(" | "));
}

fn cell(way: Way, k: usize) -> String {
    let mut errors = [0usize; 4];
    let mut sent = 0;
    for seed in 0..RUNS {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(1_000 + seed);
        let text = codes(&paragraph(&mut random, LENGTH));
        let copies: Vec<Simulated> = (0..k).map(|_| hear(&text, way, &mut random)).collect();
        sent += text.len();
        let single = copies.iter().map(|c| distance(&alone(c), &text)).min();
        errors[3] += single.unwrap_or(0);
        errors[1] += distance(&known(text.len(), &copies), &text);
        let all: Vec<_> = copies.iter().map(|c| c.copied.clone()).collect();
        let joint = join(&all);
        match joint.first().filter(|j| j.copies.len() == k) {
            Some(joint) => {
                errors[0] += distance(&joined(joint), &text);
                errors[2] += distance(&voted(joint, &copies), &text);
            }
            // Not all found: the best alone is what there is.
            None => {
                errors[0] += single.unwrap_or(0);
                errors[2] += single.unwrap_or(0);
            }
        }
    }
    let shares = errors.map(|e| format!("{:.3}", e as f64 / sent as f64));
    shares.join(" / ")
}
