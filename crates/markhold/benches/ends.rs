//! A thousand random ends of programs that key a line: how long until it is at rest.
//!
//! `cargo bench -p markhold --bench ends` makes 1000; `-- TRIES SEED` other ones. Each try
//! starts the program on a pseudo terminal that writes down every transition (see
//! `tests/ends`), ends it at a random moment in one of eight ways, and waits until nothing of
//! it is left. A try in which anything stays keyed fails the command. How late the computer was
//! meanwhile, by a thread that only sleeps, stands beside; where the program gave up by itself,
//! at rest, because the computer was too busy, the try is made again.
#![allow(missing_docs, reason = "a bench")]

#[cfg(unix)]
#[path = "../tests/ends/mod.rs"]
mod ends;
#[cfg(unix)]
#[path = "../tests/late/mod.rs"]
mod late;

#[cfg(not(unix))]
fn main() {}

#[cfg(unix)]
fn main() {
    use ends::{Bench, End, Random, Try};
    use std::sync::Mutex;
    use std::sync::atomic::{AtomicUsize, Ordering};
    let numbers: Vec<u64> = std::env::args()
        .filter_map(|word| word.parse().ok())
        .collect();
    let count = numbers.first().map_or(1000, |n| *n as usize);
    let Some(bench) = Bench::new() else {
        println!("needs Linux and a C compiler (cc)");
        return;
    };
    if ends::ignores_interrupts() {
        println!("started with Ctrl-C ignored, as in the background of a shell; start it in front");
        std::process::exit(2);
    }
    let mut random = Random(numbers.get(1).copied().unwrap_or(1));
    let tries: Vec<Try> = (0..count)
        .map(|n| Try::random(End::ALL[n % End::ALL.len()], &mut random))
        .collect();
    let (next, found, failed) = (AtomicUsize::new(0), Mutex::new(vec![]), Mutex::new(vec![]));
    std::thread::scope(|scope| {
        for _ in 0..4 {
            scope.spawn(|| {
                loop {
                    let n = next.fetch_add(1, Ordering::Relaxed);
                    let Some(one) = tries.get(n) else { break };
                    match bench.run(n, one) {
                        Ok(result) => found.lock().unwrap().push((one.end, result)),
                        Err(why) => failed.lock().unwrap().push((one.end, why)),
                    }
                }
            });
        }
    });
    let (found, failed) = (found.into_inner().unwrap(), failed.into_inner().unwrap());
    println!(
        "| end | tries | at rest | keyed at the end | median of those | most of all | computer late by | gave up before |"
    );
    println!("|---|---|---|---|---|---|---|---|");
    let mut figures = Vec::new();
    for end in End::ALL {
        let all: Vec<_> = found
            .iter()
            .filter(|(e, _)| *e == end)
            .map(|(_, f)| f)
            .collect();
        let mut keyed: Vec<f64> = all
            .iter()
            .filter(|f| f.was_keyed)
            .map(|f| f.rest_ms)
            .collect();
        keyed.sort_by(f64::total_cmp);
        let most = all.iter().map(|f| f.rest_ms).fold(0.0, f64::max);
        let late = all.iter().map(|f| f.late_ms).fold(0.0, f64::max);
        let gave_up: usize = all.iter().map(|f| f.gave_up).sum();
        let median = keyed.get(keyed.len() / 2).copied().unwrap_or(0.0);
        let tries = tries.iter().filter(|one| one.end == end).count();
        println!(
            "| {} | {tries} | {} | {} | {median:.0} ms | {most:.0} ms | {late:.0} ms | {gave_up} |",
            end.name(),
            all.len(),
            keyed.len()
        );
        figures.push(format!(
            "figures ends:{} tries={tries} failures={} keyed={} most_median_ms={median:.0} \
             most_ms={most:.0} most_late_ms={late:.0} again={gave_up}",
            end.name().replace(' ', "_"),
            failed.iter().filter(|(of, _)| *of == end).count(),
            keyed.len()
        ));
    }
    figures.iter().for_each(|figures| println!("{figures}"));
    failed.iter().for_each(|(_, why)| println!("{why}"));
    if !failed.is_empty() {
        println!("{} tries failed", failed.len());
        std::process::exit(1);
    }
}
