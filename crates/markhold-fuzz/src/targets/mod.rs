//! What is tried.

mod archive;
mod contacts;
mod door;
mod keyboard;
mod line;
mod model;
mod page;
mod receiver;
mod skeds;
mod sound;
mod words;

use crate::{Target, Went};
use std::hash::{DefaultHasher, Hash, Hasher};

/// Every target.
pub fn all() -> Vec<Target> {
    vec![
        archive::DETAILS,
        archive::SEARCH,
        archive::ARCHIVE,
        archive::NOTES,
        archive::KEPT_SOUND,
        contacts::ADIF,
        contacts::BLANKS,
        door::DOOR,
        door::WISH,
        keyboard::KEYBOARD,
        line::STAMPS,
        line::WAYS,
        model::MODEL,
        model::LEARNED,
        page::CODES,
        page::COPIED,
        receiver::RECEIVER,
        skeds::CALENDAR,
        skeds::SKED,
        sound::SOUND,
        sound::REPAIR,
        words::SETTINGS,
        words::EVENTS,
        words::KEY,
    ]
}

/// The target of this name.
pub fn named(name: &str) -> Option<Target> {
    all().into_iter().find(|target| target.name == name)
}

/// How it went, as a number.
fn went(how: impl Hash) -> Went {
    let mut hash = DefaultHasher::new();
    how.hash(&mut hash);
    hash.finish()
}

/// Errors are told apart into so many ways: some show more of the input than they quote, and
/// not every input is worth keeping for that.
const ERRORS: u64 = 128;

/// An error as a way to go: its words, less what it quotes and counts.
fn refused(error: impl std::fmt::Display) -> Went {
    let words = error.to_string();
    let mut parts = words.split('"');
    let mut kept = String::new();
    // What stands between quotes is the input's.
    while let Some(own) = parts.next() {
        kept.extend(own.chars().filter(char::is_ascii_alphabetic).take(60));
        parts.next();
    }
    went(kept) % ERRORS
}

/// A size, as coarse as a power of two.
fn size(count: usize) -> u32 {
    usize::BITS - count.leading_zeros()
}

fn seeds(texts: &[&str]) -> Vec<Vec<u8>> {
    texts.iter().map(|text| text.as_bytes().to_vec()).collect()
}
