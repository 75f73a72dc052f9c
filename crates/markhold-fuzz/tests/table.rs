//! docs/reliability.md names every target that there is, with its tries.
#![allow(missing_docs, reason = "tests")]

use markhold_fuzz::targets;

const PAGE: &str = include_str!("../../../docs/reliability.md");

/// Names in the first column of the table of targets.
fn named() -> Vec<&'static str> {
    let begin = PAGE.find("| target |").expect("a table of targets");
    let rows = PAGE[begin..]
        .lines()
        .take_while(|line| line.starts_with('|'));
    rows.filter_map(|row| row.split('|').nth(1))
        .flat_map(|cell| cell.split('`').skip(1).step_by(2))
        .collect()
}

#[test]
fn every_target_stands_in_the_table_and_nothing_else() {
    let mut named = named();
    let mut all: Vec<&str> = targets::all().iter().map(|target| target.name).collect();
    named.sort_unstable();
    all.sort_unstable();
    assert_eq!(named, all);
}
