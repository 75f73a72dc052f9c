//! The calibration bench: whether characters given probability p are right p of the time.
//!
//! `cargo bench -p markhold-receive --bench calibration -- [part of a name] [--seeds N] [--fit [--into FILE] | --write]`

#[path = "../common/align.rs"]
mod align;
#[path = "../common/arguments.rs"]
mod arguments;
mod cases;
#[path = "../common/document.rs"]
mod document;
mod evening;
#[path = "../evenings/mod.rs"]
mod evenings;
mod fit;
#[path = "../kinds/kinds/mod.rs"]
mod kinds;
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
use kinds::Kind;
use points::Point;
use std::process::ExitCode;

/// Seeds for each case unless said otherwise.
const SEEDS: u64 = 12;
/// The same for a fit: what is committed was fitted on so many.
const FITTED_SEEDS: u64 = 20;
/// Of so many seeds one has evenings too: there are many kinds.
const SEEDS_AN_EVENING: u64 = 4;
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
    if arguments.fit {
        let seeds = arguments.seeds.unwrap_or(FITTED_SEEDS);
        let points = gather(arguments, FITTED_FROM + 1..=FITTED_FROM + seeds);
        return fit::write(&points, &arguments.fitted_file("calibration"));
    }
    let seeds = arguments.seeds.unwrap_or(SEEDS);
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

/// What characters are copied of.
#[derive(Clone, Copy)]
enum Job<'a> {
    Case(&'a Case, u64),
    Evening(&'a Kind, u64),
}

/// The characters copied of every case and every kind of evening.
fn gather(arguments: &Arguments, seeds: std::ops::RangeInclusive<u64>) -> Vec<Point> {
    let kinds = kinds::all();
    let named = |name: &str| name.contains(&arguments.part);
    let cases = CASES.iter().filter(|case| named(&case.name()));
    let cases = cases.flat_map(|case| seeds.clone().map(move |seed| Job::Case(case, seed)));
    let evenings = kinds.iter().filter(|kind| named(kind.name));
    let evenings = evenings.flat_map(|kind| {
        let seeds = seeds.clone().step_by(SEEDS_AN_EVENING as usize);
        seeds.map(move |seed| Job::Evening(kind, seed))
    });
    let jobs: Vec<Job> = cases.chain(evenings).collect();
    let each = many::each(&jobs, arguments.threads(), |job| match job {
        Job::Case(case, seed) => points::points(case, *seed),
        Job::Evening(kind, seed) => evening::points(kind, *seed),
    });
    each.into_iter().flatten().collect()
}
