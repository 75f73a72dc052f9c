//! The shelf's folder: whether it takes what is kept, and how much.

use super::finding::{Finding, Part, Verdict};
use markhold_shelf::{Disk, KeepSettings, LocalDisk, Shelf, ShelfError, io_words};
use std::io;
use std::path::{Path, PathBuf};

/// Bytes of an hour of sound at 48 kHz, 16 bits.
const HOUR: f64 = 48_000.0 * 2.0 * 3600.0;

/// Looks at the disk. What is on the shelf itself is looked at by `markhold shelf check`.
pub fn look(place: &Path, keep: &KeepSettings) -> Vec<Finding> {
    let name = place.display().to_string();
    let folder = match there(place).and_then(|folder| takes_files(&folder).map(|()| folder)) {
        Ok(folder) => folder,
        Err(error) => {
            let cure = "name another folder (--shelf DIR)";
            return vec![Finding::wrong(Part::Shelf, &io_words(&error), cure).of(name)];
        }
    };
    let (kept, archive) = match kept_bytes(place) {
        Ok(bytes) => (bytes, None),
        Err(error) => (0, Some(closed(&error).of(name.clone()))),
    };
    let disk = told(LocalDisk.free_bytes(&folder), kept, keep).of(name);
    archive.into_iter().chain([disk]).collect()
}

/// An archive that does not open.
fn closed(error: &ShelfError) -> Finding {
    let finding = Finding::wrong(
        Part::Shelf,
        &error.to_string(),
        "markhold shelf check says more",
    );
    let mends = matches!(error, ShelfError::NotAnArchive { .. } | ShelfError::Held);
    match (mends, finding.cure.clone()) {
        (true, Some(cure)) => finding.but(Verdict::Remark, cure),
        _ => finding,
    }
}

/// The folder, or the nearest thing above it that is there: it is made at the first evening.
///
/// Errors: that is no folder.
fn there(place: &Path) -> io::Result<PathBuf> {
    let whole = std::path::absolute(place)?;
    let nearest = whole.ancestors().find(|above| above.exists());
    match nearest {
        Some(folder) if folder.is_dir() => Ok(folder.into()),
        Some(_) => Err(io::ErrorKind::NotADirectory.into()),
        None => Err(io::ErrorKind::NotFound.into()),
    }
}

/// Makes a file and removes it: rights, quotas and disks that only read differ in how they say no.
fn takes_files(folder: &Path) -> io::Result<()> {
    let file = folder.join(format!(".markhold-check-{}", std::process::id()));
    std::fs::write(&file, b"markhold check\n")?;
    std::fs::remove_file(&file)
}

/// Bytes of sound that are on the shelf.
fn kept_bytes(place: &Path) -> Result<u64, ShelfError> {
    match Shelf::open(place).and_then(|shelf| shelf.evenings(None, None, usize::MAX)) {
        Ok(all) => Ok(all.iter().map(|evening| evening.sound_bytes).sum()),
        Err(ShelfError::Nothing { .. }) => Ok(0),
        Err(error) => Err(error),
    }
}

fn told(free: Option<u64>, kept: u64, keep: &KeepSettings) -> Finding {
    let limit = keep.sound_bytes;
    let held = format!("{} of sound kept, at most {}", size(kept), size(limit));
    let Some(free) = free else {
        return Finding::good(
            Part::Shelf,
            format!("{held}; room on the disk is not known"),
        );
    };
    let usable = free.saturating_sub(keep.spare_bytes);
    let room = usable.min(limit.saturating_sub(kept));
    let finding = Finding::good(
        Part::Shelf,
        format!(
            "{held}; {} free on its disk: {:.0} hours more at 48 kHz",
            size(free),
            room as f64 / HOUR
        ),
    );
    let finding = finding
        .with("free_bytes", free)
        .with("kept_bytes", kept)
        .with("limit_bytes", limit);
    if usable == 0 {
        return finding.but(
            Verdict::Wrong,
            "sound is not kept with so little room: make room, or name a folder on another disk \
             (--shelf DIR)",
        );
    }
    match kept + usable < limit {
        true => finding.but(
            Verdict::Remark,
            "the disk is full before the limit is reached, and nothing goes to make room: set \
             sound_limit in [shelf] lower, or make room",
        ),
        false => finding,
    }
}

fn size(bytes: u64) -> String {
    match bytes as f64 / (1u64 << 30) as f64 {
        gib if gib < 1.0 => format!("{:.0} MiB", gib * 1024.0),
        gib => format!("{gib:.1} GiB"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn room_is_enough_short_or_none() {
        let keep = KeepSettings::default();
        let verdict = |free, kept| told(Some(free), kept, &keep).verdict;
        assert_eq!(verdict(40 << 30, 0), Verdict::Good);
        assert_eq!(verdict(1 << 30, 20 << 30), Verdict::Good);
        assert_eq!(verdict(10 << 30, 2 << 30), Verdict::Remark);
        assert_eq!(verdict(256 << 20, 0), Verdict::Wrong);
        assert_eq!(told(None, 0, &keep).verdict, Verdict::Good);
    }

    #[test]
    fn a_folder_that_is_not_there_yet_is_looked_for_above() {
        let folder = tempfile::tempdir().expect("a folder");
        let found = look(&folder.path().join("a/b"), &KeepSettings::default());
        assert!(
            found.iter().all(|one| one.verdict != Verdict::Wrong),
            "{found:?}"
        );
        let left = std::fs::read_dir(folder.path()).expect("a folder").count();
        assert_eq!(left, 0, "nothing is left behind");
    }

    fn verdicts(place: &Path) -> Vec<(Verdict, String)> {
        let found = look(place, &KeepSettings::default()).into_iter();
        found.map(|one| (one.verdict, one.to_string())).collect()
    }

    #[test]
    fn a_file_in_the_way_is_wrong_whether_it_is_named_or_stands_above() {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("letter.txt");
        std::fs::write(&file, "dear").expect("a file");
        for place in [file.clone(), file.join("shelf")] {
            let found = verdicts(&place);
            assert_eq!((found.len(), found[0].0), (1, Verdict::Wrong), "{found:?}");
            assert!(found[0].1.contains("name another folder"), "{found:?}");
        }
    }

    #[test]
    fn a_damaged_archive_is_told_beside_the_room() {
        let folder = tempfile::tempdir().expect("a folder");
        let archive = folder.path().join("markhold.sqlite");
        std::fs::write(archive, "no archive").expect("a file");
        let found = verdicts(folder.path());
        assert_eq!((found.len(), found[0].0), (2, Verdict::Remark), "{found:?}");
        assert!(found[0].1.contains("sets it aside"), "{found:?}");
    }
}
