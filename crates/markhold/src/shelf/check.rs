//! `markhold shelf check`.

use super::options::Check;
use crate::outcome::{Outcome, say};
use markhold_shelf::{Checked, Shelf};
use std::io::stdout;
use std::path::PathBuf;

pub fn run(shelf: &Shelf, check: &Check) -> anyhow::Result<Outcome> {
    let found = shelf.check()?;
    if check.json {
        super::object::line(&mut stdout().lock(), &object(&found))?;
    }
    let shown = |path: &PathBuf| path.display().to_string();
    let all = [
        told("damaged", found.damage.clone()),
        told("missing", found.missing.iter().map(shown)),
        told(
            "unsound",
            found
                .unsound
                .iter()
                .map(|(path, why)| format!("{}: {why}", shown(path))),
        ),
        told("leads out of the shelf, not followed", found.astray.clone()),
        told(
            "not of the shelf, left alone",
            found.foreign.iter().map(shown),
        ),
        told("not looked at", found.unseen.clone()),
    ];
    all.iter().flatten().for_each(|line| say(line));
    if !found.is_well() {
        return Ok(Outcome::Failed);
    }
    let place = shelf.place().display();
    say(&format!(
        "the archive in {place} is sound, and so is all that is kept beside it"
    ));
    Ok(Outcome::Done)
}

fn told(what: &str, found: impl IntoIterator<Item = String>) -> Vec<String> {
    found
        .into_iter()
        .map(|line| format!("{what}: {line}"))
        .collect()
}

fn object(found: &Checked) -> serde_json::Value {
    let names = |paths: &[PathBuf]| -> Vec<String> {
        paths
            .iter()
            .map(|path| path.display().to_string())
            .collect()
    };
    let unsound = found
        .unsound
        .iter()
        .map(|(path, why)| serde_json::json!({ "file": path.display().to_string(), "why": why }));
    serde_json::json!({
        "type": "check",
        "damage": found.damage,
        "missing": names(&found.missing),
        "unsound": unsound.collect::<Vec<_>>(),
        "astray": found.astray,
        "foreign": names(&found.foreign),
        "unseen": found.unseen,
    })
}
