//! The bench of kinds: what a reader gets on many kinds of evening, held against what a
//! textbook receiver gives on the same sound.
//!
//! `cargo bench -p markhold-receive --bench kinds -- [part of a kind's name] [--draws N]`
//!
//! From sound to score: `evenings` (which shares nothing with `markhold-air` or the receiver),
//! `kinds`; `floor` and `copied`; `glyphs`, `table`.

#[path = "../common/align.rs"]
mod align;
#[path = "../common/clock.rs"]
mod clock;
mod copied;
#[path = "../common/document.rs"]
mod document;
#[path = "../evenings/mod.rs"]
mod evenings;
mod floor;
mod glyphs;
mod keep;
mod kinds;
#[path = "../common/many.rs"]
mod many;
mod measure;
mod options;
#[path = "../common/page.rs"]
mod page;
mod table;

use measure::{Outcome, measure};
use options::Options;
use std::process::ExitCode;
use std::time::Instant;

fn main() -> ExitCode {
    match Options::read(std::env::args().skip(1)).and_then(|options| run(&options)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => {
            eprintln!("{message}");
            ExitCode::from(2)
        }
    }
}

fn run(options: &Options) -> Result<(), String> {
    let mut kinds = kinds::all();
    kinds.retain(|kind| kind.name.contains(&options.part));
    if kinds.is_empty() {
        return Err(format!(
            "no kind has '{}' in its name; --list lists them",
            options.part
        ));
    }
    if options.list {
        kinds.iter().for_each(|kind| println!("{}", kind.name));
        return Ok(());
    }
    let begin = Instant::now();
    // The first draw of every kind, then the second: a run cut short has seen all kinds.
    let seeds = options.seed..options.seed + options.draws;
    let jobs: Vec<(usize, u64)> = seeds
        .flat_map(|seed| (0..kinds.len()).map(move |kind| (kind, seed)))
        .collect();
    let done = many::each(&jobs, options.threads, |&(kind, seed)| {
        let outcome = measure(&kinds[kind], seed, options);
        progress(kinds[kind].name, seed, &outcome);
        outcome
    });
    let mut outcomes: Vec<Vec<Outcome>> = kinds.iter().map(|_| Vec::new()).collect();
    for ((kind, _), outcome) in jobs.iter().zip(done) {
        outcomes[*kind].push(outcome);
    }
    let block = format!(
        "{}\n\nSeeds {} to {}, {}.",
        table::table(&kinds, &outcomes),
        options.seed,
        options.seed + options.draws - 1,
        document::machine()
    );
    println!("{block}");
    eprintln!(
        "\nmade and copied in {:.0} s",
        begin.elapsed().as_secs_f64()
    );
    if options.write {
        document::write("kinds", &block)
    } else {
        Ok(())
    }
}

fn progress(name: &str, seed: u64, outcome: &Outcome) {
    let Outcome {
        markhold, floor, ..
    } = outcome;
    eprintln!(
        "{name}, seed {seed}: {:.0} dB, of {} glyphs {:.1} % wrong, floor {:.1} %; {} of {} sure \
         words false; first after {:.1} s; {:.0} x",
        outcome.es_n0_db,
        markhold.sent,
        100.0 * markhold.rate(),
        100.0 * floor.rate(),
        markhold.false_words,
        markhold.sure_words,
        outcome.first_s.unwrap_or(f64::NAN),
        outcome.seconds / outcome.took_s,
    );
}
