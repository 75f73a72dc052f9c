//! A line in another wording: what is the same stays the character that was heard, what differs is
//! a person's.

use super::super::ShelfError;
use super::super::details::Entry;
use markhold_code::{Code, FiguresRow, Shift, Symbol, lookup};
use markhold_event::{Alternative, Character, CharacterId};

/// A text that five-unit machines print.
#[derive(Clone, Debug)]
pub(super) struct Printed {
    pub(super) text: String,
    glyphs: Vec<Glyph>,
}

#[derive(Clone, Copy, Debug)]
struct Glyph {
    printed: char,
    symbol: Symbol,
    code: Code,
    /// `None` where the code means the same in both shifts.
    shift: Option<Shift>,
}

impl Printed {
    /// In capitals, without blanks at the end.
    ///
    /// Errors: a character that no five-unit machine prints.
    pub(super) fn of(text: &str) -> Result<Self, ShelfError> {
        let text = text.trim_end().to_uppercase();
        let glyphs = text.chars().map(glyph).collect::<Result<_, _>>()?;
        Ok(Printed { text, glyphs })
    }
}

fn glyph(printed: char) -> Result<Glyph, ShelfError> {
    let symbol = match printed {
        ' ' => Symbol::Space,
        other => Symbol::Print(other),
    };
    let mut rows = [FiguresRow::Ita2, FiguresRow::Us].into_iter();
    let found = rows.find_map(|row| lookup(symbol, row));
    let (code, shift) = found.ok_or(ShelfError::NotPrinted { found: printed })?;
    Ok(Glyph {
        printed,
        symbol,
        code,
        shift,
    })
}

/// What becomes of the old line, in order.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Step {
    Same,
    Another,
    Gone,
    New,
}

/// The shortest way from one text to the other (Levenshtein's distance); where several are as
/// short, the one that keeps places.
fn steps(old: &[char], new: &[char]) -> Vec<Step> {
    let wide = new.len() + 1;
    let mut cost = vec![0; (old.len() + 1) * wide];
    for a in (0..=old.len()).rev() {
        for b in (0..=new.len()).rev() {
            let at = |a: usize, b: usize| cost[a * wide + b];
            cost[a * wide + b] = match (old.get(a), new.get(b)) {
                (None, _) => new.len() - b,
                (_, None) => old.len() - a,
                (Some(x), Some(y)) if x == y => at(a + 1, b + 1),
                _ => 1 + at(a + 1, b + 1).min(at(a + 1, b)).min(at(a, b + 1)),
            };
        }
    }
    let (mut a, mut b, mut way) = (0, 0, Vec::new());
    while a < old.len() || b < new.len() {
        let at = |a: usize, b: usize| cost[a * wide + b];
        let step = match (old.get(a), new.get(b)) {
            (Some(x), Some(y)) if x == y => Step::Same,
            (Some(_), Some(_)) if at(a, b) == 1 + at(a + 1, b + 1) => Step::Another,
            (Some(_), _) if at(a, b) == 1 + at(a + 1, b) => Step::Gone,
            _ => Step::New,
        };
        a += usize::from(step != Step::New);
        b += usize::from(step != Step::Gone);
        way.push(step);
    }
    way
}

/// What a character prints.
fn prints(entry: &Entry) -> Option<char> {
    match entry {
        Entry::Decided(character) => character.symbol.printed().filter(|c| !c.is_control()),
        Entry::Unlikely(_) => None,
    }
}

/// The entries of the line in its new wording. Line ends, shifts and what was more likely noise stay
/// where they are.
pub(super) fn corrected(entries: Vec<Entry>, to: &Printed) -> Vec<Entry> {
    let old: Vec<char> = entries.iter().filter_map(prints).collect();
    let new: Vec<char> = to.glyphs.iter().map(|glyph| glyph.printed).collect();
    let mut way = steps(&old, &new).into_iter().peekable();
    let mut glyphs = to.glyphs.iter();
    let mut out: Vec<Entry> = Vec::with_capacity(entries.len());
    for entry in entries {
        if prints(&entry).is_none() {
            out.push(entry);
            continue;
        }
        while way.next_if_eq(&Step::New).is_some() {
            let new = glyphs.next().map(|g| beside(entry.character(), -0.5, g));
            out.extend(new.map(Entry::Decided));
        }
        match way.next() {
            Some(Step::Same) => {
                glyphs.next();
                out.push(entry);
            }
            Some(Step::Another) => {
                let new = glyphs.next().map(|g| by_hand(entry.character().clone(), g));
                out.extend(new.map(Entry::Decided));
            }
            _ => {}
        }
    }
    let last = out.iter().rfind(|entry| prints(entry).is_some());
    let last = last.or(out.last()).map(|entry| entry.character().clone());
    // Before what ends the line.
    let end = out.iter().rposition(|entry| prints(entry).is_some());
    let at = end.map_or(0, |place| place + 1);
    let more = glyphs.enumerate().filter_map(|(k, g)| {
        let late = 0.5 * (k + 1) as f64 / (k + 2) as f64;
        Some(Entry::Decided(beside(last.as_ref()?, late, g)))
    });
    let more: Vec<Entry> = more.collect();
    out.splice(at..at, more);
    out
}

/// Length of a character, s: of the usual speed; only the order of what was added depends on it.
const CHARACTER_S: f64 = 0.165;

/// A character that was not heard, so many characters after one that was.
fn beside(heard: &Character, after: f64, glyph: &Glyph) -> Character {
    let start_s = heard.start_s + after * CHARACTER_S;
    let added = Character {
        start_s,
        id: CharacterId::of_start(start_s),
        codes: None,
        ..heard.clone()
    };
    by_hand(added, glyph)
}

/// The character as a person has it. What the signal alone says of all codes stays.
fn by_hand(heard: Character, glyph: &Glyph) -> Character {
    let other = |code, symbol| Alternative {
        code,
        symbol,
        probability: 0.0,
    };
    let next = heard.alternatives.into_iter().map(|a| (a.code, a.symbol));
    let heard_as = std::iter::once((heard.code, heard.symbol)).chain(next);
    let mut others = heard_as.filter(|(code, _)| *code != glyph.code);
    let first = others
        .next()
        .map_or(heard.alternatives[0], |(c, s)| other(c, s));
    let second = others
        .next()
        .map_or(heard.alternatives[1], |(c, s)| other(c, s));
    Character {
        code: glyph.code,
        shift: glyph.shift.unwrap_or(heard.shift),
        symbol: glyph.symbol,
        probability: 1.0,
        present: 1.0,
        alternatives: [first, second],
        doubt: None,
        witnesses: None,
        ..heard
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::characters;
    use proptest::prelude::*;

    fn line(text: &str) -> Vec<Entry> {
        characters(1, text)
            .into_iter()
            .map(Entry::Decided)
            .collect()
    }

    fn text(entries: &[Entry]) -> String {
        entries.iter().filter_map(prints).collect()
    }

    #[test]
    fn what_is_the_same_stays_what_was_heard() {
        let heard = line("THE FERBY? LEVES\r\n");
        let wanted = Printed::of("the ferry leaves").expect("printed");
        let now = corrected(heard.clone(), &wanted);
        assert_eq!(text(&now), "THE FERRY LEAVES");
        assert_eq!(now[..7], heard[..7], "heard as it was");
        assert_eq!(
            now[now.len() - 2..],
            heard[heard.len() - 2..],
            "and its end"
        );
        let r = now[7].character();
        let b = heard[7].character();
        assert_eq!((r.probability, r.doubt, r.id), (1.0, None, b.id));
        assert_eq!(
            r.alternatives[0].code, b.code,
            "what was heard is told still"
        );
        let starts: Vec<f64> = now.iter().map(|e| e.character().start_s).collect();
        assert!(starts.is_sorted(), "{starts:?}");
    }

    #[test]
    fn what_no_machine_prints_is_told() {
        let error = Printed::of("FÜR").expect_err("no such sign").to_string();
        assert!(error.contains('Ü'), "{error}");
    }

    proptest! {
        #[test]
        fn any_line_becomes_any_other(old in "[A-Z0-9 ]{1,40}", new in "[A-Z0-9 ]{0,40}[A-Z0-9]") {
            let now = corrected(line(&old), &Printed::of(&new).expect("printed"));
            prop_assert_eq!(text(&now), new);
        }
    }
}
