//! Texts with blanks: `{call} DE {own}`. Braces are in no five-unit alphabet, so no text needs
//! them for itself.

use jiff::Timestamp;
use jiff::tz::Offset;

/// What a blank stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Blank {
    /// This station's call.
    Own,
    /// The other station's call.
    Call,
    /// The name of who is there.
    Name,
    /// The report that is given.
    Report,
    /// The time, UTC.
    Time,
    /// The number of the contact.
    Number,
}

impl Blank {
    /// All of them, with their words.
    pub const ALL: [(Blank, &'static str); 6] = [
        (Blank::Own, "own"),
        (Blank::Call, "call"),
        (Blank::Name, "name"),
        (Blank::Report, "report"),
        (Blank::Time, "time"),
        (Blank::Number, "number"),
    ];

    fn of(word: &str) -> Option<Self> {
        let same = |(_, known): &&(Blank, &str)| known.eq_ignore_ascii_case(word.trim());
        Blank::ALL.iter().find(same).map(|(blank, _)| *blank)
    }
}

/// What is put into blanks.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Filling {
    /// This station's call.
    pub own: Option<String>,
    /// The other station's call.
    pub call: Option<String>,
    /// The name of who is there.
    pub name: Option<String>,
    /// The report that is given, such as `599`.
    pub report: Option<String>,
    /// The time.
    pub now: Timestamp,
    /// The number of the contact; written with three digits at least.
    pub number: Option<u64>,
}

/// Why a text cannot be filled in.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum BlankError {
    /// No such blank.
    #[error(
        "{{{found}}} is no blank; there are {{own}}, {{call}}, {{name}}, {{report}}, {{time}} and {{number}}"
    )]
    Unknown {
        /// What stands between the braces.
        found: String,
    },
    /// A brace without its other half.
    #[error("a brace stands alone near {near:?}; a blank is written as {{call}}")]
    Brace {
        /// What stands there.
        near: String,
    },
    /// Nothing is known that fills it.
    #[error("the text has a blank for {what}, and nothing is known that fills it")]
    Empty {
        /// The blank's word.
        what: &'static str,
    },
}

impl Filling {
    fn of(&self, blank: Blank) -> Option<String> {
        let given = |text: &Option<String>| text.clone().filter(|text| !text.trim().is_empty());
        match blank {
            Blank::Own => given(&self.own),
            Blank::Call => given(&self.call),
            Blank::Name => given(&self.name),
            Blank::Report => given(&self.report),
            Blank::Time => Some(
                Offset::UTC
                    .to_datetime(self.now)
                    .strftime("%H%M")
                    .to_string(),
            ),
            Blank::Number => self.number.map(|number| format!("{number:03}")),
        }
    }
}

/// Splits a text at its blanks.
fn parts(text: &str) -> Result<Vec<Result<&str, Blank>>, BlankError> {
    let near = |at: &str| at.chars().take(12).collect::<String>();
    let (mut rest, mut all) = (text, Vec::new());
    while let Some(at) = rest.find(['{', '}']) {
        let (before, from) = rest.split_at(at);
        let end = from.find('}').filter(|_| from.starts_with('{'));
        let end = end.ok_or_else(|| BlankError::Brace { near: near(from) })?;
        let found = &from[1..end];
        let blank = Blank::of(found);
        let unknown = || BlankError::Unknown { found: near(found) };
        all.extend([Ok(before), Err(blank.ok_or_else(unknown)?)]);
        rest = &from[end + 1..];
    }
    all.push(Ok(rest));
    Ok(all)
}

/// Fills in a text.
///
/// # Errors
///
/// A blank that is none, or for which nothing is known.
pub fn fill(text: &str, filling: &Filling) -> Result<String, BlankError> {
    let mut filled = String::new();
    for part in parts(text)? {
        match part {
            Ok(plain) => filled.push_str(plain),
            Err(blank) => {
                let what = Blank::ALL.iter().find(|(known, _)| *known == blank);
                let what = what.map_or("", |(_, word)| word);
                let put = filling.of(blank).ok_or(BlankError::Empty { what })?;
                // What is put in has no blanks of its own.
                filled.push_str(put.trim());
            }
        }
    }
    Ok(filled)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn filling() -> Filling {
        Filling {
            own: Some("Q1ABC".into()),
            call: Some("Q2HLR".into()),
            report: Some("579".into()),
            now: "2026-11-14T19:30:59Z".parse().unwrap(),
            number: Some(7),
            ..Filling::default()
        }
    }

    #[test]
    fn blanks_are_filled() {
        let text = "{call} {CALL} DE { own } {time}Z\nUR {report} NR {number} K";
        let filled = fill(text, &filling()).unwrap();
        assert_eq!(filled, "Q2HLR Q2HLR DE Q1ABC 1930Z\nUR 579 NR 007 K");
        assert_eq!(fill("", &filling()).unwrap(), "");
    }

    #[test]
    fn what_cannot_be_filled_is_said() {
        let said = |text: &str| fill(text, &filling()).unwrap_err().to_string();
        assert!(said("GE {name}").contains("for name"));
        assert!(said("{rst}").starts_with("{rst} is no blank; there are {own}, {call}"));
        for text in ["{call", "call}", "}{call}", "{"] {
            assert!(said(text).contains("stands alone"), "{text}");
        }
    }

    #[test]
    fn what_is_put_in_has_no_blanks() {
        let filling = Filling {
            name: Some("{own}".into()),
            ..filling()
        };
        assert_eq!(fill("{name}", &filling).unwrap(), "{own}");
    }
}
