//! `markhold-fuzz [SECONDS [TARGET..]]`: tries all targets, or these, for so long each.
//! `markhold-fuzz seeds FOLDER`: writes the seeds, a folder for each target.

use markhold_fuzz::run::run;
use markhold_fuzz::{Target, targets};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::{Duration, SystemTime};

/// Where inputs that went wrong are left, and more seeds are found.
const LEFT: &str = "target/fuzz";
const SEEDS: &str = "fuzz/seeds";

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    if let [what, folder] = &words[..]
        && what == "seeds"
    {
        return match write_seeds(Path::new(folder)) {
            Ok(()) => ExitCode::SUCCESS,
            Err(error) => {
                eprintln!("{folder}: {error}");
                ExitCode::from(2)
            }
        };
    }
    let seconds = words.first().map_or(Ok(10), |word| word.parse());
    let (Ok(seconds), names) = (seconds, words.get(1..).unwrap_or_default()) else {
        eprintln!("markhold-fuzz [SECONDS [TARGET..]], or: markhold-fuzz seeds FOLDER");
        return ExitCode::from(2);
    };
    let is_meant = |t: &Target| names.is_empty() || names.iter().any(|name| name == t.name);
    std::panic::set_hook(Box::new(|_| {}));
    let targets = targets::all();
    let meant = targets.iter().filter(|target| is_meant(target));
    // Each is tried, whatever came of the one before.
    let bad = meant.filter(|target| !tell(target, seconds)).count();
    if bad == 0 {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}

/// Tries one target, each time otherwise, and tells; whether nothing went wrong.
fn tell(target: &Target, seconds: u64) -> bool {
    let seed = SystemTime::UNIX_EPOCH
        .elapsed()
        .map_or(1, |time| time.as_nanos() as u64);
    let more = found(&PathBuf::from(SEEDS).join(format!("fuzz_{}", target.name)));
    let told = run(
        target,
        &more,
        Duration::from_secs(seconds),
        seed,
        Path::new(LEFT),
    );
    let (tries, ways, count) = (told.tries, told.ways, told.findings.len());
    println!(
        "{:10} {tries:10} tries, {ways:5} ways, {count} findings",
        target.name
    );
    told.findings
        .iter()
        .for_each(|finding| println!("  {finding}"));
    count == 0
}

/// The files of a folder, if there is one.
fn found(folder: &Path) -> Vec<Vec<u8>> {
    let files = std::fs::read_dir(folder).into_iter().flatten().flatten();
    files
        .filter_map(|file| std::fs::read(file.path()).ok())
        .collect()
}

fn write_seeds(folder: &Path) -> std::io::Result<()> {
    for target in targets::all() {
        let place = folder.join(format!("fuzz_{}", target.name));
        std::fs::create_dir_all(&place)?;
        for (k, seed) in (target.seeds)().iter().enumerate() {
            std::fs::write(place.join(format!("seed-{:02}", k + 1)), seed)?;
        }
    }
    Ok(())
}
