//! Whether the archive is sound and agrees with the files beside it.

use super::{SOUND, Segment, Shelf, ShelfError, database_words, folder, notes};
use markhold_sound::{ReadOptions, SoundReader};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// What a check found.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Checked {
    /// What the database says against itself; empty where all is well.
    pub damage: Vec<String>,
    /// Sound files that the archive knows and that are not there.
    pub missing: Vec<PathBuf>,
    /// Sound files that cannot be read to their end as they were kept, and why.
    pub unsound: Vec<(PathBuf, String)>,
    /// Names in the archive that lead out of the folder of the sound. They are never followed.
    pub astray: Vec<String>,
    /// Files and folders beside the sound that are not of the shelf. They are never touched.
    pub foreign: Vec<PathBuf>,
    /// What could not be looked at, in words.
    pub unseen: Vec<String>,
}

impl Checked {
    /// Whether nothing is wrong with what the shelf keeps.
    pub fn is_well(&self) -> bool {
        self.damage.is_empty()
            && self.missing.is_empty()
            && self.unsound.is_empty()
            && self.astray.is_empty()
    }
}

impl Shelf {
    /// Checks the database's structure, the index of words, and the files, which are read from
    /// beginning to end.
    pub fn check(&self) -> Result<Checked, ShelfError> {
        let mut checked = Checked::default();
        let mut query = self.archive().prepare("PRAGMA integrity_check")?;
        let found = query.query_map([], |row| row.get::<_, String>(0))?;
        for line in found {
            checked.damage.push(line?);
        }
        checked.damage.retain(|line| line != "ok");
        self.check_words(&mut checked);
        self.check_files(&mut checked)?;
        Ok(checked)
    }

    /// Compares the index with the closed lines, which says so by an error. It counts as writing.
    fn check_words(&self, checked: &mut Checked) {
        if self.only_read() {
            let why = "the index of words is not checked: the archive may only be read";
            checked.unseen.push(why.to_string());
            return;
        }
        let words = "INSERT INTO words (words, rank) VALUES ('integrity-check', 1)";
        if let Err(error) = self.archive().execute(words, []) {
            let why = format!("index of words: {}", database_words(&error));
            checked.damage.push(why);
        }
    }

    fn check_files(&self, checked: &mut Checked) -> Result<(), ShelfError> {
        let mut query = self.archive().prepare(
            "SELECT e.folder, s.number, s.file, s.begin_s, s.rate, s.samples, e.end_ms IS NULL
             FROM segments s JOIN evenings e ON e.id = s.evening
             WHERE s.removed_ms IS NULL AND s.samples > 0",
        )?;
        let mut rows = query.query([])?;
        let mut known = BTreeSet::new();
        while let Some(row) = rows.next()? {
            let (name, being_kept): (String, bool) = (row.get(0)?, row.get(6)?);
            let segment = Segment {
                number: row.get(1)?,
                file: row.get(2)?,
                begin_s: row.get(3)?,
                rate: row.get(4)?,
                samples: row.get::<_, i64>(5)? as u64,
            };
            let Some(path) = folder::inside(self.place(), &name, &segment.file) else {
                checked.astray.push(format!("{name}/{}", segment.file));
                continue;
            };
            check_file(&path, &segment, being_kept, checked);
            known.insert(path);
        }
        let folders = entries(&self.place().join(SOUND));
        let is_folder = |path: &Path| std::fs::symlink_metadata(path).is_ok_and(|a| a.is_dir());
        let files = folders.iter().flat_map(|path| match is_folder(path) {
            true => entries(path),
            false => vec![path.clone()],
        });
        let own = |path: &PathBuf| path.ends_with(folder::LOCK) || path.ends_with(notes::NOTES);
        checked.foreign = files
            .filter(|path| !known.contains(path) && !own(path))
            .collect();
        Ok(())
    }
}

fn check_file(path: &Path, segment: &Segment, being_kept: bool, checked: &mut Checked) {
    if std::fs::symlink_metadata(path).is_err() {
        checked.missing.push(path.to_path_buf());
        return;
    }
    let why = match (folder::is_file(path), being_kept) {
        (false, _) => Some("it is no plain file".to_string()),
        // One that is still written is longer than the archive says.
        (true, true) => None,
        (true, false) => against(path, segment),
    };
    checked
        .unsound
        .extend(why.map(|why| (path.to_path_buf(), why)));
}

/// What is wrong with a sound file, after it was read from beginning to end.
fn against(path: &Path, segment: &Segment) -> Option<String> {
    let mut sound = match SoundReader::open(path, &ReadOptions::default()) {
        Ok(sound) => sound,
        Err(error) => return Some(error.to_string()),
    };
    if sound.rate() != segment.rate {
        let (found, kept) = (sound.rate(), segment.rate);
        return Some(format!("its rate is {found} Hz, {kept} Hz were kept"));
    }
    let (mut block, mut read) = (vec![0.0; 1 << 16], 0u64);
    loop {
        match sound.read(&mut block) {
            Ok(0) => break,
            Ok(count) => read += count as u64,
            Err(error) => return Some(error.to_string()),
        }
    }
    let missing = segment.samples.saturating_sub(read);
    (missing > 0).then(|| format!("{missing} samples are missing at its end"))
}

fn entries(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return Vec::new();
    };
    let mut paths: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
    paths.sort();
    paths
}
