//! The figures in docs/performance.md: a block between two marks, written by its bench.

use std::path::PathBuf;

/// Replaces what stands between `<!-- NAME:begin -->` and `<!-- NAME:end -->`.
///
/// # Errors
///
/// A sentence that says what is missing.
pub fn write(name: &str, block: &str) -> Result<(), String> {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../docs/performance.md");
    let shown = path.display();
    let text = std::fs::read_to_string(&path).map_err(|e| format!("{shown}: {e}"))?;
    let marks = [
        format!("<!-- {name}:begin -->"),
        format!("<!-- {name}:end -->"),
    ];
    let between = text
        .split_once(&marks[0])
        .and_then(|(before, rest)| Some((before, rest.split_once(&marks[1])?.1)));
    let Some((before, after)) = between else {
        return Err(format!(
            "{shown} lacks the lines {} and {}",
            marks[0], marks[1]
        ));
    };
    let written = format!("{before}{}\n{block}\n{}{after}", marks[0], marks[1]);
    std::fs::write(&path, written).map_err(|e| format!("{shown}: {e}"))
}

/// What the figures were made on and with: processor, cores, commit where they can be told.
pub fn machine() -> String {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let information = std::fs::read_to_string("/proc/cpuinfo").unwrap_or_default();
    let model = information
        .lines()
        .find_map(|l| l.strip_prefix("model name")?.split_once(": "))
        .map_or(std::env::consts::ARCH, |(_, model)| model.trim());
    format!("{cores} cores of {model}")
}
