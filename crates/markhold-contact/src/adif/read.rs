//! Reads ADI: any bytes whatever give records and what is wrong with them.

use super::Record;

/// Longest name of a field, bytes: the longest of the standard has 27.
const LONGEST_NAME: usize = 64;

/// What was read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Read {
    /// Whole records, in order.
    pub records: Vec<Record>,
    /// What could not be read.
    pub troubles: Vec<Trouble>,
    /// Where the last whole record ends, bytes from the start; the header's end without any.
    pub whole: usize,
}

/// Something that could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Trouble {
    /// A field goes on beyond the end.
    #[error(
        "{name} at byte {at} is to have {length} characters and only {left} follow: the file is cut off, or its length is wrong"
    )]
    CutOff {
        /// The field.
        name: String,
        /// Where its tag stands.
        at: usize,
        /// How long it is to be.
        length: u64,
        /// How much there is.
        left: usize,
    },
    /// What looks like a tag and is none.
    #[error(
        "<{found}> at byte {at} is no field of ADIF; expected a name and a length, as <CALL:5>"
    )]
    Tag {
        /// What stands there.
        found: String,
        /// Where.
        at: usize,
    },
    /// The last record has no end.
    #[error("the last record, from byte {at} on, has no <EOR>; the file may be cut off")]
    NoEnd {
        /// Where it begins.
        at: usize,
    },
    /// No end of the header.
    #[error(
        "no <EOH> ends the header, so nothing can be read; a file without a header begins with <"
    )]
    NoHeaderEnd,
}

enum Tag {
    EndOfHeader,
    EndOfRecord,
    Field { name: String, length: u64 },
}

/// Reads a file.
pub fn read(bytes: &[u8]) -> Read {
    // A mark of byte order is none of the standard's, and editors leave it.
    let begin = if bytes.starts_with(b"\xef\xbb\xbf") {
        3
    } else {
        0
    };
    let mut reader = Reader {
        bytes,
        at: begin,
        read: Read::default(),
        record: Record::default(),
        record_at: begin,
    };
    if bytes.get(begin) != Some(&b'<') && !reader.header() {
        let blank = bytes[begin..].iter().all(u8::is_ascii_whitespace);
        reader
            .read
            .troubles
            .extend((!blank).then_some(Trouble::NoHeaderEnd));
        return reader.read;
    }
    reader.read.whole = reader.at;
    reader.records();
    reader.read
}

struct Reader<'a> {
    bytes: &'a [u8],
    at: usize,
    read: Read,
    record: Record,
    record_at: usize,
}

impl Reader<'_> {
    /// Goes behind `<EOH>`; whether there is one.
    fn header(&mut self) -> bool {
        while let Some((at, tag)) = self.tag() {
            match tag {
                Some(Tag::EndOfHeader) => return true,
                // Words of a header may hold anything; fields are gone past.
                Some(Tag::Field { length, .. }) => {
                    let left = (self.bytes.len() - self.at) as u64;
                    self.at += length.min(left) as usize;
                }
                _ => self.at = at + 1,
            }
        }
        false
    }

    fn records(&mut self) {
        while let Some((at, tag)) = self.tag() {
            match tag {
                Some(Tag::Field { name, length }) => self.field(name, length, at),
                Some(Tag::EndOfRecord) => self.end(),
                Some(Tag::EndOfHeader) => {}
                None => {
                    let end = self.at.saturating_sub(1).min(at + 1 + 20);
                    let found = String::from_utf8_lossy(&self.bytes[at + 1..end.max(at + 1)]);
                    let found = found.into_owned();
                    self.read.troubles.push(Trouble::Tag { found, at });
                    self.at = at + 1;
                }
            }
        }
        if !self.record.is_empty() {
            let at = self.record_at;
            self.read.troubles.push(Trouble::NoEnd { at });
        }
    }

    fn field(&mut self, name: String, length: u64, at: usize) {
        if self.record.is_empty() {
            self.record_at = at;
        }
        let left = self.bytes.len() - self.at;
        match usize::try_from(length)
            .ok()
            .filter(|length| *length <= left)
        {
            Some(length) => {
                let value = &self.bytes[self.at..self.at + length];
                self.record.put(&name, &String::from_utf8_lossy(value));
                self.at += length;
            }
            None => {
                let cut = Trouble::CutOff {
                    name,
                    at,
                    length,
                    left,
                };
                self.read.troubles.push(cut);
                self.at = self.bytes.len();
            }
        }
    }

    fn end(&mut self) {
        let record = std::mem::take(&mut self.record);
        if !record.is_empty() {
            self.read.records.push(record);
        }
        self.read.whole = self.at;
    }

    /// The next `<...>` and where it begins; `None` in it where it is no tag. Stands behind it
    /// afterwards.
    fn tag(&mut self) -> Option<(usize, Option<Tag>)> {
        let at = self.at + self.bytes[self.at..].iter().position(|b| *b == b'<')?;
        let inside = &self.bytes[at + 1..];
        // No tag is longer: a name, a length of twenty digits, a type.
        let most = inside.len().min(LONGEST_NAME + 24);
        let Some(length) = inside[..most].iter().position(|b| *b == b'>') else {
            self.at = at + 1;
            return Some((at, None));
        };
        self.at = at + 1 + length + 1;
        Some((at, tag_of(&inside[..length])))
    }
}

fn tag_of(inside: &[u8]) -> Option<Tag> {
    let text = std::str::from_utf8(inside).ok()?;
    let mut parts = text.split(':');
    let (name, length, kind) = (parts.next()?.trim(), parts.next(), parts.next());
    let plain = |b: u8| b.is_ascii_alphanumeric() || b == b'_';
    if name.is_empty() || name.len() > LONGEST_NAME || !name.bytes().all(plain) {
        return None;
    }
    if parts.next().is_some() || kind.is_some_and(|kind| kind.len() != 1) {
        return None;
    }
    match (name.to_ascii_uppercase().as_str(), length) {
        ("EOR", None) => Some(Tag::EndOfRecord),
        ("EOH", None) => Some(Tag::EndOfHeader),
        (_, None) => None,
        (name, Some(length)) => {
            let digits = !length.is_empty() && length.bytes().all(|b| b.is_ascii_digit());
            let length = digits.then(|| length.parse().ok())??;
            let name = name.into();
            Some(Tag::Field { name, length })
        }
    }
}
