//! What the command line of a bench that measures and fits asks for.

use std::path::PathBuf;

/// What is to be done.
#[derive(Clone, Debug, Default)]
pub struct Arguments {
    /// Only what has this in its name.
    pub part: String,
    /// How many seeds, if said.
    pub seeds: Option<u64>,
    /// How many threads, if said.
    pub threads: Option<usize>,
    /// Fit constants on the seeds kept for it, rather than measure on the others.
    pub fit: bool,
    /// Where the fitted constants go, if not into the source.
    pub into: Option<PathBuf>,
    /// Rewrite the document.
    pub write: bool,
}

/// Shown for `--help` and for anything that is not understood.
const USAGE: &str = "\
[part of a name] [--seeds N] [--threads N] [--fit [--into FILE] | --write]

  --seeds N    how many seeds
  --threads N  how many at once; all cores by default
  --fit        fit the constants on seeds of their own and write them into the source
  --into FILE  write them into this file instead, where the source is not there or shall stay as it is
  --write      put the table into docs/performance.md as well";

impl Arguments {
    /// Reads the arguments after the program's name.
    pub fn read(arguments: impl Iterator<Item = String>) -> Result<Self, String> {
        let mut read = Self::default();
        let mut arguments = arguments;
        while let Some(argument) = arguments.next() {
            match argument.as_str() {
                "--seeds" => read.seeds = Some(number(&argument, arguments.next())?),
                "--threads" => read.threads = Some(number(&argument, arguments.next())? as usize),
                "--fit" => read.fit = true,
                "--write" => read.write = true,
                "--into" => read.into = Some(file(&argument, arguments.next())?),
                // Cargo adds it to the arguments of every bench.
                "--bench" => {}
                "--help" => return Err(USAGE.into()),
                other if other.starts_with('-') || !read.part.is_empty() => {
                    return Err(format!("{other} is not understood\n\n{USAGE}"));
                }
                part => read.part = part.into(),
            }
        }
        if read.into.is_some() && !read.fit {
            return Err("--into says where fitted constants go; add --fit".into());
        }
        let into_source = read.fit && read.into.is_none();
        if (into_source || read.write) && !read.part.is_empty() {
            return Err(
                "--fit and --write need everything; leave the part of a name out, or give --into FILE"
                    .into(),
            );
        }
        Ok(read)
    }

    /// Where fitted constants go: the file that was said, or that of a folder of the source of copy.
    pub fn fitted_file(&self, folder: &str) -> PathBuf {
        let source = || {
            PathBuf::from(env!("CARGO_MANIFEST_DIR"))
                .join("src/copy")
                .join(folder)
        };
        self.into
            .clone()
            .unwrap_or_else(|| source().join("fitted.rs"))
    }

    /// Threads to use.
    pub fn threads(&self) -> usize {
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        self.threads.unwrap_or(cores).min(cores)
    }
}

fn file(option: &str, value: Option<String>) -> Result<PathBuf, String> {
    let file = value.filter(|file| !file.is_empty() && !file.starts_with('-'));
    file.map(PathBuf::from)
        .ok_or(format!("{option} needs the name of a file"))
}

fn number(option: &str, value: Option<String>) -> Result<u64, String> {
    let found = value.unwrap_or_default();
    match found.parse() {
        Ok(number @ 1..) => Ok(number),
        _ => Err(format!("{option} is '{found}'; give a number of 1 or more")),
    }
}
