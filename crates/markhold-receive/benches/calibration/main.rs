//! The calibration bench: whether characters given probability p are right p of the time.
//!
//! `cargo bench -p markhold-receive --bench calibration -- [--seeds N] [--fit | --write]`

#[path = "../common/arguments.rs"]
mod arguments;
mod cases;
#[path = "../common/document.rs"]
mod document;
mod fit;
#[path = "../common/listen.rs"]
mod listen;
#[path = "../common/many.rs"]
mod many;
mod plot;
mod points;
#[path = "../common/regression.rs"]
mod regression;
mod table;
#[path = "../common/text.rs"]
mod text;

use arguments::Arguments;
use cases::{CASES, Case};
use points::{Point, points};
use std::process::ExitCode;

/// Seeds for each case unless said otherwise.
const SEEDS: u64 = 12;
/// Seeds from here on are kept for fitting; those below it are never fitted to.
const FITTED_FROM: u64 = 1000;

fn main() -> ExitCode {
    match Arguments::read(std::env::args().skip(1)).and_then(|arguments| run(&arguments)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => {
            eprintln!("{message}");
            ExitCode::from(2)
        }
    }
}

fn run(arguments: &Arguments) -> Result<(), String> {
    let seeds = arguments.seeds.unwrap_or(SEEDS);
    if arguments.fit {
        let points = gather(arguments, FITTED_FROM + 1..=FITTED_FROM + seeds);
        return fit::write(&points);
    }
    let points = gather(arguments, 1..=seeds);
    let block = format!(
        "{}\n\n{} characters, seeds 1 to {seeds}, {}.",
        table::table(&points),
        points.len(),
        document::machine()
    );
    println!("{block}");
    if arguments.write {
        document::write("calibration", &block)?;
        plot::write(&points)?;
    }
    Ok(())
}

/// The characters copied of every case with every seed.
fn gather(arguments: &Arguments, seeds: std::ops::RangeInclusive<u64>) -> Vec<Point> {
    let named = |case: &&Case| case.name().contains(&arguments.part);
    let jobs: Vec<(Case, u64)> = CASES
        .iter()
        .filter(named)
        .flat_map(|case| seeds.clone().map(|seed| (*case, seed)))
        .collect();
    let each = many::each(&jobs, arguments.threads(), |(case, seed)| {
        points(case, *seed)
    });
    each.into_iter().flatten().collect()
}
