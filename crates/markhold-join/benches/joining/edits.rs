//! Bulletins that differ on purpose: what was changed must not be merged.

use markhold_code::{Code, FiguresRow, decode};
use markhold_join::{Joint, join};
use rand::{RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

use crate::air::{Invented, Way, hear};
use crate::text::{Head, bulletin, codes};

const PAIRS: u64 = 200;
/// A character is shown without a mark of doubt from here on, as the receiver does.
const SURE: f32 = 0.95;

pub fn run() {
    println!("\n{PAIRS} pairs of bulletins that differ in one of date, serial, time and price");
    println!(
        "| Es/N0 | shown as variants | shown as doubtful | merged wrongly | variants of nothing, per pair |"
    );
    println!("|---|---|---|---|---|");
    for es_n0_db in [8.0, 10.0, 12.0, 14.0] {
        let mut counts = [0usize; 4];
        for seed in 0..PAIRS {
            pair(es_n0_db, seed, &mut counts);
        }
        let [shown, doubtful, merged, false_ones] = counts;
        let each = false_ones as f64 / PAIRS as f64;
        println!("| {es_n0_db:.0} | {shown} | {doubtful} | {merged} | {each:.2} |");
    }
}

fn pair(es_n0_db: f64, seed: u64, counts: &mut [usize; 4]) {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let one = Head::new(&mut random);
    let other = one.changed(random.random_range(0..4), &mut random);
    let mut body = random.clone();
    let texts = [&one, &other].map(|head| codes(&bulletin(head, &mut body.clone())));
    body.random::<u64>();
    let way = Way {
        es_n0_db,
        lost: 0.01,
        invented: Invented::FromNoise,
        fading: 0,
        fades: 0,
    };
    let heard = texts.each_ref().map(|t| hear(t, way, &mut random));
    let joint = join(&heard.each_ref().map(|h| h.copied.clone()));
    let Some(joint) = joint.first() else {
        counts[1] += 1;
        return;
    };
    // Where both texts begin to differ and where they end to, codes of the first.
    let before = texts[0]
        .iter()
        .zip(&texts[1])
        .take_while(|(a, b)| a == b)
        .count();
    let after = texts[0].iter().rev().zip(texts[1].iter().rev());
    let after = after.take_while(|(a, b)| a == b).count();
    let ends = texts
        .each_ref()
        .map(|t| before..(t.len() - after).max(before + 1));
    let inside = |copy: usize, slot: usize| {
        heard[copy].truth[slot].is_some_and(|at| ends[copy].contains(&at))
    };
    let touched: Vec<usize> = (0..joint.characters.len())
        .filter(|at| {
            let slots = joint.characters[*at].slots.iter().enumerate();
            slots
                .clone()
                .any(|(copy, slot)| slot.is_some_and(|s| inside(copy, s)))
        })
        .collect();
    let number = touched.iter().find_map(|at| joint.characters[*at].variant);
    let hits = touched
        .iter()
        .map(|at| joint.characters[*at].variant)
        .any(|v| v.is_some());
    match number {
        Some(number) if has_both(joint, number) => counts[0] += 1,
        _ => {
            let sure = touched.iter().all(|at| {
                let c = &joint.characters[*at];
                c.probability() >= SURE || c.present < 0.5
            });
            counts[if sure { 2 } else { 1 }] += 1;
            if sure && std::env::var_os("SHOW").is_some() {
                show(joint, &touched);
            }
        }
    }
    if std::env::var_os("VARS").is_some() && joint.variants.len() > usize::from(hits) {
        for v in &joint.variants {
            let of = |w: &markhold_join::Wording| {
                let codes: Vec<Code> = w.codes.iter().map(crate::score::best).collect();
                (decode(&codes, FiguresRow::Ita2, false), w.places.clone())
            };
            println!("VAR {:?}", v.wordings.iter().map(of).collect::<Vec<_>>());
        }
    }
    counts[3] += joint.variants.len() - usize::from(hits);
}

/// Whether both copies are named, each with its own.
fn has_both(joint: &Joint, number: usize) -> bool {
    let wordings = &joint.variants[number].wordings;
    wordings.len() == 2 && wordings.iter().all(|w| w.copies.len() == 1)
}

fn show(joint: &Joint, touched: &[usize]) {
    let all: Vec<Code> = joint.characters.iter().map(|c| c.code()).collect();
    let text = decode(&all[..touched[0] + 8], FiguresRow::Ita2, false);
    let of = |at: &usize| {
        let c = &joint.characters[*at];
        (
            c.code(),
            c.codes[usize::from(c.code().value())],
            c.present,
            c.slots.clone(),
        )
    };
    println!("{text:?} {:?}", touched.iter().map(of).collect::<Vec<_>>());
}
