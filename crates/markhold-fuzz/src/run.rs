//! Tries one target for some time.

use crate::mutate::mutated;
use crate::{Target, Went};
use rand::{RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::collections::HashSet;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// Most inputs that are kept for going their own way.
const MOST_KEPT: usize = 2000;
/// One try that takes longer hangs. The slowest takes a second or two here, on a machine that
/// has much else to do thirty times that.
const HANGS: Duration = Duration::from_secs(180);
/// More memory than this is swelling, bytes.
const SWOLLEN: u64 = 1 << 30;

/// What came of it.
#[derive(Debug)]
pub struct Told {
    /// Inputs tried.
    pub tries: u64,
    /// Ways in which it went.
    pub ways: usize,
    /// What went wrong: each in words, with the file of the input.
    pub findings: Vec<String>,
}

/// Tries a target on its seeds, on `more` of them, and on what is made of them, for so long;
/// inputs that go wrong are left in `folder`. The same `seed` tries the same in the same order.
pub fn run(target: &Target, more: &[Vec<u8>], time: Duration, seed: u64, folder: &Path) -> Told {
    let mut chance = Xoshiro256PlusPlus::seed_from_u64(seed);
    let mut kept: Vec<Vec<u8>> = (target.seeds)();
    kept.extend_from_slice(more);
    let mut ways = HashSet::new();
    let mut told = Told {
        tries: 0,
        ways: 0,
        findings: Vec::new(),
    };
    let watch = Watch::new(target.name, folder);
    let begun = Instant::now();
    let mut seeds = kept.clone().into_iter();
    while begun.elapsed() < time || seeds.len() > 0 {
        let pick = |chance: &mut Xoshiro256PlusPlus| match kept.len() {
            0 => &[][..],
            count => &kept[chance.random_range(0..count)][..],
        };
        let bytes = seeds.next().unwrap_or_else(|| {
            let (from, other) = (pick(&mut chance), pick(&mut chance));
            mutated(from, other, target.words, target.longest, &mut chance)
        });
        told.tries += 1;
        match watch.try_bytes(target, &bytes) {
            Ok(went) => {
                if ways.insert(went) && kept.len() < MOST_KEPT {
                    kept.push(bytes);
                }
            }
            Err(why) => {
                let file = left(folder, target.name, &bytes);
                told.findings.push(format!("{why}: {}", file.display()));
                if told.findings.len() >= 5 {
                    break;
                }
            }
        }
    }
    if let Some(bytes) = memory().filter(|bytes| *bytes > SWOLLEN) {
        told.findings
            .push(format!("it takes {} MB of memory", bytes >> 20));
    }
    told.ways = ways.len();
    told
}

/// Leaves an input that went wrong in the folder.
fn left(folder: &Path, name: &str, bytes: &[u8]) -> PathBuf {
    let mut hash = DefaultHasher::new();
    bytes.hash(&mut hash);
    let file = folder.join(format!("{name}-{:016x}", hash.finish()));
    // Who runs this sees the words in any case.
    let _ = std::fs::create_dir_all(folder).and_then(|()| std::fs::write(&file, bytes));
    file
}

/// What this process takes, bytes, where that can be known.
fn memory() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    let kb: u64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kb * 1024)
}

/// Ends the program when one try hangs.
struct Watch(Arc<Mutex<Now>>);

#[derive(Default)]
struct Now {
    trying: Option<(Instant, Vec<u8>)>,
    over: bool,
}

fn lock(now: &Mutex<Now>) -> MutexGuard<'_, Now> {
    now.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Watch {
    fn new(name: &'static str, folder: &Path) -> Self {
        let now = Arc::new(Mutex::new(Now::default()));
        let (watched, folder) = (Arc::clone(&now), folder.to_path_buf());
        std::thread::spawn(move || {
            loop {
                std::thread::sleep(Duration::from_millis(200));
                let now = lock(&watched);
                if now.over {
                    return;
                }
                if let Some((since, bytes)) = &now.trying
                    && since.elapsed() > HANGS
                {
                    let file = left(&folder, name, bytes);
                    eprintln!("{name} hangs: {}", file.display());
                    std::process::exit(1);
                }
            }
        });
        Watch(now)
    }

    fn try_bytes(&self, target: &Target, bytes: &[u8]) -> Result<Went, String> {
        lock(&self.0).trying = Some((Instant::now(), bytes.to_vec()));
        let tried = catch_unwind(AssertUnwindSafe(|| (target.try_bytes)(bytes)));
        lock(&self.0).trying = None;
        tried.map_err(|panic| {
            let text = panic.downcast_ref::<String>().map(String::as_str);
            let text = text.or_else(|| panic.downcast_ref::<&str>().copied());
            text.unwrap_or("a panic")
                .lines()
                .take(3)
                .collect::<Vec<_>>()
                .join(" ")
        })
    }
}

impl Drop for Watch {
    fn drop(&mut self) {
        lock(&self.0).over = true;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A target with a law that is broken by what is three changes away from its seed.
    const BROKEN: Target = Target {
        name: "broken",
        try_bytes: |bytes| {
            let known = bytes
                .iter()
                .zip(b"QTH?")
                .take_while(|(a, b)| a == b)
                .count();
            assert!(known < 4, "found");
            known as Went
        },
        seeds: || vec![b"Q".to_vec()],
        words: &[],
        longest: 8,
    };

    /// What went as none before is kept: without that nobody hits upon three bytes.
    #[test]
    fn a_broken_law_is_found_and_its_input_left() {
        let folder = tempfile::tempdir().expect("a folder");
        let told = run(&BROKEN, &[], Duration::from_secs(20), 1, folder.path());
        assert!(
            told.findings.iter().all(|f| f.starts_with("found: ")),
            "{told:?}"
        );
        assert!(!told.findings.is_empty() && told.ways == 4, "{told:?}");
        let left = std::fs::read_dir(folder.path()).expect("it is there");
        for file in left.flatten() {
            assert!(
                std::fs::read(file.path())
                    .expect("whole")
                    .starts_with(b"QTH?")
            );
        }
    }
}
