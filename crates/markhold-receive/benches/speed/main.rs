//! The speed bench: how many times faster than real time one core copies, and how much
//! memory an hour and ten hours of sound take.
//!
//! `cargo bench -p markhold-receive --bench speed -- [--memory] [--hours N] [--write]`

#[path = "../common/clock.rs"]
mod clock;
#[path = "../common/document.rs"]
mod document;
mod memory;
mod sound;
#[path = "../common/text.rs"]
mod text;
mod times;

use std::process::ExitCode;

const USAGE: &str = "\
speed bench: [--memory] [--hours N] [--write]

  --memory   measure memory instead of speed: N hours of sound and a tenth of that
  --hours N  10 by default
  --write    put the table into docs/performance.md as well";

/// What is to be done.
enum Task {
    Speed,
    Memory {
        hours: f64,
    },
    /// The inside of `Memory`, in a process of its own.
    Stream {
        hours: f64,
    },
}

fn main() -> ExitCode {
    match read(std::env::args().skip(1)).and_then(|(task, write)| run(task, write)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => {
            eprintln!("{message}");
            ExitCode::from(2)
        }
    }
}

fn read(mut arguments: impl Iterator<Item = String>) -> Result<(Task, bool), String> {
    let (mut memory, mut write, mut longer) = (false, false, 10.0);
    while let Some(argument) = arguments.next() {
        match argument.as_str() {
            "--memory" => memory = true,
            "--write" => write = true,
            "--hours" => longer = hours(arguments.next())?,
            memory::STREAM => {
                return Ok((
                    Task::Stream {
                        hours: hours(arguments.next())?,
                    },
                    false,
                ));
            }
            // Cargo adds it to the arguments of every bench.
            "--bench" => {}
            "--help" => return Err(USAGE.into()),
            other => return Err(format!("{other} is not understood\n\n{USAGE}")),
        }
    }
    let task = if memory {
        Task::Memory { hours: longer }
    } else {
        Task::Speed
    };
    Ok((task, write))
}

fn hours(value: Option<String>) -> Result<f64, String> {
    let found = value.unwrap_or_default();
    match found.parse() {
        Ok(hours) if hours > 0.0 && hours <= 240.0 => Ok(hours),
        _ => Err(format!(
            "--hours is '{found}'; give a number above 0 and at most 240"
        )),
    }
}

fn run(task: Task, write: bool) -> Result<(), String> {
    let (name, block) = match task {
        Task::Stream { hours } => return memory::stream(hours),
        Task::Speed => ("speed", times::table()),
        Task::Memory { hours } => ("memory", memory::table(hours)?),
    };
    println!("{block}");
    if write {
        document::write(name, &block)
    } else {
        Ok(())
    }
}
