//! Texts that are ready to go: a few that are always there, and what a person puts into a folder.

use std::collections::BTreeMap;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};

/// Longest text, bytes: half an hour at 45.45 baud.
const LONGEST: u64 = 12_000;
/// Most files that are looked at.
const MOST: usize = 200;

/// Those that are always there, in the order of a contact.
const STARTING: [(&str, &str); 6] = [
    (
        "test",
        "RYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRY\nTHE QUICK BROWN FOX JUMPS OVER THE LAZY DOG 1234567890\nTEST DE {own} {own}\n",
    ),
    (
        "call",
        "CQ CQ CQ DE {own} {own} {own}\nCQ CQ CQ DE {own} {own} {own} PSE K\n",
    ),
    ("answer", "{call} {call} DE {own} {own} {own} PSE K\n"),
    (
        "report",
        "{call} DE {own}\nTNX FER CALL  UR RST {report} {report}\nHW CPY?  {call} DE {own} K\n",
    ),
    (
        "again",
        "{call} DE {own}\nSRI  AGN PSE  AGN PSE\n{call} DE {own} K\n",
    ),
    (
        "ending",
        "{call} DE {own}\nR R  TNX FER QSO  73 73\n{call} DE {own} SK\n",
    ),
];

/// Why texts cannot be had.
#[derive(Debug, thiserror::Error)]
pub enum TextsError {
    /// No text of this name.
    #[error("there is no text {asked:?}; there are {there}")]
    Unknown {
        /// What was asked for.
        asked: String,
        /// All that are there.
        there: String,
    },
    /// A file that cannot be read.
    #[error("{}: {why}", path.display())]
    File {
        /// Which.
        path: PathBuf,
        /// Why, in words.
        why: String,
    },
}

/// Texts by their names, those that are always there first.
#[derive(Clone, Debug, PartialEq)]
pub struct Texts(Vec<(String, String)>);

impl Default for Texts {
    fn default() -> Self {
        let text = |(name, text): &(&str, &str)| (name.to_string(), text.to_string());
        Texts(STARTING.iter().map(text).collect())
    }
}

impl Texts {
    /// Those that are always there, and every `NAME.txt` of the folder; one of the same name
    /// takes the other's place. A folder that is missing adds none.
    ///
    /// # Errors
    ///
    /// A file that cannot be read, is too long or no text.
    pub fn in_folder(folder: &Path) -> Result<Self, TextsError> {
        let mut texts = Texts::default();
        for (name, path) in files(folder)? {
            let text = read(&path)?;
            match texts.0.iter_mut().find(|(known, _)| *known == name) {
                Some((_, known)) => *known = text,
                None => texts.0.push((name, text)),
            }
        }
        Ok(texts)
    }

    /// All of them: name and text with its blanks.
    pub fn all(&self) -> &[(String, String)] {
        &self.0
    }

    /// The text of this name.
    ///
    /// # Errors
    ///
    /// There is none; which there are.
    pub fn get(&self, name: &str) -> Result<&str, TextsError> {
        let found = self.0.iter().find(|(known, _)| known == name);
        let names = || {
            self.0
                .iter()
                .map(|(name, _)| name.as_str())
                .collect::<Vec<_>>()
        };
        let text = found.map(|(_, text)| text.as_str());
        text.ok_or_else(|| TextsError::Unknown {
            asked: name.into(),
            there: names().join(", "),
        })
    }
}

fn file_error(path: &Path, why: impl Into<String>) -> TextsError {
    let (path, why) = (path.to_path_buf(), why.into());
    TextsError::File { path, why }
}

fn files(folder: &Path) -> Result<BTreeMap<String, PathBuf>, TextsError> {
    let entries = match std::fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(BTreeMap::new()),
        Err(error) => return Err(file_error(folder, error.kind().to_string())),
    };
    let name = |path: PathBuf| {
        let is_text = path.extension().is_some_and(|e| e == "txt") && path.is_file();
        let name = path.file_stem()?.to_str()?.to_string();
        is_text.then_some((name, path))
    };
    let paths = entries.filter_map(Result::ok).map(|entry| entry.path());
    Ok(paths.filter_map(name).take(MOST).collect())
}

fn read(path: &Path) -> Result<String, TextsError> {
    let file = std::fs::File::open(path).map_err(|e| file_error(path, e.kind().to_string()))?;
    let mut text = String::new();
    let read = file.take(LONGEST + 1).read_to_string(&mut text);
    read.map_err(|_| file_error(path, "it is no plain text"))?;
    match text.len() as u64 > LONGEST {
        true => Err(file_error(
            path,
            format!("it is longer than {LONGEST} bytes"),
        )),
        false => Ok(text.replace("\r\n", "\n")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Filling, fill};

    #[test]
    fn those_that_are_always_there_can_be_filled() {
        let filling = Filling {
            own: Some("Q1ABC".into()),
            call: Some("Q2HLR".into()),
            report: Some("599".into()),
            ..Filling::default()
        };
        let texts = Texts::default();
        assert_eq!(texts.all().len(), 6);
        for (name, text) in texts.all() {
            let filled = fill(text, &filling).unwrap();
            assert!(
                filled.contains("DE Q1ABC") && filled.ends_with('\n'),
                "{name}"
            );
        }
    }

    #[test]
    fn a_folder_adds_and_replaces() {
        let folder = tempfile::tempdir().unwrap();
        let put = |name: &str, text: &[u8]| std::fs::write(folder.path().join(name), text).unwrap();
        put("call.txt", b"CQ DE {own} K\r\n");
        put("weather.txt", b"WX HERE FINE");
        put("notes.md", b"no text to send");
        let texts = Texts::in_folder(folder.path()).unwrap();
        assert_eq!(texts.get("call").unwrap(), "CQ DE {own} K\n");
        assert_eq!(texts.all().last().unwrap().0, "weather");
        let said = texts.get("notes").unwrap_err().to_string();
        assert!(said.contains("test, call, answer"), "{said}");
        put("bad.txt", b"\xff\xfe");
        assert!(
            Texts::in_folder(folder.path())
                .unwrap_err()
                .to_string()
                .contains("no plain text")
        );
        put("bad.txt", &[b'R'; 12_001]);
        assert!(
            Texts::in_folder(folder.path())
                .unwrap_err()
                .to_string()
                .contains("longer")
        );
        assert_eq!(
            Texts::in_folder(&folder.path().join("none")).unwrap(),
            Texts::default()
        );
    }
}
