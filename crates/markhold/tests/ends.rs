//! However a program that keys a line ends, the line is at rest, the motor off and the
//! divisor as it was found. A few tries of each kind; `cargo bench -p markhold --bench ends`
//! makes a thousand and measures how long it takes.
#![cfg(unix)]
#![allow(missing_docs, reason = "a test")]

#[path = "ends/mod.rs"]
mod ends;
#[path = "late/mod.rs"]
mod late;
use ends::{Bench, End, Random, Try, Way};
use std::time::Duration;

#[test]
fn the_line_is_at_rest_whatever_happens() {
    let Some(bench) = Bench::new() else {
        println!("skipped: needs Linux and a C compiler (cc)");
        return;
    };
    let mut random = Random(1);
    let tries: Vec<Try> = (0..4)
        .flat_map(|_| End::ALL)
        .filter(|end| *end != End::Interrupted || !ends::ignores_interrupts())
        .map(|end| Try::random(end, &mut random))
        .collect();
    // Four at a time: most of each try is waiting.
    let failed: Vec<String> = std::thread::scope(|scope| {
        let run = |k: usize| {
            let (bench, tries) = (&bench, &tries);
            scope.spawn(move || {
                let mine = tries.iter().enumerate().skip(k).step_by(4);
                mine.filter_map(|(n, one)| tried(bench, n, one))
                    .collect::<Vec<_>>()
            })
        };
        let all: Vec<_> = (0..4).map(run).collect();
        all.into_iter()
            .flat_map(|one| one.join().expect("no panic"))
            .collect()
    });
    assert!(
        failed.is_empty(),
        "{} failed\n{}",
        failed.len(),
        failed.join("\n")
    );
}

/// What is wrong with a try.
fn tried(bench: &Bench, number: usize, one: &Try) -> Option<String> {
    let found = match bench.run(number, one) {
        Ok(found) => found,
        Err(why) => return Some(why),
    };
    // A hang is noticed after half a second; up to five threads take turns until all is at
    // rest, each of which a busy computer may keep waiting. The bench has the figures.
    let late = found.rest_ms > 1000.0 + 5.0 * found.late_ms;
    let wrong = one.end.code().is_some_and(|code| found.code != Some(code));
    let speaks = one.end.code().is_none() || one.end == End::HungUp || !found.said.is_empty();
    (late || wrong || !speaks).then(|| format!("{one:?}: {found:?}"))
}

#[test]
fn a_divisor_outlives_no_program() {
    let Some(bench) = Bench::new() else {
        println!("skipped: needs Linux and a C compiler (cc)");
        return;
    };
    let one = Try {
        end: End::Killed,
        sender: ends::Sender::Machine,
        way: Way::Serial,
        after: 6,
        later: Duration::ZERO,
    };
    // 115 200 / 2534 is 45.462 baud (bench electrics); put back it is none.
    let found = bench.run(0, &one).expect("put back");
    assert!(bench.had_divisor(0, 2534), "{found:?}");
}
