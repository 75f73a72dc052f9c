//! The shelf's folder: whether it takes what is kept, and how much.

use super::finding::{Finding, Part, Verdict};
use markhold_shelf::{Disk, KeepSettings, LocalDisk, Shelf, io_words};
use std::io;
use std::path::{Path, PathBuf};

/// Bytes of an hour of sound at 48 kHz, 16 bits.
const HOUR: f64 = 48_000.0 * 2.0 * 3600.0;

/// Looks at the disk. What is on the shelf itself is looked at by `markhold shelf check`.
pub fn look(place: &Path, keep: &KeepSettings) -> Finding {
    let name = place.display().to_string();
    let Some(folder) = there(place) else {
        let finding = Finding::good(Part::Shelf, "there is no such place").of(name);
        return finding.but(Verdict::Wrong, "name another folder (--shelf DIR)");
    };
    if let Err(error) = takes_files(&folder) {
        let finding = Finding::good(Part::Shelf, io_words(&error)).of(name);
        let cure = "give this user the folder, or name another one (--shelf DIR)";
        return finding.but(Verdict::Wrong, cure);
    }
    let kept = kept_bytes(place);
    told(LocalDisk.free_bytes(&folder), kept, keep).of(name)
}

/// The folder, or the nearest one above it that is there: it is made at the first evening.
fn there(place: &Path) -> Option<PathBuf> {
    let whole = std::path::absolute(place).ok()?;
    whole
        .ancestors()
        .find(|folder| folder.is_dir())
        .map(PathBuf::from)
}

/// Makes a file and removes it: rights, quotas and disks that only read differ in how they say no.
fn takes_files(folder: &Path) -> io::Result<()> {
    let file = folder.join(format!(".markhold-check-{}", std::process::id()));
    std::fs::write(&file, b"markhold check\n")?;
    std::fs::remove_file(&file)
}

/// Bytes of sound that are on the shelf.
fn kept_bytes(place: &Path) -> u64 {
    let evenings = Shelf::open(place).and_then(|shelf| shelf.evenings(None, None, usize::MAX));
    evenings.map_or(0, |all| all.iter().map(|evening| evening.sound_bytes).sum())
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
        let finding = look(&folder.path().join("a/b"), &KeepSettings::default());
        assert_ne!(finding.verdict, Verdict::Wrong, "{finding}");
        let left = std::fs::read_dir(folder.path()).expect("a folder").count();
        assert_eq!(left, 0, "nothing is left behind");
    }
}
