//! Finds words in the copy of all evenings.
//!
//! What a person types is never taken for the search engine's own language: every word is
//! quoted, so no input whatever is a syntax error.

use super::rows::first_id;
use super::{KeptLine, Shelf, ShelfError, Traffic, sent};
use jiff::Timestamp;
use rusqlite::named_params;

/// Where to search.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Filter {
    /// Only lines heard from then on.
    pub from: Option<Timestamp>,
    /// Only lines heard before.
    pub until: Option<Timestamp>,
    /// Also in readings that a better one replaced.
    pub all_readings: bool,
    /// Most lines to find; the latest are found first.
    pub most: usize,
}

impl Default for Filter {
    fn default() -> Self {
        Filter {
            from: None,
            until: None,
            all_readings: false,
            most: 100,
        }
    }
}

/// A line found.
#[derive(Clone, Debug, PartialEq)]
pub struct Hit {
    /// The evening's name on the shelf.
    pub evening: i64,
    /// The reading's name in the archive; `None` of what was sent.
    pub reading: Option<i64>,
    /// When it was heard, or sent.
    pub heard: Timestamp,
    /// The line.
    pub line: Traffic,
}

impl Shelf {
    /// The lines that hold all words of `asked`, received or sent, the latest first.
    ///
    /// A word finds every word that begins with it; `"words between quotes"` must follow
    /// each other. Case does not matter. A line still being received is not found yet.
    ///
    /// Errors: no word with a letter or digit in `asked`.
    pub fn search(&self, asked: &str, filter: &Filter) -> Result<Vec<Hit>, ShelfError> {
        let Some(wanted) = quoted(asked) else {
            let asked = asked.to_string();
            return Err(ShelfError::NothingToSearch { asked });
        };
        let mut hits = self.received(&wanted, filter)?;
        let sent = self.sent_with(&wanted, filter)?;
        if !sent.is_empty() {
            hits.extend(sent);
            hits.sort_by_key(|hit| std::cmp::Reverse(hit.heard));
            hits.truncate(filter.most);
        }
        Ok(hits)
    }

    fn received(&self, wanted: &str, filter: &Filter) -> Result<Vec<Hit>, ShelfError> {
        let mut query = self.archive().prepare_cached(&format!(
            "SELECT e.id, s.reading, e.begin_ms + CAST(l.begin_s * 1000 AS INTEGER), {}
             FROM words w
                 JOIN lines l ON l.id = w.rowid
                 JOIN signals s ON s.id = l.signal
                 JOIN readings r ON r.id = s.reading
                 JOIN evenings e ON e.id = r.evening
             WHERE words MATCH :wanted AND w.rowid >= :from AND w.rowid < :until
                 AND (:all OR r.id =
                      (SELECT reading FROM best_readings b WHERE b.evening = e.id))
             ORDER BY w.rowid DESC LIMIT :most",
            KeptLine::COLUMNS
        ))?;
        let (from, until, most) = filter.bounds();
        let values = named_params! {
            ":wanted": wanted,
            ":from": from,
            ":until": until,
            ":all": filter.all_readings,
            ":most": most,
        };
        let hits = query.query_map(values, |row| {
            Ok(Hit {
                evening: row.get(0)?,
                reading: row.get(1)?,
                heard: Timestamp::from_millisecond(row.get(2)?).unwrap_or_default(),
                line: Traffic::Received(KeptLine::of_row(row, 3)?),
            })
        })?;
        Ok(hits.collect::<Result<_, _>>()?)
    }

    fn sent_with(&self, wanted: &str, filter: &Filter) -> Result<Vec<Hit>, ShelfError> {
        let mut query = self.archive().prepare_cached(
            "SELECT e.id, e.begin_ms + CAST(s.at_s * 1000 AS INTEGER), s.number, s.at_s, s.text
             FROM sent_words w
                 JOIN sent s ON s.id = w.rowid
                 JOIN evenings e ON e.id = s.evening
             WHERE sent_words MATCH :wanted AND w.rowid >= :from AND w.rowid < :until
             ORDER BY w.rowid DESC LIMIT :most",
        )?;
        let (from, until, most) = filter.bounds();
        let values = named_params! {
            ":wanted": wanted,
            ":from": from,
            ":until": until,
            ":most": most,
        };
        let hits = query.query_map(values, |row| {
            Ok(Hit {
                evening: row.get(0)?,
                reading: None,
                heard: Timestamp::from_millisecond(row.get(1)?).unwrap_or_default(),
                line: Traffic::Sent(sent::of_row(row, 2)?),
            })
        })?;
        Ok(hits.collect::<Result<_, _>>()?)
    }
}

impl Filter {
    /// The first name of a line, the first beyond, and how many: lines are named by when they
    /// were heard or sent.
    fn bounds(&self) -> (i64, i64, i64) {
        let first = |time: Timestamp| first_id(time.as_millisecond());
        (
            self.from.map_or(i64::MIN, first),
            self.until.map_or(i64::MAX, first),
            i64::try_from(self.most).unwrap_or(i64::MAX),
        )
    }
}

/// The search engine's words for what was typed; `None` if there is no word in it.
fn quoted(asked: &str) -> Option<String> {
    let is_word = |text: &&str| text.chars().any(char::is_alphanumeric);
    let quote = |text: &str, end: &str| {
        let plain: String = text.chars().filter(|c| !c.is_control()).collect();
        format!("\"{plain}\"{end}")
    };
    // Every second part stands between quotes.
    let parts = asked
        .split('"')
        .enumerate()
        .flat_map(|(k, part)| match k % 2 {
            0 => part
                .split_whitespace()
                .filter(is_word)
                .map(|word| quote(word, "*"))
                .collect::<Vec<_>>(),
            _ => Some(part)
                .filter(is_word)
                .map(|words| quote(words, ""))
                .into_iter()
                .collect(),
        });
    let all = parts.collect::<Vec<_>>().join(" AND ");
    (!all.is_empty()).then_some(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_quoted() {
        let cases = [
            ("marsh", Some("\"marsh\"*")),
            ("q1abc de", Some("\"q1abc\"* AND \"de\"*")),
            (
                "\"good evening\" all",
                Some("\"good evening\" AND \"all\"*"),
            ),
            ("\"good evening", Some("\"good evening\"")),
            ("NEAR(a) - ^b", Some("\"NEAR(a)\"* AND \"^b\"*")),
            ("a\0b", Some("\"ab\"*")),
            (" ?? \"--\" ", None),
            ("", None),
        ];
        for (asked, expected) in cases {
            assert_eq!(quoted(asked).as_deref(), expected, "{asked:?}");
        }
    }
}
