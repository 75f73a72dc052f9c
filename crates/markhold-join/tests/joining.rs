//! Copies of invented bulletins, joined: known answers and laws.
#![allow(missing_docs, reason = "tests")]

#[path = "../benches/joining/air.rs"]
#[allow(dead_code, reason = "shared with the bench")]
mod air;
#[path = "../benches/joining/text.rs"]
#[allow(dead_code, reason = "shared with the bench")]
mod text;

use air::{Invented, Simulated, Way, hear};
use markhold_code::{Code, FiguresRow, decode, symbol};
use markhold_join::{Copied, Joint, Wording, join};
use rand::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;
use text::{codes, paragraph};

fn random(seed: u64) -> Xoshiro256PlusPlus {
    Xoshiro256PlusPlus::seed_from_u64(seed)
}

/// A copy at so many dB, with so many lost and invented.
fn heard(text: &str, es_n0_db: f64, lost: f64, seed: u64) -> Simulated {
    let way = Way {
        es_n0_db,
        lost,
        invented: Invented::FromNoise,
        fading: 0,
        fades: 0,
    };
    hear(&codes(text), way, &mut random(seed))
}

fn joined(copies: &[Simulated]) -> Vec<Joint> {
    join(
        &copies
            .iter()
            .map(|c| c.copied.clone())
            .collect::<Vec<Copied>>(),
    )
}

/// What a printer makes of it, without carriage returns.
fn printed(joint: &Joint) -> String {
    let there = joint.characters.iter().filter(|c| c.present >= 0.5);
    let glyph =
        |c: &markhold_join::JointCharacter| symbol(c.code(), c.shift(), FiguresRow::Ita2).text();
    there.filter_map(glyph).filter(|c| *c != '\r').collect()
}

fn said(wording: &Wording) -> String {
    let best = |shares: &[f32; 32]| {
        let at = (0..32).max_by(|a, b| shares[*a].total_cmp(&shares[*b]));
        Code::ALL[at.unwrap_or(0)]
    };
    let codes: Vec<Code> = wording.codes.iter().map(best).collect();
    decode(&codes, FiguresRow::Ita2, false)
}

/// Three paragraphs.
fn paragraphs() -> [String; 3] {
    let mut random = random(1);
    [300, 250, 400].map(|length| paragraph(&mut random, length))
}

#[test]
fn faint_copies_with_losses_become_one_good_copy() {
    let [a, b, c] = paragraphs();
    let text = [a, b, c].concat();
    let copies: Vec<Simulated> = (0..4).map(|k| heard(&text, 7.0, 0.02, k)).collect();
    let found = joined(&copies);
    assert_eq!(found.len(), 1);
    let joint = &found[0];
    assert_eq!(joint.copies.len(), 4);
    let right = |c: &&markhold_join::JointCharacter| {
        let of = |k: usize| copies[k].truth[c.slots[k]?];
        let at = c.bearers().find_map(of);
        at.is_some_and(|at| codes(&text)[at] == c.code())
    };
    let there: Vec<_> = joint
        .characters
        .iter()
        .filter(|c| c.present >= 0.5)
        .collect();
    let wrong = there.iter().filter(|c| !right(c)).count();
    // Alone each has some 20 % of them wrong.
    assert!(wrong * 100 < there.len(), "{wrong} of {}", there.len());
}

#[test]
fn a_paragraph_missing_one_moved_and_heads_of_their_own_are_all_kept() {
    let [a, b, c] = paragraphs();
    let heads = [
        "FIRST NIGHT ON EIGHTY METRES\n",
        "AGAIN FOR ALL WHO MISSED IT\n",
    ];
    let one = [heads[0], &a, &b, &c].concat();
    let other = [heads[1], &c, &a].concat();
    let found = joined(&[heard(&one, 20.0, 0.0, 1), heard(&other, 20.0, 0.0, 2)]);
    let text = printed(&found[0]);
    for part in [heads[0], heads[1], &a, &b, &c] {
        assert_eq!(text.matches(part).count(), 1, "{part:?} in {text:?}");
    }
    let both = found[0]
        .characters
        .iter()
        .filter(|c| c.bearers().count() == 2);
    assert!(both.count() >= codes(&a).len() + codes(&c).len() - 20);
    // What one copy alone has is not doubtful for that.
    assert!(
        found[0]
            .characters
            .iter()
            .all(|c| c.agreed == 1.0 && c.present > 0.95)
    );
    assert!(found[0].variants.is_empty(), "{:?}", found[0].variants);
}

#[test]
fn what_differs_on_purpose_is_shown_and_not_merged() {
    let [a, b, _] = paragraphs();
    let text = |nr: u32, day: u32| format!("BULLETIN NR {nr} OF {day} MARCH\n{a}PRICE 4.50\n{b}");
    let copies = [
        heard(&text(117, 21), 16.0, 0.0, 1),
        heard(&text(117, 22), 16.0, 0.0, 2),
        heard(&text(118, 22), 16.0, 0.0, 3),
    ];
    let found = joined(&copies);
    let variants = &found[0].variants;
    let shown: Vec<Vec<(String, Vec<usize>)>> = variants
        .iter()
        .map(|v| {
            v.wordings
                .iter()
                .map(|w| (said(w), w.copies.clone()))
                .collect()
        })
        .collect();
    let expected = vec![
        vec![
            ("117".to_string(), vec![0, 1]),
            ("118".to_string(), vec![2]),
        ],
        vec![("22".to_string(), vec![1, 2]), ("21".to_string(), vec![0])],
    ];
    assert_eq!(shown, expected);
}

#[test]
fn what_does_not_repeat_is_not_joined() {
    let [a, b, c] = paragraphs();
    let copies = [&a, &b, &a, &c].map(|text| heard(text, 12.0, 0.01, 5));
    let found = joined(&copies);
    let mut together = found[0].copies.clone();
    together.sort_unstable();
    assert_eq!((found.len(), together), (1, vec![0, 2]));
    assert!(joined(&[]).is_empty() && joined(&copies[..1]).is_empty());
    assert!(join(&[Copied::default(), Copied::default()]).is_empty());
}

#[test]
fn every_slot_stands_in_one_place_and_in_order_within_a_passage() {
    let [a, b, c] = paragraphs();
    let text = [a, b, c].concat();
    let copies: Vec<Simulated> = (0..3).map(|k| heard(&text, 5.0, 0.05, 10 + k)).collect();
    for joint in joined(&copies) {
        for (k, copy) in copies.iter().enumerate() {
            let places = joint.characters.iter().filter_map(|c| c.slots[k]);
            let mut places: Vec<usize> = places.collect();
            places.sort_unstable();
            assert!(places.into_iter().eq(0..copy.copied.slots.len()));
        }
        for character in &joint.characters {
            assert!((character.codes.iter().sum::<f32>() - 1.0).abs() < 1e-3);
            assert!((0.0..=1.0).contains(&character.probability()));
        }
    }
}

#[test]
fn a_shift_that_one_wording_is_not_sure_of_is_told_by_the_other() {
    let [a, b, _] = paragraphs();
    let text = |nr: u32| format!("{a}BULLETIN NR {nr}\n{b}");
    let mut copies = [
        heard(&text(117), 20.0, 0.0, 1),
        heard(&text(118), 20.0, 0.0, 2),
    ];
    // The first takes the figures shift for an X, more likely than not.
    let figures = usize::from(Code::FIGURES.value());
    let [x, line] = [0b11101, codes(&a).len()];
    let at = line
        + codes(&text(117))[line..]
            .iter()
            .position(|c| *c == Code::FIGURES)
            .unwrap();
    let slot = copies[0].truth.iter().position(|t| *t == Some(at)).unwrap();
    let codes = &mut copies[0].copied.slots[slot].codes;
    *codes = [0.0; 32];
    (codes[x], codes[figures]) = (0.6, 0.4);
    let found = joined(&copies);
    let wordings: Vec<String> = found[0].variants[0].wordings.iter().map(said).collect();
    assert_eq!(wordings, ["117", "118"]);
}
