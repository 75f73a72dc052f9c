//! What the command line asks for.

use std::path::PathBuf;

/// Shown for `--help` and for anything that is not understood.
const USAGE: &str = "\
kinds bench: [part of a kind's name] [--draws N] [--seed N] [--threads N] [--list] [--floor] [--keep DIR] [--write]

  --draws N    recordings of each kind; 5 by default
  --seed N     the first draw's seed; 1 by default
  --threads N  recordings at once; all cores by default
  --list       only list the kinds
  --floor      only the textbook receiver, which takes no time
  --keep DIR   write sound (WAV), the text sent and both copies there
  --write      put the table into docs/performance.md as well";

/// What is to be done.
#[derive(Clone, Debug)]
pub struct Options {
    /// Only kinds whose name holds this.
    pub part: String,
    pub draws: u64,
    pub seed: u64,
    pub threads: usize,
    pub list: bool,
    pub floor_only: bool,
    pub keep: Option<PathBuf>,
    pub write: bool,
}

impl Options {
    /// Reads the arguments after the program's name.
    pub fn read(mut arguments: impl Iterator<Item = String>) -> Result<Self, String> {
        let mut options = Self {
            part: String::new(),
            draws: 5,
            seed: 1,
            threads: std::thread::available_parallelism().map_or(1, usize::from),
            list: false,
            floor_only: false,
            keep: None,
            write: false,
        };
        while let Some(argument) = arguments.next() {
            match argument.as_str() {
                "--draws" => options.draws = number(&argument, arguments.next())?,
                "--seed" => options.seed = number(&argument, arguments.next())?,
                "--threads" => options.threads = number(&argument, arguments.next())? as usize,
                "--list" => options.list = true,
                "--floor" => options.floor_only = true,
                "--keep" => {
                    let folder = arguments.next().ok_or("--keep needs a folder after it")?;
                    options.keep = Some(folder.into());
                }
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
        if options.write && (options.floor_only || !options.part.is_empty()) {
            return Err("--write needs the whole table; leave --floor and the name out".into());
        }
        Ok(options)
    }
}

fn number(option: &str, value: Option<String>) -> Result<u64, String> {
    let found = value.unwrap_or_default();
    match found.parse() {
        Ok(number @ 1..) => Ok(number),
        _ => Err(format!("{option} is '{found}'; give a number of 1 or more")),
    }
}
