//! What the system and the database refuse, in words for a person who is tired.
//!
//! Each is half a sentence, such as "the disk is full; make room on it", that stands well after
//! a colon.

use rusqlite::ErrorCode;
use std::io::{self, ErrorKind};

/// Why the system refused to read or write a file.
pub fn io_words(error: &io::Error) -> String {
    let words = match error.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => "the disk is full; make room on it",
        ErrorKind::ReadOnlyFilesystem => "the disk may only be read; name a folder on another one",
        ErrorKind::PermissionDenied => "access is denied; ask its owner, or name another folder",
        ErrorKind::NotFound => "there is no such file or folder; check the name",
        ErrorKind::AlreadyExists => "it is there already and is not written over; name another",
        ErrorKind::IsADirectory => "this is a folder, a file was expected; name a file",
        ErrorKind::NotADirectory => {
            "a file stands where a folder was expected; name another folder"
        }
        ErrorKind::InvalidFilename => "the system allows no such name; use a shorter, plain one",
        ErrorKind::FileTooLarge => "the disk takes no file of this size; name another disk",
        // In words of our own.
        ErrorKind::TimedOut if error.get_ref().is_some() => return error.to_string(),
        _ => return format!("the disk or the system failed ({})", detail(error)),
    };
    words.to_string()
}

/// What the system says itself, without the number that it is known by.
fn detail(error: &io::Error) -> String {
    let text = error.to_string();
    match text.find(" (os error") {
        Some(end) => text[..end].to_lowercase(),
        None => text,
    }
}

/// Why the database refused.
pub fn database_words(error: &rusqlite::Error) -> String {
    let words = match error.sqlite_error_code() {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            "the archive is locked by another program"
        }
        Some(ErrorCode::DiskFull) => "the disk is full; make room on it",
        Some(ErrorCode::ReadOnly) => "the archive may only be read, not written",
        Some(ErrorCode::PermissionDenied) => "access to the archive is denied",
        Some(ErrorCode::CannotOpen) => "the archive cannot be opened; may its folder be written?",
        Some(ErrorCode::SystemIoFailure) => "the disk failed while the archive was read or written",
        Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => "the archive is damaged",
        Some(ErrorCode::TooBig | ErrorCode::OutOfMemory) => "there is not enough memory",
        _ => return format!("the archive cannot be used ({error})"),
    };
    words.to_string()
}

/// Whether the database says that its file is damaged, or is no database at all.
pub(crate) fn is_damage(error: &rusqlite::Error) -> bool {
    matches!(
        error.sqlite_error_code(),
        Some(ErrorCode::NotADatabase | ErrorCode::DatabaseCorrupt)
    )
}

/// Whether another program holds the archive for now.
pub(crate) fn is_busy(error: &rusqlite::Error) -> bool {
    matches!(
        error.sqlite_error_code(),
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked)
    )
}

/// Text with control characters written out, so that a name cannot work a terminal: a new line
/// as `\n`, anything else as `\u{1b}`.
pub fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        // Marks of direction turn a line around as well.
        let turns = matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
        match c.is_control() || turns {
            true => out.extend(c.escape_default()),
            false => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_number_of_the_system_reaches_a_person() {
        for number in 1..134 {
            let words = io_words(&io::Error::from_raw_os_error(number));
            assert!(!words.contains("os error"), "{number}: {words}");
        }
        let full = io_words(&io::Error::from_raw_os_error(28));
        assert_eq!(full, "the disk is full; make room on it");
    }

    #[test]
    fn a_full_disk_is_no_lock() {
        let said = |code| {
            let error = rusqlite::ffi::Error::new(code);
            database_words(&rusqlite::Error::SqliteFailure(error, None))
        };
        assert!(said(13).contains("full") && !said(13).contains("another program"));
        assert!(said(5).contains("locked by another program"));
        assert!(said(11).contains("damaged") && said(26).contains("damaged"));
        assert!(said(8).contains("only be read"));
    }

    #[test]
    fn names_work_no_terminal() {
        assert_eq!(
            plain("Müller's \u{1b}[2Jset\n"),
            "Müller's \\u{1b}[2Jset\\n"
        );
        assert_eq!(plain("a\u{202e}b\u{9b}"), "a\\u{202e}b\\u{9b}");
    }
}
