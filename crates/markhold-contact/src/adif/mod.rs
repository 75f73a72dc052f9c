//! ADIF 3 in its form for files, ADI: `<CALL:5>Q2HLR<MODE:4>RTTY<EOR>`.
//!
//! By the published ADIF specification, version 3.1.7 of 22 March 2026 (its resource files were
//! read; the grammar of ADI is from memory of it): a field is `<NAME:LENGTH>` or
//! `<NAME:LENGTH:TYPE>` and so many characters; what stands between fields is nobody's; `<EOR>`
//! ends a record; a file that does not begin with `<` has a header up to `<EOH>`. Names and tags
//! may be in capitals or not. Characters are those of ASCII from 32 to 126.

mod read;
mod write;

pub use read::{Read, Trouble, read};
pub use write::{HEADER, write};

/// One record: its fields in order, names in capitals.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Record(Vec<(String, String)>);

impl Record {
    /// Adds a field, or puts another value in the place of the first of this name.
    pub fn put(&mut self, name: &str, value: &str) {
        let name = name.to_ascii_uppercase();
        match self.0.iter_mut().find(|(known, _)| *known == name) {
            Some((_, known)) => *known = value.into(),
            None => self.0.push((name, value.into())),
        }
    }

    /// The value of a field; its name in any case.
    pub fn get(&self, name: &str) -> Option<&str> {
        let same = |(known, _): &&(String, String)| known.eq_ignore_ascii_case(name);
        self.0.iter().find(same).map(|(_, value)| value.as_str())
    }

    /// All fields in order.
    pub fn fields(&self) -> &[(String, String)] {
        &self.0
    }

    /// Whether it has no field.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}
