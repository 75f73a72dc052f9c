//! The bench of nothing: how many characters are printed in an hour where nobody sends.
//!
//! `cargo bench -p markhold-receive --bench nothing -- [part of a kind's name] [--seconds N]`

#[path = "../common/clock.rs"]
mod clock;
#[path = "../common/document.rs"]
mod document;
#[path = "../evenings/mod.rs"]
mod evenings;
#[path = "../common/many.rs"]
mod many;
mod nothing;

use clock::Begin;
use evenings::draw::Draw;
use markhold_receive::event::{Event, Signal};
use markhold_receive::{Receiver, Settings};
use nothing::Nothing;
use std::process::ExitCode;

const USAGE: &str = "\
nothing bench: [part of a kind's name] [--seconds N] [--seed N] [--threads N] [--show] [--write]

  --seconds N  so much of each kind, in pieces of at most 300 s; 600 by default
  --seed N     the first piece's seed; 1 by default
  --threads N  pieces at once; all cores by default
  --show       tell what was taken for a signal, and what was read of it
  --write      put the table into docs/performance.md as well";

/// Longest piece, s: each is drawn anew and heard by a receiver of its own.
const PIECE_S: u64 = 300;
/// Most characters an hour.
const MOST_AN_HOUR: f64 = 5.0;

/// What is to be done.
struct Options {
    part: String,
    seconds: u64,
    seed: u64,
    threads: usize,
    show: bool,
    write: bool,
}

/// What came of one piece.
#[derive(Clone, Copy, Default)]
struct Outcome {
    seconds: f64,
    printed: usize,
    /// Of them, without a mark of doubt.
    sure: usize,
    took_s: f64,
}

fn main() -> ExitCode {
    match read(std::env::args().skip(1)).and_then(|options| run(&options)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => {
            eprintln!("{message}");
            ExitCode::from(2)
        }
    }
}

fn read(mut arguments: impl Iterator<Item = String>) -> Result<Options, String> {
    let mut options = Options {
        part: String::new(),
        seconds: 600,
        seed: 1,
        threads: std::thread::available_parallelism().map_or(1, usize::from),
        show: false,
        write: false,
    };
    while let Some(argument) = arguments.next() {
        let mut number = || {
            let found = arguments.next().unwrap_or_default();
            match found.parse() {
                Ok(number @ 1..) => Ok(number),
                _ => Err(format!(
                    "{argument} is '{found}'; give a number of 1 or more"
                )),
            }
        };
        match argument.as_str() {
            "--seconds" => options.seconds = number()?,
            "--seed" => options.seed = number()?,
            "--threads" => options.threads = number()? as usize,
            "--show" => options.show = true,
            "--write" => options.write = true,
            // Cargo adds it to the arguments of every bench.
            "--bench" => {}
            "--help" => return Err(USAGE.into()),
            other if other.starts_with('-') || !options.part.is_empty() => {
                return Err(format!("{other} is not understood\n\n{USAGE}"));
            }
            part => options.part = part.into(),
        }
    }
    if options.write && !options.part.is_empty() {
        return Err("--write needs the whole table; leave the part of a name out".into());
    }
    Ok(options)
}

fn run(options: &Options) -> Result<(), String> {
    let mut kinds = nothing::all();
    kinds.retain(|kind| kind.name.contains(&options.part));
    if kinds.is_empty() {
        return Err(format!("no kind has '{}' in its name", options.part));
    }
    let pieces = options.seconds.div_ceil(PIECE_S);
    let piece_s = options.seconds as f64 / pieces as f64;
    let jobs: Vec<(usize, u64)> = (0..kinds.len())
        .flat_map(|kind| (0..pieces).map(move |k| (kind, options.seed + k)))
        .collect();
    let outcomes = many::each(&jobs, options.threads, |&(kind, seed)| {
        let outcome = hear(&kinds[kind], seed, piece_s, options.show);
        eprintln!(
            "{}, seed {seed}: {} printed in {piece_s:.0} s, {:.0} x",
            kinds[kind].name,
            outcome.printed,
            piece_s / outcome.took_s
        );
        outcome
    });
    let rows: Vec<(&str, Outcome)> = kinds
        .iter()
        .zip(outcomes.chunks(pieces as usize))
        .map(|(kind, outcomes)| (kind.name, sum(outcomes)))
        .collect();
    let block = table(&rows, options);
    println!("{block}");
    if options.write {
        document::write("nothing", &block)
    } else {
        Ok(())
    }
}

/// Lets a new receiver with default settings hear one piece.
fn hear(kind: &Nothing, seed: u64, seconds: f64, show: bool) -> Outcome {
    let (sound, rate) = kind.record(seconds, &mut Draw::new(kind.name, seed));
    let begin = Begin::now();
    let mut receiver = Receiver::new(rate, Settings::default()).expect("usual rates");
    let mut outcome = Outcome {
        seconds,
        ..Outcome::default()
    };
    let mut take = |event| {
        if show {
            tell(&event);
        }
        if let Event::Character(character) = event
            && character.symbol.text().is_some()
        {
            outcome.printed += 1;
            outcome.sure += usize::from(character.doubt.is_none());
        }
    };
    for block in sound.chunks(rate as usize / 4) {
        receiver.process(block, &mut take);
    }
    receiver.finish(&mut take);
    outcome.took_s = begin.elapsed_s();
    outcome
}

/// Prints what an event tells.
fn tell(event: &Event) {
    let line = |what: &str, s: &Signal| {
        println!(
            "\n{what} {:.1} to {:.1} s: mark {:.1}, space {:.1} Hz, {:.2} baud",
            s.begin_s, s.until_s, s.mark_hz, s.space_hz, s.rate_baud
        );
    };
    match event {
        Event::Found(signal) => line("found", signal),
        Event::Ended(signal) => line("ended", signal),
        Event::Character(character) => print!("{}", character.symbol.text().unwrap_or('~')),
        _ => {}
    }
}

fn sum(outcomes: &[Outcome]) -> Outcome {
    let add = |sum: Outcome, o: &Outcome| Outcome {
        seconds: sum.seconds + o.seconds,
        printed: sum.printed + o.printed,
        sure: sum.sure + o.sure,
        took_s: sum.took_s + o.took_s,
    };
    outcomes.iter().fold(Outcome::default(), add)
}

fn table(rows: &[(&str, Outcome)], options: &Options) -> String {
    let all = sum(&rows.iter().map(|r| r.1).collect::<Vec<_>>());
    let row = |(name, o): &(&str, Outcome)| {
        let hourly = o.printed as f64 * 3600.0 / o.seconds;
        format!(
            "| {name} | {:.0} | {} | {} | {hourly:.0} | {} | {:.0} |",
            o.seconds,
            o.printed,
            o.sure,
            if hourly <= MOST_AN_HOUR {
                "met"
            } else {
                "**missed**"
            },
            o.seconds / o.took_s,
        )
    };
    let lines: Vec<String> = rows.iter().chain([&("all", all)]).map(row).collect();
    format!(
        "| nothing | seconds | characters | of them sure | an hour | at most {MOST_AN_HOUR} | times real time |\n\
         | --- | ---: | ---: | ---: | ---: | --- | ---: |\n{}\n\n`--seconds {} --seed {}`, {}.",
        lines.join("\n"),
        options.seconds,
        options.seed,
        document::machine()
    )
}
