//! Finds words in the copy of all evenings, in what it prints and in what it may be instead.
//!
//! What a person types is never taken for the search engine's own language: every word is
//! quoted, so no input whatever is a syntax error.

use super::rows::first_id;
use super::{KeptLine, Shelf, ShelfError, Traffic, maybe, sent};
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
    /// Also lines that hold the words only if doubtful characters are something else than they
    /// print; they come after the others.
    pub alternatives: bool,
    /// Most lines to find; the latest are found first.
    pub most: usize,
}

impl Default for Filter {
    fn default() -> Self {
        Filter {
            from: None,
            until: None,
            all_readings: false,
            alternatives: false,
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
    /// Probability that it holds the words, where it does not print them.
    pub maybe: Option<f32>,
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
        if filter.alternatives {
            hits.extend(self.maybe(&letters(asked), filter, filter.most - hits.len())?);
        }
        Ok(hits)
    }

    /// Lines with doubt that do not print the words and may hold them, the latest first.
    fn maybe(
        &self,
        words: &[Vec<char>],
        filter: &Filter,
        most: usize,
    ) -> Result<Vec<Hit>, ShelfError> {
        let mut query = self.archive().prepare_cached(&format!(
            "SELECT e.id, s.reading, e.begin_ms + CAST(l.begin_s * 1000 AS INTEGER), {}
             FROM lines l
                 JOIN signals s ON s.id = l.signal
                 JOIN readings r ON r.id = s.reading
                 JOIN evenings e ON e.id = r.evening
             WHERE l.doubtful > 0 AND l.id >= ?1 AND l.id < ?2
                 AND (?3 OR r.id = (SELECT reading FROM best_readings b WHERE b.evening = e.id))
             ORDER BY l.id DESC",
            KeptLine::COLUMNS
        ))?;
        let (from, until, _) = filter.bounds();
        let mut rows = query.query(rusqlite::params![from, until, filter.all_readings])?;
        let mut hits = Vec::new();
        while let Some(row) = rows.next()?.filter(|_| hits.len() < most) {
            let line = KeptLine::of_row(row, 3)?;
            // A damaged line holds nothing for sure.
            let characters = line.characters().unwrap_or_default();
            let maybe = maybe::probability(&characters, words);
            if maybe.is_none() || prints(&line.text, words) {
                continue;
            }
            hits.push(Hit {
                evening: row.get(0)?,
                reading: row.get(1)?,
                heard: Timestamp::from_millisecond(row.get(2)?).unwrap_or_default(),
                maybe,
                line: Traffic::Received(line),
            });
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
                maybe: None,
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
                maybe: None,
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

/// The words that were typed, in capitals; those between quotes are one.
fn letters(asked: &str) -> Vec<Vec<char>> {
    let words = asked
        .split('"')
        .enumerate()
        .flat_map(|(k, part)| match k % 2 {
            0 => part.split_whitespace().map(str::to_string).collect(),
            _ => vec![part.split_whitespace().collect::<Vec<_>>().join(" ")],
        });
    let letters = words.map(|word| word.to_uppercase().chars().collect::<Vec<char>>());
    letters
        .filter(|w| w.iter().any(|c| c.is_alphanumeric()))
        .collect()
}

/// Whether a line prints all of these words, each as the begin of one of its own.
fn prints(text: &str, words: &[Vec<char>]) -> bool {
    let text: Vec<char> = text.to_uppercase().chars().collect();
    let begins = |at: &usize| *at == 0 || !text[at - 1].is_alphanumeric();
    let all = |word: &Vec<char>| {
        (0..text.len())
            .filter(begins)
            .any(|at| text[at..].starts_with(word))
    };
    words.iter().all(all)
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
    fn words_are_taken_apart() {
        let of = |asked: &str| -> Vec<String> {
            let words = letters(asked);
            words.iter().map(|w| w.iter().collect()).collect()
        };
        assert_eq!(
            of("q1abc -- \"good  evening\" net"),
            ["Q1ABC", "GOOD EVENING", "NET"]
        );
        assert!(prints("DE Q1ABC, GOOD EVENING", &letters("q1ab evening")));
        assert!(!prints("DE Q1ABC GOOD EVENING", &letters("1abc")));
    }

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
