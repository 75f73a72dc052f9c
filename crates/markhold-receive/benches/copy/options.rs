//! What the command line asks for.

/// Shown for `--help` and for anything that is not understood.
pub const USAGE: &str = "\
copy bench: [part of a case's name] [--seeds N] [--quick] [--threads N] [--markdown] [--write]

  --seeds N    seeds 1 to N for each case; 6 by default, 2 with --quick
  --quick      texts of at most 300 characters, ten minutes instead of an hour
  --threads N  cases at once; all cores by default
  --markdown   print only the table and what it was made with
  --write      put the table into docs/performance.md as well";

/// What is to be done.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// Only cases whose name holds this.
    pub part: String,
    /// How many seeds, if said.
    pub seeds: Option<u64>,
    /// Shorter scenes.
    pub quick: bool,
    /// How many at once, if said.
    pub threads: Option<usize>,
    /// No progress.
    pub markdown: bool,
    /// Rewrite the document.
    pub write: bool,
}

impl Options {
    /// Reads the arguments after the program's name.
    pub fn read(arguments: impl Iterator<Item = String>) -> Result<Self, String> {
        let mut options = Self::default();
        let mut arguments = arguments;
        while let Some(argument) = arguments.next() {
            match argument.as_str() {
                "--seeds" => options.seeds = Some(number(&argument, arguments.next())?),
                "--threads" => {
                    options.threads = Some(number(&argument, arguments.next())? as usize);
                }
                "--quick" => options.quick = true,
                "--markdown" => options.markdown = true,
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

    /// Seeds for each case.
    pub fn seeds(&self) -> u64 {
        self.seeds.unwrap_or(if self.quick { 2 } else { 6 })
    }
}

fn number(option: &str, value: Option<String>) -> Result<u64, String> {
    let found = value.unwrap_or_default();
    match found.parse() {
        Ok(number @ 1..) => Ok(number),
        _ => Err(format!("{option} is '{found}'; give a number of 1 or more")),
    }
}
