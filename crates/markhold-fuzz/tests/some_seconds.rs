//! Some seconds of every target, in the test run. A longer run: `make fuzz FOR=600`.

use markhold_fuzz::run::run;
use markhold_fuzz::targets;
use std::path::Path;
use std::process::ExitCode;
use std::sync::Mutex;
use std::thread::available_parallelism;
use std::time::Duration;

/// For each target. With twenty of them and two processors that is half a minute.
const TIME: Duration = Duration::from_secs(2);

fn main() -> ExitCode {
    // What panics is caught, and told once.
    std::panic::set_hook(Box::new(|_| {}));
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("fuzz");
    let left = Mutex::new(targets::all());
    let findings = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..available_parallelism().map_or(2, |n| n.get()).min(8) {
            scope.spawn(|| {
                while let Some(target) = { left.lock().expect("whole").pop() } {
                    let told = run(&target, &[], TIME, 1, &folder);
                    println!(
                        "{:10} {:8} tries, {:4} ways, {} findings",
                        target.name,
                        told.tries,
                        told.ways,
                        told.findings.len()
                    );
                    let mut all = findings.lock().expect("whole");
                    all.extend(
                        told.findings
                            .iter()
                            .map(|f| format!("{}: {f}", target.name)),
                    );
                }
            });
        }
    });
    let findings = findings.into_inner().expect("whole");
    findings.iter().for_each(|finding| println!("{finding}"));
    match findings.is_empty() {
        true => ExitCode::SUCCESS,
        false => ExitCode::FAILURE,
    }
}
