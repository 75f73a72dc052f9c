//! Whoever obeys the sentence to the letter: in tune after how many turns and seconds, from
//! random places of the dial on the practice band. Figures, not a test.
//!
//! cargo run --release -p markhold-station --example obeyed -- [PLACES] [FIRST]
//!
//! With WORDS set in the environment it prints each sentence, too.

#[path = "../tests/turned/obeyed.rs"]
mod obeyed;
#[path = "../tests/turned/practice.rs"]
mod practice;

use obeyed::{Outcome, obey, random_evening};
use practice::Evening;

/// For how long is obeyed, s: 20 to be in tune, a minute in which one sentence should stand.
const LISTEN_S: f64 = 80.0;

fn main() {
    let mut words = std::env::args().skip(1).map(|w| w.parse::<u64>());
    let places = words.next().map_or(50, |n| n.expect("a number of places"));
    let first = words.next().map_or(1, |n| n.expect("the first place"));
    let all: Vec<Outcome> = (first..first + places).map(one).collect();
    let count = |so: fn(&&Outcome) -> bool| all.iter().filter(so).count();
    println!(
        "of {places}: {} in tune after at most 3 turns and 20 s and never sent away, {} sent away, {} never in tune, {} with \
         more than one other sentence in the minute after",
        count(|o| o.is_good()),
        count(|o| o.was_sent_away),
        count(|o| o.in_tune_s.is_none()),
        count(|o| o.changes > 1)
    );
}

fn one(place: u64) -> Outcome {
    let (mut evening, what) = random_evening(place);
    let outcome = obey(&mut evening, LISTEN_S);
    let verdict = if outcome.is_good() { "good" } else { "BAD" };
    println!("{place:3} {what}: {verdict} {outcome:.1?}");
    if std::env::var_os("WORDS").is_some() {
        print_words(&evening);
    }
    outcome
}

fn print_words(evening: &Evening) {
    let mut said = "";
    for t in &evening.told {
        if t.words != said {
            println!("    {:5.1} {} {:.0?}", t.at_s, t.words, t.tones_hz);
            said = &t.words;
        }
    }
}
