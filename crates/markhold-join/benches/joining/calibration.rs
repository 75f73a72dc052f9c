//! Whether probabilities come true: of characters told as 0.9 nine of ten are right.

use markhold_join::join;
use rand::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;

use crate::air::{Invented, Simulated, Way, hear};
use crate::text::{codes, paragraph};

const BOUNDS: [f32; 9] = [0.0, 0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 0.99, 1.01];

pub fn run() {
    println!(
        "\nProbabilities of joint characters, K = 2, 3 and 4, 2 % lost and invented; 4, 6 and 8 dB"
    );
    println!("| told | characters | mean told | came true |\n|---|---|---|---|");
    let mut all: Vec<(f32, bool)> = Vec::new();
    for es_n0_db in [4.0, 6.0, 8.0] {
        for k in 2..=4 {
            for seed in 0..5 {
                all.extend(one(es_n0_db, k, 70 + seed));
            }
        }
    }
    for bounds in BOUNDS.windows(2) {
        let within = all
            .iter()
            .filter(|(p, _)| (bounds[0]..bounds[1]).contains(p));
        let (count, told, true_) = within
            .fold((0usize, 0.0f64, 0usize), |(n, t, r), (p, right)| {
                (n + 1, t + f64::from(*p), r + usize::from(*right))
            });
        let share = |x: f64| x / count.max(1) as f64;
        println!(
            "| {:.2} to {:.2} | {count} | {:.3} | {:.3} |",
            bounds[0],
            bounds[1].min(1.0),
            share(told),
            share(true_ as f64)
        );
    }
}

fn one(es_n0_db: f64, k: usize, seed: u64) -> Vec<(f32, bool)> {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let text = codes(&paragraph(&mut random, 2_000));
    let way = Way {
        es_n0_db,
        lost: 0.02,
        invented: Invented::FromNoise,
        fading: 0,
        fades: 1,
    };
    let copies: Vec<Simulated> = (0..k).map(|_| hear(&text, way, &mut random)).collect();
    let all: Vec<_> = copies.iter().map(|c| c.copied.clone()).collect();
    let Some(joint) = join(&all).into_iter().next() else {
        return Vec::new();
    };
    let mut taken = vec![false; text.len()];
    let mut told = Vec::new();
    for character in joint
        .characters
        .iter()
        .filter(|c| c.present >= 0.4 && c.variant.is_none())
    {
        // What most of its bearers are copies of, once.
        let mut truths: Vec<usize> = character
            .bearers()
            .filter_map(|copy| character.slots[copy].and_then(|slot| copies[copy].truth[slot]))
            .collect();
        truths.sort_unstable();
        let count = |t: &usize| truths.iter().filter(|u| *u == t).count();
        let truth = truths.iter().max_by_key(|t| count(t)).copied();
        let right = truth.is_some_and(|at| !taken[at] && text[at] == character.code());
        truth.into_iter().for_each(|at| taken[at] = true);
        told.push((character.probability(), right));
    }
    told
}
