//! Joining on simulated copies: how much of a bulletin comes together.
//!
//! `cargo bench -p markhold-join` prints the tables; `-- NAME` only one of `steady`, `fading`,
//! `order`, `calibration`, `edits`, `speed`. All of it is seeded.
#![allow(missing_docs, reason = "a bench")]

mod air;
mod calibration;
mod edits;
mod order;
mod score;
mod speed;
mod table;
mod text;

fn main() {
    let wanted: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| !a.starts_with('-'))
        .collect();
    let parts: [(&str, fn()); 6] = [
        ("steady", table::steady),
        ("fading", table::fading),
        ("order", order::run),
        ("calibration", calibration::run),
        ("edits", edits::run),
        ("speed", speed::run),
    ];
    for (name, run) in parts {
        if wanted.is_empty() || wanted.iter().any(|w| w == name) {
            run();
        }
    }
}
