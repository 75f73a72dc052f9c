//! Tables of the reference page.

use std::fmt::Write;

/// A row of a table.
pub fn row_of(out: &mut String, cells: &[&str]) {
    let _ = writeln!(out, "| {} |", cells.join(" | "));
}
