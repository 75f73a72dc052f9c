//! What is wrong in a settings file: every key that does not do, each with its line.
//!
//! The readers of the tables say what is wrong with the first key that does not do, and not where
//! it stands. Which key that is shows when each is left out in turn: without the one to blame the
//! reader says something else. It is then left out for good, and the next fault comes to light.

use toml::de::DeTable;
use toml::{Spanned, Table, Value};

/// No file has more faults than are worth saying.
const MOST: usize = 20;

/// One fault.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// Where it stands, counted from 1; `None` where no line is to blame.
    pub line: Option<usize>,
    /// What was found and what was expected.
    pub said: String,
    /// What was probably meant.
    pub meant: Option<String>,
}

/// A reader of one table: what is wrong with its first key that does not do.
pub type Reader = fn(&str) -> Result<(), String>;

/// A table of the file, and who reads it.
pub struct Known {
    /// Its name.
    pub table: &'static str,
    /// Its reader, which leaves other tables alone.
    pub reader: Reader,
}

/// All faults of a file, in the order of its tables.
pub fn faults(text: &str, known: &[Known]) -> Vec<Fault> {
    let places = match DeTable::parse(text) {
        Ok(places) => places.into_inner(),
        Err(error) => return vec![no_toml(text, &error)],
    };
    let Ok(mut file) = text.parse::<Table>() else {
        return Vec::new();
    };
    let mut faults = strangers(text, &places, known);
    for one in known {
        file_faults(
            one,
            &mut file,
            |path| line_of(text, &places, path),
            &mut faults,
        );
    }
    faults
}

fn no_toml(text: &str, error: &toml::de::Error) -> Fault {
    Fault {
        line: error.span().map(|span| line_at(text, span.start)),
        said: error.message().trim().replace('\n', "; "),
        meant: None,
    }
}

/// Tables that nobody reads: a slip in a name would otherwise go unnoticed.
fn strangers(text: &str, places: &DeTable, known: &[Known]) -> Vec<Fault> {
    let names: Vec<&str> = known.iter().map(|one| one.table).collect();
    let unknown = places
        .iter()
        .filter(|(key, _)| !names.contains(&key.get_ref().as_ref()));
    let fault = |(key, value): (&Spanned<_>, &Spanned<toml::de::DeValue>)| {
        let name: &std::borrow::Cow<str> = key.get_ref();
        let what = match value.get_ref() {
            toml::de::DeValue::Table(_) => format!("nothing reads the table [{name}]"),
            _ => format!("{name} stands in no table"),
        };
        Fault {
            line: Some(line_at(text, key.span().start)),
            said: format!("{what}; there are {}", names.join(", ")),
            meant: nearest(name, &names),
        }
    };
    unknown.map(fault).collect()
}

/// The faults of one table; what is at fault is taken out of `file`.
fn file_faults(
    one: &Known,
    file: &mut Table,
    line: impl Fn(&[String]) -> Option<usize>,
    faults: &mut Vec<Fault>,
) {
    while let (Err(said), true) = (read(one.reader, file), faults.len() < MOST) {
        let blamed = to_blame(one, file, &said);
        let path = blamed.clone().unwrap_or_else(|| vec![one.table.into()]);
        faults.push(Fault {
            line: line(&path),
            meant: meant(&said),
            said,
        });
        without(file, &path);
    }
}

fn read(reader: Reader, file: &Table) -> Result<(), String> {
    reader(&toml::to_string(file).map_err(|error| error.to_string())?)
}

/// The key without which the reader says something else, however deep it stands.
fn to_blame(one: &Known, file: &Table, said: &str) -> Option<Vec<String>> {
    let table = file.get(one.table)?.as_table()?;
    let mut paths = Vec::new();
    leaves(table, &mut vec![one.table.to_string()], &mut paths);
    paths.into_iter().find(|path| {
        let mut rest = file.clone();
        without(&mut rest, path);
        read(one.reader, &rest) != Err(said.into())
    })
}

/// The paths to all values that are no tables, and to tables that are empty.
fn leaves(table: &Table, path: &mut Vec<String>, found: &mut Vec<Vec<String>>) {
    for (key, value) in table {
        path.push(key.clone());
        match value {
            Value::Table(inner) if !inner.is_empty() => leaves(inner, path, found),
            _ => found.push(path.clone()),
        }
        path.pop();
    }
}

/// Takes out what stands at a path.
fn without(file: &mut Table, path: &[String]) {
    let Some((last, way)) = path.split_last() else {
        return;
    };
    let mut table = file;
    for key in way {
        match table.get_mut(key).and_then(Value::as_table_mut) {
            Some(inner) => table = inner,
            None => return,
        }
    }
    table.remove(last);
}

/// The line of the key at a path, or of what it stands in.
fn line_of(text: &str, places: &DeTable, path: &[String]) -> Option<usize> {
    let mut table = places;
    let mut line = None;
    for key in path {
        let found = table.iter().find(|(name, _)| name.get_ref() == key);
        let Some((name, value)) = found else { break };
        line = Some(line_at(text, name.span().start));
        match value.get_ref() {
            toml::de::DeValue::Table(inner) => table = inner,
            _ => break,
        }
    }
    line
}

/// The line of a byte, counted from 1.
fn line_at(text: &str, byte: usize) -> usize {
    1 + text
        .bytes()
        .take(byte)
        .filter(|byte| *byte == b'\n')
        .count()
}

/// What was meant, where a reader names what it found and what it knows between backticks.
fn meant(said: &str) -> Option<String> {
    let mut words = said.split('`').skip(1).step_by(2);
    let found = words.next()?;
    nearest(found, &words.collect::<Vec<_>>())
}

/// The nearest of some words, if it is near.
fn nearest(found: &str, known: &[&str]) -> Option<String> {
    let near = |word: &&&str| strsim::damerau_levenshtein(found, word) <= 1 + word.len() / 4;
    let distance = |word: &&&str| strsim::damerau_levenshtein(found, word);
    let nearest = known.iter().filter(near).min_by_key(distance);
    nearest
        .or_else(|| begun(found, known))
        .map(ToString::to_string)
}

/// The only word that begins so.
fn begun<'a>(found: &str, known: &'a [&'a str]) -> Option<&'a &'a str> {
    let mut begun = known.iter().filter(|word| word.starts_with(found));
    let one = begun.next()?;
    (found.len() > 2 && begun.next().is_none()).then_some(one)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A table in which every key but two is unknown, and one has a range.
    fn reader(text: &str) -> Result<(), String> {
        let file: Table = text.parse().expect("TOML");
        let Some(Value::Table(shelf)) = file.get("shelf") else {
            return Ok(());
        };
        for (key, value) in shelf {
            match key.as_str() {
                "learn" => {}
                "columns" if value.as_integer().is_some_and(|n| n < 200) => {}
                "columns" => return Err(format!("columns = {value}: expected up to 200")),
                other => {
                    return Err(format!(
                        "unknown field `{other}`, expected one of `columns`, `learn`"
                    ));
                }
            }
        }
        Ok(())
    }

    fn found(text: &str) -> Vec<(Option<usize>, String, Option<String>)> {
        let known = [Known {
            table: "shelf",
            reader,
        }];
        let faults = faults(text, &known).into_iter();
        faults.map(|f| (f.line, f.said, f.meant)).collect()
    }

    #[test]
    fn every_fault_has_its_line_and_what_was_meant() {
        let all = found("# mine\n[shelf]\ncolunms = 3\nlearn = true\ncolumns = 400\n\n[shlef]\n");
        let meant: Vec<_> = all.iter().map(|f| (f.0, f.2.as_deref())).collect();
        assert_eq!(
            meant,
            [
                (Some(7), Some("shelf")),
                (Some(5), None),
                (Some(3), Some("columns"))
            ]
        );
        assert!(all[1].1.contains("expected up to 200"));
        assert_eq!(found("[shelf]\nlearn = true"), []);
    }

    #[test]
    fn what_is_no_toml_has_its_line() {
        let all = found("[shelf]\nlearn = yes please\n");
        assert_eq!((all.len(), all[0].0), (1, Some(2)));
    }

    #[test]
    fn a_key_outside_of_all_tables_is_told() {
        let all = found("columns = 74\n");
        assert!(all[0].1.contains("columns stands in no table"), "{all:?}");
    }

    #[test]
    fn near_is_near() {
        assert_eq!(
            nearest("recever", &["receiver", "shelf"]).as_deref(),
            Some("receiver")
        );
        assert_eq!(nearest("colour", &["receiver", "shelf"]), None);
        let shows = ["lower-carrier", "upper-carrier", "low"];
        assert_eq!(nearest("upper", &shows).as_deref(), Some("upper-carrier"));
        assert_eq!(nearest("up", &shows), None);
    }
}
