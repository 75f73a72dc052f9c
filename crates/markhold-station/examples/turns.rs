//! How soon after a turn of the dial the copy is on the new place, and what is told meanwhile:
//! the practice band, both sidebands, many turns and moments. Figures, not a test.
//!
//! cargo run --release -p markhold-station --example turns -- [SEEDS]

#[path = "../tests/turned/practice.rs"]
mod practice;

use markhold_air::practice::Sideband;
use markhold_event::Event;
use markhold_station::tuning::Instruction;
use practice::Evening;

/// Turns that bring the tones to where they should be, Hz of audio.
const TURNS_HZ: [f64; 12] = [
    -425.0, -350.0, -200.0, -170.0, -140.0, -100.0, 100.0, 140.0, 170.0, 200.0, 350.0, 425.0,
];
/// Moments, s: in the idle mark before the text, in reversals, in text.
const MOMENTS_S: [f64; 4] = [1.5, 9.0, 17.3, 31.7];
/// For how long is listened after a turn, s: the text lasts that long.
const LISTEN_S: f64 = 40.0;
/// A pair is at a place within this, Hz.
const NEAR_HZ: f64 = 30.0;

/// What came of one turn.
struct Outcome {
    /// How long the signal was not followed at its new place, s.
    found_s: f64,
    /// How long anything else was followed, s.
    others_s: f64,
    /// How long it was said that signals overlap, s.
    overlap_s: f64,
    /// When the first character came that was sent after the turn, at the new place, s.
    copied_s: f64,
}

fn main() {
    let seeds = std::env::args().nth(1).map_or(Ok(2), |word| word.parse());
    let seeds: u64 = seeds.expect("a number of seeds");
    println!("turn Hz  found s (median, worst)  others followed s  overlap told s  copied from s");
    for by_hz in TURNS_HZ {
        let mut all = Vec::new();
        for seed in 1..=seeds {
            for sideband in [Sideband::Lower, Sideband::Upper] {
                all.extend(MOMENTS_S.map(|at_s| outcome(seed, sideband, by_hz, at_s)));
            }
        }
        let row = [
            spread(&all, |o| o.found_s),
            spread(&all, |o| o.others_s),
            spread(&all, |o| o.overlap_s),
            spread(&all, |o| o.copied_s),
        ];
        let row: Vec<String> = row
            .iter()
            .map(|(m, w)| format!("{m:5.1} {w:5.1}"))
            .collect();
        println!("{by_hz:7}  {}", row.join("    "));
    }
}

fn spread(all: &[Outcome], of: impl Fn(&Outcome) -> f64) -> (f64, f64) {
    let mut values: Vec<f64> = all.iter().map(of).collect();
    values.sort_by(f64::total_cmp);
    (values[values.len() / 2], values[values.len() - 1])
}

fn outcome(seed: u64, sideband: Sideband, by_hz: f64, at_s: f64) -> Outcome {
    let mut evening = Evening::new(seed, sideband, -by_hz);
    evening.listen(at_s);
    let (told, copied) = (evening.told.len(), evening.copy.len());
    evening.move_tones(by_hz);
    evening.listen(LISTEN_S);
    let middle_hz = evening.middle_hz();
    let is_here = |mark: f64, space: f64| (0.5 * (mark + space) - middle_hz).abs() < NEAR_HZ;
    let looks = evening.signals.iter().filter(|s| s.0 > at_s);
    let (mut without, mut others_s, mut here) = (0.0, 0.0, Vec::new());
    for (_, signals) in looks {
        let found = signals.iter().find(|s| is_here(s.mark_hz, s.space_hz));
        here.extend(found.map(|s| s.id));
        without += f64::from(u8::from(found.is_none()));
        others_s += f64::from(u8::from(signals.len() > usize::from(found.is_some())));
    }
    let overlap = evening.told[told..]
        .iter()
        .filter(|t| t.at_s > at_s + 1.0 && t.instruction == Instruction::Overlap);
    let first = evening.copy[copied..].iter().find_map(|event| match event {
        Event::Character(c) if c.start_s > at_s && here.contains(&c.signal) => Some(c.start_s),
        _ => None,
    });
    Outcome {
        found_s: without,
        others_s,
        overlap_s: overlap.count() as f64 / 25.0,
        copied_s: first.map_or(f64::INFINITY, |s| s - at_s),
    }
}
