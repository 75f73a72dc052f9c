//! All contacts of a station, in one ADIF file.
//!
//! The file is only ever added to, each contact put on the disk before it counts as kept; what a
//! power cut left of one that was being added is cut off. Taking one out writes the file anew.

use crate::adif::{self, HEADER, Record, Trouble};
use crate::contact::{Contact, ContactError};
use serde::Serialize;
use std::fs::File;
use std::io::{ErrorKind, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// The file in the folder.
const FILE: &str = "contacts.adi";
/// Most bytes that are read: a quarter of a million contacts.
const MOST_BYTES: u64 = 64 << 20;

/// Why the log cannot be had.
#[derive(Debug, thiserror::Error)]
pub enum LogError {
    /// The file.
    #[error("{}: {error}", path.display())]
    File {
        /// Which.
        path: PathBuf,
        /// What the system says.
        error: std::io::Error,
    },
    /// No contact.
    #[error(transparent)]
    Contact(#[from] ContactError),
    /// Longer than any log.
    #[error("{} is longer than 64 MiB; a log was expected", path.display())]
    TooLong {
        /// Which.
        path: PathBuf,
    },
    /// What is there is no log; nothing is written into it.
    #[error("{} cannot be read as ADIF: {trouble}; move it away", path.display())]
    Damaged {
        /// Which.
        path: PathBuf,
        /// What is wrong.
        trouble: Trouble,
    },
    /// No such contact.
    #[error("there is no contact {number}; there are {count}")]
    NoContact {
        /// What was asked for.
        number: usize,
        /// How many there are.
        count: usize,
    },
}

/// The log in a folder.
#[derive(Clone, Debug)]
pub struct Log {
    path: PathBuf,
}

/// A contact of the log.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Kept {
    /// Its place, counted from 1.
    pub number: usize,
    /// The contact.
    #[serde(flatten)]
    pub contact: Contact,
    /// The place of an earlier contact with the same station on the same band in the same mode.
    pub worked_before: Option<usize>,
}

impl Log {
    /// The log in this folder, which need not be there before something is kept.
    pub fn in_folder(folder: &Path) -> Self {
        Log {
            path: folder.join(FILE),
        }
    }

    /// All contacts, and what of the file is none.
    ///
    /// # Errors
    ///
    /// The file cannot be read.
    pub fn all(&self) -> Result<(Vec<Kept>, Vec<String>), LogError> {
        let (contacts, troubles) = contacts(&adif::read(&self.bytes()?));
        Ok((doubles(contacts), troubles))
    }

    /// How many contacts there have been, for the next one's number.
    ///
    /// # Errors
    ///
    /// The file cannot be read.
    pub fn count(&self) -> Result<usize, LogError> {
        Ok(adif::read(&self.bytes()?).records.len())
    }

    /// Keeps a contact; it is on the disk then.
    ///
    /// # Errors
    ///
    /// It is none; the file cannot be written.
    pub fn add(&self, contact: Contact) -> Result<Contact, LogError> {
        let contact = contact.checked()?;
        self.append(&[contact.record()])?;
        Ok(contact)
    }

    /// Takes in the contacts of an ADIF file but those that are there already: same station, same
    /// minute. How many were new, how many known, and what could not be taken.
    ///
    /// # Errors
    ///
    /// The log cannot be read or written.
    pub fn import(&self, bytes: &[u8]) -> Result<(usize, usize, Vec<String>), LogError> {
        let (known, _) = contacts(&adif::read(&self.bytes()?));
        let (given, troubles) = contacts(&adif::read(bytes));
        let mut seen: std::collections::HashSet<_> = known.iter().map(name).collect();
        let count = given.len();
        let new = given
            .into_iter()
            .filter(|contact| seen.insert(name(contact)));
        let new: Vec<Record> = new.map(|contact| contact.record()).collect();
        if !new.is_empty() {
            self.append(&new)?;
        }
        Ok((new.len(), count - new.len(), troubles))
    }

    /// Everything as one ADIF file.
    ///
    /// # Errors
    ///
    /// The log cannot be read.
    pub fn export(&self) -> Result<String, LogError> {
        let (contacts, _) = contacts(&adif::read(&self.bytes()?));
        Ok(whole(
            &contacts.iter().map(Contact::record).collect::<Vec<_>>(),
        ))
    }

    /// Takes a contact out, and gives it.
    ///
    /// # Errors
    ///
    /// There is no such one; the file cannot be written.
    pub fn remove(&self, number: usize) -> Result<Contact, LogError> {
        let mut file = self.open()?;
        let mut read = adif::read(&self.bytes_of(&mut file)?);
        let (contacts, _) = contacts(&read);
        let count = contacts.len();
        let contact = number
            .checked_sub(1)
            .and_then(|at| contacts.into_iter().nth(at));
        let contact = contact.ok_or(LogError::NoContact { number, count })?;
        // Records that are no contacts stay where they are.
        let mut nth = 0;
        read.records.retain(|record| {
            nth += usize::from(Contact::of_record(record).is_ok());
            nth != number || Contact::of_record(record).is_err()
        });
        self.replace(&whole(&read.records))?;
        Ok(contact)
    }

    fn error(&self, error: std::io::Error) -> LogError {
        let path = self.path.clone();
        LogError::File { path, error }
    }

    fn bytes(&self) -> Result<Vec<u8>, LogError> {
        match File::open(&self.path) {
            Ok(mut file) => self.bytes_of(&mut file),
            Err(error) if error.kind() == ErrorKind::NotFound => Ok(Vec::new()),
            Err(error) => Err(self.error(error)),
        }
    }

    fn bytes_of(&self, file: &mut File) -> Result<Vec<u8>, LogError> {
        let mut bytes = Vec::new();
        let read = file.take(MOST_BYTES + 1).read_to_end(&mut bytes);
        read.map_err(|error| self.error(error))?;
        match bytes.len() as u64 > MOST_BYTES {
            true => Err(LogError::TooLong {
                path: self.path.clone(),
            }),
            false => Ok(bytes),
        }
    }

    /// The file, held against other programs that write.
    fn open(&self) -> Result<File, LogError> {
        let open = || {
            if let Some(folder) = self.path.parent() {
                std::fs::create_dir_all(folder)?;
            }
            let mut options = File::options();
            let file = options.read(true).write(true).create(true).truncate(false);
            let file = file.open(&self.path)?;
            file.lock()?;
            Ok(file)
        };
        open().map_err(|error| self.error(error))
    }

    fn append(&self, records: &[Record]) -> Result<(), LogError> {
        let mut file = self.open()?;
        let bytes = self.bytes_of(&mut file)?;
        let read = adif::read(&bytes);
        if let Some(trouble) = read
            .troubles
            .into_iter()
            .find(|t| *t == Trouble::NoHeaderEnd)
        {
            let path = self.path.clone();
            return Err(LogError::Damaged { path, trouble });
        }
        let mut text = match bytes.is_empty() {
            true => HEADER.to_string(),
            false => "\n".to_string(),
        };
        text.extend(records.iter().map(adif::write));
        let mut put = || {
            // What a power cut left of a record would swallow this one.
            file.set_len(read.whole as u64)?;
            file.seek(SeekFrom::End(0))?;
            file.write_all(text.as_bytes())?;
            file.sync_data()
        };
        put().map_err(|error| self.error(error))
    }

    /// Whole or not at all.
    fn replace(&self, text: &str) -> Result<(), LogError> {
        let beside = self.path.with_extension("adi.new");
        let put = || {
            let mut file = File::create(&beside)?;
            file.write_all(text.as_bytes())?;
            file.sync_data()?;
            std::fs::rename(&beside, &self.path)
        };
        put().map_err(|error| self.error(error))
    }
}

fn whole(records: &[Record]) -> String {
    let records = records.iter().map(adif::write);
    std::iter::once(HEADER.to_string()).chain(records).collect()
}

/// What makes two records the same contact.
fn name(contact: &Contact) -> (String, i64) {
    (
        contact.call.clone(),
        contact.begin.as_second().div_euclid(60),
    )
}

fn contacts(read: &adif::Read) -> (Vec<Contact>, Vec<String>) {
    let mut troubles: Vec<String> = read.troubles.iter().map(ToString::to_string).collect();
    let mut contacts = Vec::new();
    for (number, record) in (1..).zip(&read.records) {
        match Contact::of_record(record) {
            Ok(contact) => contacts.push(contact),
            Err(why) => troubles.push(format!("record {number}: {why}")),
        }
    }
    (contacts, troubles)
}

fn doubles(contacts: Vec<Contact>) -> Vec<Kept> {
    let mut kept: Vec<Kept> = Vec::with_capacity(contacts.len());
    for (number, contact) in (1..).zip(contacts) {
        let worked_before = worked_before(&kept, &contact);
        kept.push(Kept {
            number,
            contact,
            worked_before,
        });
    }
    kept
}

/// The place of the latest of these with the same station in the same mode on the same band, a
/// band that is not known being none.
pub fn worked_before(kept: &[Kept], contact: &Contact) -> Option<usize> {
    let same = |other: &&Kept| {
        let other = &other.contact;
        other.call == contact.call && other.mode == contact.mode && other.band() == contact.band()
    };
    kept.iter().rev().find(same).map(|other| other.number)
}

#[cfg(test)]
#[path = "log_tests.rs"]
mod tests;
