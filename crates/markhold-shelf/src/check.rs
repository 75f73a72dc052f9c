//! Whether the archive is sound and agrees with the files beside it.

use super::{SOUND, Shelf, ShelfError};
use std::path::PathBuf;

/// What a check found.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Checked {
    /// What the database says against itself; empty where all is well.
    pub damage: Vec<String>,
    /// Sound files that the archive knows and that are not there.
    pub missing: Vec<PathBuf>,
    /// Files and folders beside the sound that are not of the shelf. They are never touched.
    pub foreign: Vec<PathBuf>,
}

impl Shelf {
    /// Checks the database's structure, the index of words, and the files.
    pub fn check(&self) -> Result<Checked, ShelfError> {
        let mut checked = Checked::default();
        let mut query = self.archive().prepare("PRAGMA integrity_check")?;
        let found = query.query_map([], |row| row.get::<_, String>(0))?;
        for line in found {
            checked.damage.push(line?);
        }
        checked.damage.retain(|line| line != "ok");
        // Compares the index with the closed lines; says so by an error.
        let words = "INSERT INTO words (words, rank) VALUES ('integrity-check', 1)";
        if let Err(error) = self.archive().execute(words, []) {
            checked.damage.push(format!("index of words: {error}"));
        }
        self.check_files(&mut checked)?;
        Ok(checked)
    }

    fn check_files(&self, checked: &mut Checked) -> Result<(), ShelfError> {
        let sound = self.place().join(SOUND);
        let mut query = self.archive().prepare(
            "SELECT e.folder, s.file FROM segments s JOIN evenings e ON e.id = s.evening
             WHERE s.removed_ms IS NULL",
        )?;
        let known = query.query_map([], |row| {
            Ok(sound
                .join(row.get::<_, String>(0)?)
                .join(row.get::<_, String>(1)?))
        })?;
        let known: std::collections::BTreeSet<PathBuf> = known.collect::<Result<_, _>>()?;
        checked.missing = known
            .iter()
            .filter(|path| !path.exists())
            .cloned()
            .collect();
        let folders = entries(&sound);
        let files = folders.iter().flat_map(|path| match path.is_dir() {
            true => entries(path),
            false => vec![path.clone()],
        });
        let ours = |path: &PathBuf| known.contains(path) || path.ends_with(super::folder::LOCK);
        checked.foreign = files.filter(|path| !ours(path)).collect();
        Ok(())
    }
}

fn entries(folder: &std::path::Path) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return Vec::new();
    };
    let mut paths: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
    paths.sort();
    paths
}
