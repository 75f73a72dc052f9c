//! `markhold shelf check`.

use super::options::Check;
use crate::outcome::{Outcome, say};
use markhold_shelf::Shelf;
use std::io::stdout;
use std::path::PathBuf;

pub fn run(shelf: &Shelf, check: &Check) -> anyhow::Result<Outcome> {
    let found = shelf.check()?;
    if check.json {
        let names = |paths: &[PathBuf]| -> Vec<String> {
            paths
                .iter()
                .map(|path| path.display().to_string())
                .collect()
        };
        let object = serde_json::json!({
            "type": "check",
            "damage": found.damage,
            "missing": names(&found.missing),
            "foreign": names(&found.foreign),
        });
        super::object::line(&mut stdout().lock(), &object)?;
    }
    found
        .damage
        .iter()
        .for_each(|line| say(&format!("damaged: {line}")));
    found
        .missing
        .iter()
        .for_each(|path| say(&format!("missing: {}", path.display())));
    let foreign =
        |path: &PathBuf| say(&format!("not of the shelf, left alone: {}", path.display()));
    found.foreign.iter().for_each(foreign);
    match found.damage.is_empty() && found.missing.is_empty() {
        true => {
            say(&format!(
                "the archive in {} is sound",
                shelf.place().display()
            ));
            Ok(Outcome::Done)
        }
        false => Ok(Outcome::Failed),
    }
}
