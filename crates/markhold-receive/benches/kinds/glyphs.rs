//! The score: what a reader sees on the page, held against what was sent.

use crate::align::align;

/// A printed glyph, with what the program says of it.
#[derive(Clone, Copy, Debug)]
pub struct Printed {
    pub glyph: char,
    /// How probable it is said to be, 0 to 1.
    pub probability: f64,
    /// It stands there without a mark of doubt.
    pub sure: bool,
}

/// As a reader sees it.
pub fn page(glyphs: impl IntoIterator<Item = Printed>) -> Vec<Printed> {
    let ended = glyphs.into_iter().map(|p| Printed {
        glyph: if p.glyph == '\r' { '\n' } else { p.glyph },
        ..p
    });
    crate::page::page(ended, |p| p.glyph)
}

/// Plain text as such a page.
pub fn plain(text: &str) -> Vec<Printed> {
    page(text.chars().map(|glyph| Printed {
        glyph,
        probability: 1.0,
        sure: true,
    }))
}

/// What came of one recording.
#[derive(Clone, Debug, Default)]
pub struct Score {
    pub sent: usize,
    pub printed: usize,
    /// Wrong, missing and extra glyphs.
    pub errors: usize,
    /// Words of which no glyph is doubtful, and how many of those are not as sent.
    pub sure_words: usize,
    pub false_words: usize,
    /// For each tenth of probability: glyphs, sum of the probabilities, glyphs right.
    pub tenths: [(usize, f64, usize); 10],
}

impl Score {
    /// Holds a page against what was sent.
    pub fn of(sent: &[Printed], printed: &[Printed]) -> Self {
        let glyphs = |page: &[Printed]| page.iter().map(|p| p.glyph).collect::<Vec<char>>();
        let (errors, matches) = align(&glyphs(sent), &glyphs(printed));
        let mut score = Score {
            sent: sent.len(),
            printed: printed.len(),
            errors,
            ..Score::default()
        };
        for (p, matched) in printed.iter().zip(&matches) {
            let tenth = &mut score.tenths[((p.probability * 10.0) as usize).min(9)];
            tenth.0 += 1;
            tenth.1 += p.probability;
            tenth.2 += usize::from(matched.is_some());
        }
        let mut from = 0;
        for until in 0..=printed.len() {
            if printed.get(until).is_none_or(|p| is_break(p.glyph)) {
                let sure = from < until && printed[from..until].iter().all(|p| p.sure);
                score.sure_words += usize::from(sure);
                score.false_words += usize::from(sure && !is_word(sent, &matches[from..until]));
                from = until + 1;
            }
        }
        score
    }

    /// Both together.
    pub fn add(&mut self, other: &Score) {
        self.sent += other.sent;
        self.printed += other.printed;
        self.errors += other.errors;
        self.sure_words += other.sure_words;
        self.false_words += other.false_words;
        for (own, other) in self.tenths.iter_mut().zip(other.tenths) {
            *own = (own.0 + other.0, own.1 + other.1, own.2 + other.2);
        }
    }

    /// Errors over glyphs sent.
    pub fn rate(&self) -> f64 {
        self.errors as f64 / self.sent.max(1) as f64
    }
}

fn is_break(glyph: char) -> bool {
    matches!(glyph, ' ' | '\n')
}

/// Whether glyphs that match these places are a whole word as it was sent.
fn is_word(sent: &[Printed], matches: &[Option<usize>]) -> bool {
    let Some(Some(first)) = matches.first().copied() else {
        return false;
    };
    let follow = matches
        .iter()
        .enumerate()
        .all(|(k, m)| *m == Some(first + k));
    let ends = |place: Option<&Printed>| place.is_none_or(|p| is_break(p.glyph));
    follow && (first == 0 || ends(sent.get(first - 1))) && ends(sent.get(first + matches.len()))
}
