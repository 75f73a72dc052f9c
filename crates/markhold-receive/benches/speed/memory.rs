//! Peak memory while hours of sound go through a receiver.
//!
//! Each length runs in a process of its own, which this one starts: a peak is never
//! taken back.

use crate::document;
use crate::sound::Sound;
use markhold_air::Air;
use markhold_receive::{Receiver, Settings};
use std::process::Command;

/// The argument that makes a process of its own stream; the hours follow.
pub const STREAM: &str = "--stream";
/// Most that may be resident, MB.
const MOST_MB: f64 = 100.0;
/// How much more the longer one may take and still count as the same, MB: the pages an
/// allocator happens to touch.
const SAME_MB: f64 = 2.0;
const SAMPLE_RATE: u32 = 8000;
const SECONDS_PER_HOUR: f64 = 3600.0;

/// The table: a tenth of `longer` hours and all of them.
pub fn table(longer: f64) -> Result<String, String> {
    let peaks = [longer / 10.0, longer].map(|hours| (hours, peak_mb(hours)));
    let mut lines = vec![
        "| hours of sound | peak resident memory, MB | target | |".to_string(),
        "| ---: | ---: | --- | --- |".to_string(),
    ];
    let mut first_mb = None;
    for (hours, peak) in peaks {
        let peak = peak?;
        let same = peak <= *first_mb.get_or_insert(peak) + SAME_MB;
        let verdict = if peak <= MOST_MB && same {
            "met"
        } else {
            "**missed**"
        };
        lines.push(format!(
            "| {hours} | {peak:.1} | at most {MOST_MB}, the same for both | {verdict} |"
        ));
    }
    Ok(format!(
        "{}\n\nA bulletin at 12 dB, made and copied in blocks at {SAMPLE_RATE} samples a second; \
         the whole process, {}.",
        lines.join("\n"),
        document::machine()
    ))
}

/// Runs this program again, which prints its peak.
fn peak_mb(hours: f64) -> Result<f64, String> {
    let program = std::env::current_exe().map_err(|e| format!("this program's path: {e}"))?;
    let done = Command::new(&program)
        .args([STREAM, &hours.to_string()])
        .output()
        .map_err(|e| format!("{}: {e}", program.display()))?;
    let said = String::from_utf8_lossy(&done.stdout);
    said.trim().parse().map_err(|_| {
        let errors = String::from_utf8_lossy(&done.stderr);
        format!("{hours} hours gave no peak: {said} {errors}")
    })
}

/// Streams sound through a receiver and prints the peak of this process, MB.
pub fn stream(hours: f64) -> Result<(), String> {
    let scene = Sound::Bulletin(12.0).scene(hours * SECONDS_PER_HOUR);
    let mut air = Air::new(scene, SAMPLE_RATE).map_err(|e| e.to_string())?;
    let settings = Settings::default();
    let receiver = Receiver::new(f64::from(SAMPLE_RATE), settings);
    let mut receiver = receiver.map_err(|e| e.to_string())?;
    let mut block = vec![0.0; SAMPLE_RATE as usize / 4];
    let mut events = 0_usize;
    loop {
        let count = air.fill(&mut block);
        if count == 0 {
            break;
        }
        receiver.process(&block[..count], &mut |_| events += 1);
    }
    receiver.finish(&mut |_| events += 1);
    std::hint::black_box(events);
    println!("{}", own_peak_mb()?);
    Ok(())
}

/// Peak resident set of this process, MB of 10^6 bytes; `VmHWM` in proc(5).
fn own_peak_mb() -> Result<f64, String> {
    let path = "/proc/self/status";
    let status = std::fs::read_to_string(path).map_err(|e| format!("{path}: {e}"))?;
    status
        .lines()
        .find_map(|l| {
            l.strip_prefix("VmHWM:")?
                .trim()
                .strip_suffix(" kB")?
                .parse()
                .ok()
        })
        .map(|kibibytes: f64| kibibytes * 1024.0 / 1e6)
        .ok_or_else(|| format!("{path} has no VmHWM in kB"))
}
