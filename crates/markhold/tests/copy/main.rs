//! `markhold copy` as a script sees it: text, talk and exit codes.
#![allow(missing_docs, reason = "tests")]

#[path = "../common/mod.rs"]
mod common;
mod refused;
mod text;

use common::*;

/// Noise as under a good signal.
const NOISE: &[&str] = &["--es-n0", "22"];

const TEXT: &str = "CQ CQ DE Q1ABC\nTHE NET MEETS AT 1930 ON 3587 KHZ.\nGOOD EVENING (ALL)\n";
