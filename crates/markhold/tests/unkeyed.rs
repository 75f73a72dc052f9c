//! However `markhold send` ends while it sends, the transmitter is unkeyed in time.
//!
//! Thirty random ends in the test run; `MARKHOLD_SENDS=1000 cargo test -p markhold --test unkeyed
//! -- --nocapture` makes a thousand and prints how long it stayed keyed; `MARKHOLD_SEED` has other
//! ones.
#![cfg(unix)]
#![allow(missing_docs, reason = "a test")]

#[path = "ends/mod.rs"]
mod ends;
#[path = "late/mod.rs"]
mod late;
#[path = "unkeyed/mod.rs"]
mod unkeyed;

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use unkeyed::{End, Found, Stand, Try};

type Result = std::result::Result<Found, String>;

#[test]
fn the_transmitter_is_unkeyed_whatever_happens() {
    let Some(stand) = Stand::new() else {
        println!("skipped: needs Linux and a C compiler (cc)");
        return;
    };
    let count = ends::told("MARKHOLD_SENDS", 30) as usize;
    let (keys, mut random) = (
        Stand::keys(),
        ends::Random(45 + ends::told("MARKHOLD_SEED", 0)),
    );
    let tries: Vec<Try> = (0..count)
        .map(|n| Try::random(n, &keys, &mut random))
        .collect();
    let results = run(&stand, &tries);
    table(&results);
    let wrong: Vec<String> = results
        .iter()
        .filter_map(|(one, found)| wrong(one, found))
        .collect();
    figures(&results, wrong.len());
    assert!(
        wrong.is_empty(),
        "{} of {count}\n{}",
        wrong.len(),
        wrong.join("\n")
    );
}

/// Three at a time: most of each is waiting.
fn run(stand: &Stand, tries: &[Try]) -> Vec<(Try, Result)> {
    let (next, found) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
    std::thread::scope(|scope| {
        for _ in 0..3 {
            scope.spawn(|| {
                while let Some((n, one)) = one_more(&next, tries) {
                    let result = stand.run(n, one);
                    found.lock().expect("no panic").push((*one, result));
                }
            });
        }
    });
    found.into_inner().expect("no panic")
}

fn one_more<'a>(next: &AtomicUsize, tries: &'a [Try]) -> Option<(usize, &'a Try)> {
    let n = next.fetch_add(1, Ordering::Relaxed);
    tries.get(n).map(|one| (n, one))
}

/// What is wrong with a try. A computer that was late itself has up to three threads take turns
/// until all is at rest.
fn wrong(one: &Try, result: &Result) -> Option<String> {
    match result {
        Err(why) => Some(format!("{one:?}: {why}")),
        Ok(found) => {
            let limit_ms = one.end.limit_ms() + one.keyed.busy_ms();
            let late = found.keyed_ms > limit_ms + 3.0 * found.late_ms;
            late.then(|| format!("{one:?}: {found:?}"))
        }
    }
}

/// A line for each kind of end, to be added up with those of other runs.
fn figures(results: &[(Try, Result)], wrong: usize) {
    for end in End::ALL {
        let of = results.iter().filter(|(one, _)| one.end == end);
        let found = of.clone().filter_map(|(_, result)| result.as_ref().ok());
        let most = found.map(|found| found.keyed_ms).fold(0.0, f64::max);
        let (name, count) = (end.name().replace(' ', "_"), of.clone().count());
        let failed = of.filter(|(one, found)| self::wrong(one, found).is_some());
        let failed = failed.count();
        println!("figures send:{name} tries={count} failures={failed} most_ms={most:.0}");
    }
    let keys = Stand::keys().len();
    println!(
        "figures send:all tries={} failures={wrong} most_keys={keys}",
        results.len()
    );
}

fn table(results: &[(Try, Result)]) {
    println!("| end | key | tries | unkeyed | median | most | within | computer late by |");
    println!("|---|---|---|---|---|---|---|---|");
    for end in End::ALL {
        for keyed in Stand::keys() {
            let of: Vec<_> = results
                .iter()
                .filter(|(one, _)| one.end == end && one.keyed == keyed)
                .collect();
            let found: Vec<_> = of
                .iter()
                .filter_map(|(_, result)| result.as_ref().ok())
                .collect();
            let mut ms: Vec<f64> = found.iter().map(|found| found.keyed_ms).collect();
            ms.sort_by(f64::total_cmp);
            let within = ms.iter().filter(|ms| **ms <= end.limit_ms()).count();
            let late = found.iter().map(|found| found.late_ms).fold(0.0, f64::max);
            if let (Some(median), Some(most)) = (ms.get(ms.len() / 2), ms.last()) {
                println!(
                    "| {} | {} | {} | {} | {median:.0} ms | {most:.0} ms | {within} within {:.0} ms | {late:.0} ms |",
                    end.name(),
                    keyed.name(),
                    of.len(),
                    found.len(),
                    end.limit_ms()
                );
            }
        }
    }
}
