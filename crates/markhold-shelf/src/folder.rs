//! The folder of an evening's sound, and the mark that it is being kept.

use super::{SOUND, schema};
use jiff::Timestamp;
use std::fs::{File, TryLockError};
use std::io::{self, ErrorKind};
use std::path::{Component, Path, PathBuf};

/// Locked in an evening's folder for as long as it is kept; the system unlocks it however
/// the program ends.
pub(super) const LOCK: &str = "being-kept";

/// The folder of an evening that began then, unless there is one of that name.
pub(super) fn usual(place: &Path, begin: Timestamp) -> PathBuf {
    let name = begin.strftime("%Y-%m-%d-%H%M%SZ").to_string();
    place.join(SOUND).join(name)
}

/// Makes the evening's folder, under a name that no folder has.
pub(super) fn make(place: &Path, begin: Timestamp) -> io::Result<PathBuf> {
    std::fs::create_dir_all(place.join(SOUND))?;
    let usual = usual(place, begin);
    let mut k = 1;
    loop {
        let folder = match k {
            1 => usual.clone(),
            k => schema::beside(&usual, &format!("-{k}")),
        };
        match std::fs::create_dir(&folder) {
            Err(error) if error.kind() == ErrorKind::AlreadyExists => k += 1,
            other => return other.map(|()| folder),
        }
    }
}

/// Whether a folder's name is one that [`make`] gives.
pub(super) fn is_ours(name: &str) -> bool {
    let shape = "0000-00-00-000000Z";
    let Some((stamp, rest)) = name.split_at_checked(shape.len()) else {
        return false;
    };
    let fits = |(c, s): (char, char)| if s == '0' { c.is_ascii_digit() } else { c == s };
    let numbered = rest
        .strip_prefix('-')
        .is_some_and(|k| k.parse::<u32>().is_ok());
    stamp.chars().zip(shape.chars()).all(fits) && (rest.is_empty() || numbered)
}

/// A file that the archive names, in the folder of an evening; `None` where the names lead
/// anywhere else.
pub(super) fn inside(place: &Path, folder: &str, file: &str) -> Option<PathBuf> {
    let is_name = |name: &str| {
        let mut parts = Path::new(name).components();
        matches!(parts.next(), Some(Component::Normal(part)) if part == name)
            && parts.next().is_none()
    };
    (is_name(folder) && is_name(file)).then(|| place.join(SOUND).join(folder).join(file))
}

/// Whether a file of its own stands there: no pipe, which would be waited for without end, and
/// no link to elsewhere.
pub(super) fn is_file(path: &Path) -> bool {
    std::fs::symlink_metadata(path).is_ok_and(|about| about.is_file())
}

/// Marks the folder of an evening as being kept, for as long as the file is held.
pub(super) fn lock(folder: &Path) -> io::Result<File> {
    let file = File::options()
        .write(true)
        .create_new(true)
        .open(folder.join(LOCK))?;
    // Where the file system knows no locks, another program may end the evening early;
    // the keeper's own words then win.
    let _ = file.try_lock();
    Ok(file)
}

/// Takes the mark away.
pub(super) fn unlock(folder: &Path, lock: File) {
    drop(lock);
    let _ = std::fs::remove_file(folder.join(LOCK));
}

/// Whether a program that still runs keeps the evening.
pub(super) fn is_being_kept(folder: &Path) -> bool {
    let path = folder.join(LOCK);
    let lock = is_file(&path).then(|| File::open(path).map(|file| file.try_lock()));
    matches!(lock, Some(Ok(Err(TryLockError::WouldBlock))))
}

/// Which file stands at a path, to see when it is another one: the system's own name of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Mark(u64, u64);

/// The mark of what stands there; `None` where nothing does, or the system gives no marks.
#[cfg(unix)]
pub(super) fn mark(path: &Path) -> Option<Mark> {
    use std::os::unix::fs::MetadataExt;
    let about = std::fs::symlink_metadata(path).ok()?;
    Some(Mark(about.dev(), about.ino()))
}

/// As above; here only whether anything stands there.
#[cfg(not(unix))]
pub(super) fn mark(path: &Path) -> Option<Mark> {
    path.exists().then_some(Mark(0, 0))
}

/// Whether a file still stands there that bore this mark when it was opened and is open since.
/// A disk that does not answer has not lost it: writing tells.
pub(super) fn stands(path: &Path, marked: Option<Mark>) -> bool {
    match std::fs::symlink_metadata(path) {
        Ok(_) => marked.is_none() || mark(path) == marked,
        Err(error) => !matches!(error.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_lead_elsewhere_are_refused() {
        let place = Path::new("/shelf");
        let good = inside(place, "2026-03-21-193005Z", "0001-193005Z.wav");
        assert_eq!(
            good,
            Some(PathBuf::from(
                "/shelf/sound/2026-03-21-193005Z/0001-193005Z.wav"
            ))
        );
        for (folder, file) in [
            ("..", "markhold.sqlite"),
            ("a", "../../letter"),
            ("/etc", "passwd"),
            ("a", "/etc/passwd"),
            ("a/b", "c"),
            ("", "x"),
            ("a", "."),
            ("a", "b/"),
        ] {
            assert_eq!(inside(place, folder, file), None, "{folder:?} {file:?}");
        }
    }

    #[test]
    fn our_own_names_are_known() {
        let folder = tempfile::tempdir().unwrap();
        let begin = "2026-03-21T19:30:05.25Z".parse().unwrap();
        for _ in 0..3 {
            let made = make(folder.path(), begin).unwrap();
            assert!(
                is_ours(made.file_name().unwrap().to_str().unwrap()),
                "{made:?}"
            );
        }
        for other in [
            "holiday",
            "2026-03-21-193005",
            "2026-03-21-193005Z-x",
            "2026-03-21-193005Zé",
        ] {
            assert!(!is_ours(other), "{other}");
        }
    }
}
