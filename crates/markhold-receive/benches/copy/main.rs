//! The copy bench: how many characters come out wrong, missing or extra, in every case
//! that the receiver is held to.
//!
//! `cargo bench -p markhold-receive --bench copy -- [part of a case's name] [--quick]`

mod case;
mod cases;
#[path = "../common/document.rs"]
mod document;
mod language;
mod measure;
mod nothing;
mod options;
#[path = "../common/page.rs"]
mod page;
#[path = "../common/score.rs"]
mod score;
mod senders;
mod table;
#[path = "../common/text.rs"]
mod text;

use case::Case;
use measure::{Outcome, measure};
use options::Options;
use std::process::ExitCode;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc;
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
    let mut cases = cases::all();
    cases.retain(|case| case.name.contains(&options.part));
    if cases.is_empty() {
        return Err(format!("no case has '{}' in its name", options.part));
    }
    let begin = Instant::now();
    let outcomes = measure_all(&cases, options);
    let block = block(&cases, &outcomes, options);
    println!("{block}");
    let heard_s: f64 = outcomes.iter().map(|o| o.seconds).sum();
    let took_s = begin.elapsed().as_secs_f64();
    if !options.markdown {
        eprintln!("\n{heard_s:.0} s of sound made and copied in {took_s:.0} s");
    }
    if options.write {
        document::write("copy", &block)
    } else {
        Ok(())
    }
}

/// One outcome for each case, all its seeds together.
fn measure_all(cases: &[Case], options: &Options) -> Vec<Outcome> {
    let jobs: Vec<(usize, u64)> = (0..cases.len())
        .flat_map(|case| (1..=options.seeds()).map(move |seed| (case, seed)))
        .collect();
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let next = AtomicUsize::new(0);
    let (sender, receiver) = mpsc::channel();
    let mut outcomes = vec![Outcome::default(); cases.len()];
    std::thread::scope(|scope| {
        for _ in 0..options.threads.unwrap_or(cores).min(cores) {
            let (sender, next, jobs) = (sender.clone(), &next, &jobs);
            scope.spawn(move || {
                while let Some(&(case, seed)) = jobs.get(next.fetch_add(1, Ordering::Relaxed)) {
                    let outcome = measure(&cases[case], seed, options.quick);
                    // The other end is there until all are done.
                    let _ = sender.send((case, seed, outcome));
                }
            });
        }
        drop(sender);
        for (case, seed, outcome) in receiver {
            if !options.markdown {
                progress(&cases[case], seed, outcome);
            }
            outcomes[case] = outcomes[case].and(outcome);
        }
    });
    outcomes
}

fn progress(case: &Case, seed: u64, outcome: Outcome) {
    eprintln!(
        "{}, seed {seed}: {} errors in {} characters, {} signals, {:.0} s",
        case.name, outcome.errors, outcome.sent, outcome.signals, outcome.seconds
    );
}

fn block(cases: &[Case], outcomes: &[Outcome], options: &Options) -> String {
    let rows: Vec<String> = cases
        .iter()
        .zip(outcomes)
        .map(|(case, &outcome)| table::line(case, outcome))
        .collect();
    let met = cases
        .iter()
        .zip(outcomes)
        .filter(|(case, outcome)| table::is_met(case, **outcome))
        .count();
    let length = if options.quick {
        "short texts (`--quick`)"
    } else {
        "full texts"
    };
    format!(
        "{}\n{}\n\n{met} of {} cases reach all their targets. Seeds 1 to {}, {length}, {}.",
        table::head(),
        rows.join("\n"),
        cases.len(),
        options.seeds(),
        document::machine(),
    )
}
