//! Copies with heads of their own, one without a paragraph, one with another order.

use std::collections::HashMap;

use markhold_code::Code;
use markhold_join::{Joint, join};
use rand::{RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

use crate::air::{Invented, Simulated, Way, hear};
use crate::score::best;
use crate::text::{codes, paragraph};

const RUNS: u64 = 8;
/// Which paragraphs each copy has, in its order.
const ORDERS: [&[usize]; 4] = [
    &[0, 1, 2, 3, 4],
    &[0, 1, 3, 4],
    &[0, 2, 3, 1, 4],
    &[0, 1, 2, 3, 4],
];

/// A character of the bulletin: paragraph and place in it.
type Place = (usize, usize);

pub fn run() {
    println!(
        "\nFive paragraphs of 300; every copy with a head of its own, the second without a paragraph, \
         the third with one moved.\nErrors of codes of the paragraphs: joint / known, and how many \
         stand there twice"
    );
    println!("| Es/N0 | K | 0 % lost and invented | 2 % | 5 % |\n|---|---|---|---|---|");
    for es_n0_db in [4.0, 6.0, 8.0] {
        for k in 2..=4 {
            let cells = [0.0, 0.02, 0.05].map(|lost| cell(es_n0_db, lost, k));
            println!("| {es_n0_db:.0} | {k} | {} |", cells.join(" | "));
        }
    }
}

fn cell(es_n0_db: f64, lost: f64, k: usize) -> String {
    let (mut sent, mut wrong, mut known, mut twice) = (0, 0, 0, 0);
    for seed in 0..RUNS {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(300 + seed);
        let paragraphs: Vec<Vec<Code>> = (0..5)
            .map(|_| codes(&paragraph(&mut random, 300)))
            .collect();
        let way = Way {
            es_n0_db,
            lost,
            invented: Invented::FromNoise,
            fading: 0,
            fades: 0,
        };
        let heard: Vec<(Simulated, Vec<Option<Place>>)> = (0..k)
            .map(|copy| copied(&paragraphs, copy, way, &mut random))
            .collect();
        let all: Vec<_> = heard.iter().map(|h| h.0.copied.clone()).collect();
        let joints = join(&all);
        sent += paragraphs.iter().map(Vec::len).sum::<usize>();
        let [w, t] = judged(&joints, &heard, &paragraphs);
        wrong += w;
        twice += t;
        known += known_wrong(&heard, &paragraphs);
    }
    let share = |n: usize| n as f64 / sent as f64;
    format!(
        "{:.3} / {:.3}, {:.3}",
        share(wrong),
        share(known),
        share(twice)
    )
}

/// A copy, and the place of each of its slots.
fn copied(
    paragraphs: &[Vec<Code>],
    copy: usize,
    way: Way,
    random: &mut Xoshiro256PlusPlus,
) -> (Simulated, Vec<Option<Place>>) {
    let length = random.random_range(30..90);
    let head = codes(&paragraph(random, length));
    let mut places: Vec<Option<Place>> = vec![None; head.len()];
    let mut text = head;
    for p in ORDERS[copy] {
        text.extend(&paragraphs[*p]);
        places.extend((0..paragraphs[*p].len()).map(|at| Some((*p, at))));
    }
    let heard = hear(&text, way, random);
    let of = heard
        .truth
        .iter()
        .map(|t| t.and_then(|at| places[at]))
        .collect();
    (heard, of)
}

/// How many characters no joint character has right, and how many stand there twice.
fn judged(
    joints: &[Joint],
    heard: &[(Simulated, Vec<Option<Place>>)],
    paragraphs: &[Vec<Code>],
) -> [usize; 2] {
    let mut there: HashMap<Place, (usize, bool)> = HashMap::new();
    for character in joints
        .iter()
        .flat_map(|j| &j.characters)
        .filter(|c| c.present >= 0.5)
    {
        let mut places: HashMap<Place, usize> = HashMap::new();
        for copy in character.bearers() {
            let place = character.slots[copy].and_then(|slot| heard[copy].1[slot]);
            place
                .into_iter()
                .for_each(|p| *places.entry(p).or_default() += 1);
        }
        let Some((place, _)) = places
            .into_iter()
            .max_by_key(|(p, n)| (*n, std::cmp::Reverse(*p)))
        else {
            continue;
        };
        let right = paragraphs[place.0][place.1] == character.code();
        let entry = there.entry(place).or_default();
        *entry = (entry.0 + 1, entry.1 || right);
    }
    let all = paragraphs.iter().map(Vec::len).sum::<usize>();
    let right = there.values().filter(|t| t.1).count();
    [all - right, there.values().map(|t| t.0 - 1).sum()]
}

/// Likelihoods added where it is known what is what.
fn known_wrong(heard: &[(Simulated, Vec<Option<Place>>)], paragraphs: &[Vec<Code>]) -> usize {
    let mut sums: HashMap<Place, [f32; 32]> = HashMap::new();
    for (simulated, places) in heard {
        for (slot, place) in simulated.copied.slots.iter().zip(places) {
            let Some(place) = place else { continue };
            let sums = sums.entry(*place).or_insert([0.0; 32]);
            sums.iter_mut()
                .zip(slot.codes)
                .for_each(|(s, c)| *s += c.max(1e-30).ln());
        }
    }
    let all = paragraphs.iter().map(Vec::len).sum::<usize>();
    let right = |(place, sums): &(&Place, &[f32; 32])| paragraphs[place.0][place.1] == best(sums);
    all - sums.iter().filter(right).count()
}
