//! Joint copies as JSON for the page.

use markhold_join::{Joint, JointCharacter, Wording};
use markhold_shelf::joined::{Joined, JointLine, KeptCopy, Missing, Piece, Says};
use markhold_shelf::{Said, Shelf};
use serde::Serialize;

/// Copies and what they say together.
#[derive(Serialize)]
pub struct Told {
    copies: Vec<CopyObject>,
    joints: Vec<JointObject>,
    /// Names of the copies that repeat none of the others.
    alone: Option<String>,
}

/// One signal of one evening. Elsewhere a copy is told by its place among these.
#[derive(Serialize)]
struct CopyObject {
    name: String,
    evening: i64,
    signal: u32,
    /// RFC 3339: when its evening began, and its first character was heard.
    evening_begin: String,
    begin: String,
    characters: usize,
    doubtful: usize,
    /// Whether there is sound to listen to.
    sound: bool,
    /// Whom it was heard from, as a person said.
    station: String,
}

#[derive(Serialize)]
struct JointObject {
    names: String,
    /// The copy that says most first.
    copies: Vec<usize>,
    characters: usize,
    doubtful: usize,
    lines: Vec<LineObject>,
    variants: Vec<Vec<WordingObject>>,
    missing: Vec<MissingObject>,
    /// Doubtful characters besides those passages.
    single: usize,
}

#[derive(Serialize)]
struct LineObject {
    /// The copies that bear at least half of it.
    bearers: Vec<usize>,
    /// By copy, when it was heard, s from the first sample of the evening; null where it was not.
    at: Vec<Option<f64>>,
    pieces: Vec<PieceObject>,
}

#[derive(Serialize)]
#[serde(tag = "is", rename_all = "kebab-case")]
enum PieceObject {
    /// Sure characters that the same copies bear.
    Sure {
        place: usize,
        text: String,
        bearers: Vec<usize>,
    },
    Doubtful {
        place: usize,
        glyph: char,
        probability: f32,
        others: Vec<(Option<char>, f32)>,
        says: Vec<SaysObject>,
    },
    Variant {
        variant: usize,
    },
}

#[derive(Serialize)]
struct SaysObject {
    copy: usize,
    glyph: Option<char>,
    probability: f32,
}

#[derive(Serialize)]
struct WordingObject {
    text: String,
    copies: Vec<usize>,
}

#[derive(Serialize)]
struct MissingObject {
    why: &'static str,
    /// The line in which it begins, counted from 0, and its first character.
    line: Option<usize>,
    place: usize,
    doubtful: usize,
    silent_s: Option<f64>,
}

impl Told {
    /// As the shelf joined them.
    pub fn of(shelf: &Shelf, joined: &Joined) -> Self {
        let alone = joined.alone();
        Told {
            copies: joined.copies.iter().map(|c| copy(shelf, c)).collect(),
            joints: joined.joints.iter().map(|j| joint(joined, j)).collect(),
            alone: (!alone.is_empty()).then(|| joined.names(&alone)),
        }
    }
}

fn copy(shelf: &Shelf, copy: &KeptCopy) -> CopyObject {
    let evening = shelf.evening(copy.evening).ok();
    let Said { station, .. } = shelf.said(copy.evening).unwrap_or_default();
    let begin = copy.begin.timestamp().to_string();
    CopyObject {
        name: copy.name.clone(),
        evening: copy.evening,
        signal: copy.signal,
        evening_begin: evening
            .as_ref()
            .map_or_else(|| begin.clone(), |e| e.begin.timestamp().to_string()),
        begin,
        characters: copy.characters.len(),
        doubtful: copy.doubtful(),
        sound: evening.is_some_and(|e| e.sound_s > 0.0),
        station,
    }
}

fn joint(joined: &Joined, joint: &Joint) -> JointObject {
    let (characters, doubtful) = joined.counted(joint);
    let lines = joined.lines(joint);
    let missing = joined.missing(joint);
    let passages = missing.iter().filter(|m| m.is_passage());
    let singles = missing.iter().filter(|m| !m.is_passage());
    let wordings = |variant: usize| {
        let of = |w: &Wording| WordingObject {
            text: joined.wording(joint, variant, w),
            copies: w.copies.clone(),
        };
        joint.variants[variant].wordings.iter().map(of).collect()
    };
    JointObject {
        names: joined.names(&joint.copies),
        copies: joint.copies.clone(),
        characters,
        doubtful,
        missing: passages.map(|m| passage(m, &lines)).collect(),
        single: singles.map(Missing::doubtful).sum(),
        variants: (0..joint.variants.len()).map(wordings).collect(),
        lines: lines.iter().map(|l| line(joined, joint, l)).collect(),
    }
}

fn passage(missing: &Missing, lines: &[JointLine]) -> MissingObject {
    MissingObject {
        why: missing.why.word(),
        line: missing.line(lines),
        place: missing.characters.start,
        doubtful: missing.doubtful(),
        silent_s: missing.silent_s(),
    }
}

fn line(joined: &Joined, joint: &Joint, line: &JointLine) -> LineObject {
    let copies = 0..joined.copies.len();
    let at = |copy: usize| {
        let mut pieces = line.pieces.iter().flat_map(|p| places(p, joint));
        pieces.find_map(|place| {
            let slot = joint.characters[place].slots[copy]?;
            Some(joined.copies[copy].character(slot).start_s)
        })
    };
    LineObject {
        bearers: copies.clone().filter(|k| line.is_borne_by(*k)).collect(),
        at: copies.map(at).collect(),
        pieces: pieces(joined, joint, line),
    }
}

/// The characters of a piece.
fn places(piece: &Piece, joint: &Joint) -> std::ops::Range<usize> {
    match piece {
        Piece::Character { place, .. } => *place..place + 1,
        Piece::Variant(number) => joint.variants[*number].characters.clone(),
    }
}

fn pieces(joined: &Joined, joint: &Joint, line: &JointLine) -> Vec<PieceObject> {
    let mut pieces: Vec<PieceObject> = Vec::new();
    for piece in &line.pieces {
        match *piece {
            Piece::Variant(variant) => pieces.push(PieceObject::Variant { variant }),
            Piece::Character {
                place,
                glyph,
                doubtful,
            } => {
                let character = &joint.characters[place];
                if doubtful {
                    pieces.push(doubt(joined, character, (place, glyph)));
                } else {
                    sure(&mut pieces, character.bearers().collect(), (place, glyph));
                }
            }
        }
    }
    pieces
}

/// Adds a sure character to those before it, or begins anew where others bear it.
fn sure(pieces: &mut Vec<PieceObject>, now: Vec<usize>, (place, glyph): (usize, char)) {
    match pieces.last_mut() {
        Some(PieceObject::Sure { text, bearers, .. }) if *bearers == now => text.push(glyph),
        _ => pieces.push(PieceObject::Sure {
            place,
            text: glyph.to_string(),
            bearers: now,
        }),
    }
}

fn doubt(
    joined: &Joined,
    character: &JointCharacter,
    (place, glyph): (usize, char),
) -> PieceObject {
    let says = |s: Says| SaysObject {
        copy: s.copy,
        glyph: s.symbol.text(),
        probability: s.probability,
    };
    let others = joined.others(character);
    PieceObject::Doubtful {
        place,
        glyph,
        probability: joined.printed(character).probability,
        others: others.iter().map(|(s, p)| (s.text(), *p)).collect(),
        says: joined.says(character).into_iter().map(says).collect(),
    }
}
