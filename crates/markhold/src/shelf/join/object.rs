//! The joint copy as JSON, one object per line.
//!
//! | `type` | what |
//! |---|---|
//! | `joint` | the copies that are joined |
//! | `joint-character` | a character, in order; those that are more likely invented as well |
//! | `variant` | after the characters: what copies say differently, and which |
//! | `missing` | after those: what no copy tells |

use crate::shelf::object::line_as_it_is;
use markhold_event::{VERSION, rounded};
use markhold_join::{Joint, JointCharacter};
use markhold_shelf::joined::{Joined, KeptCopy, Missing};
use serde::Serialize;
use std::io::{self, Write};

#[derive(Serialize)]
#[serde(tag = "type", rename_all = "kebab-case")]
enum Object<'a> {
    Joint {
        version: u32,
        /// The copy that says most first.
        copies: Vec<CopyObject<'a>>,
        characters: usize,
        variants: usize,
    },
    JointCharacter {
        version: u32,
        /// Its place.
        place: usize,
        code: u8,
        shift: String,
        glyph: Option<char>,
        /// That this was sent here.
        probability: f64,
        /// That anything was.
        present: f64,
        doubtful: bool,
        /// Every code with a share above 0.01 % by all copies together, the likeliest first.
        codes: Vec<(u8, f64)>,
        bearers: Vec<Bearer<'a>>,
        variant: Option<usize>,
    },
    Variant {
        version: u32,
        variant: usize,
        /// The places for which it stands.
        from: usize,
        until: usize,
        wordings: Vec<WordingObject<'a>>,
    },
    Missing {
        version: u32,
        /// `doubtful`, `uncrossed` or `silent`.
        why: &'static str,
        /// The places that are doubtful; both the same where anything may be missing before one.
        from: usize,
        until: usize,
        /// Doubtful characters.
        doubtful: usize,
        /// For how long nothing was read, s.
        silent_s: Option<f64>,
    },
}

#[derive(Serialize)]
struct CopyObject<'a> {
    name: &'a str,
    station: &'a str,
    number: i64,
    evening: i64,
    signal: u32,
    begin: String,
}

#[derive(Serialize)]
struct Bearer<'a> {
    copy: &'a str,
    /// Its id among the characters of that signal.
    id: u32,
}

#[derive(Serialize)]
struct WordingObject<'a> {
    text: String,
    copies: Vec<CopyObject<'a>>,
}

/// Prints everything of a joint copy.
pub fn print(out: &mut dyn Write, joined: &Joined, joint: &Joint) -> io::Result<()> {
    let copies = &joined.copies;
    line_as_it_is(
        out,
        &Object::Joint {
            version: VERSION,
            copies: joint.copies.iter().map(|k| copy(&copies[*k])).collect(),
            characters: joint.characters.len(),
            variants: joint.variants.len(),
        },
    )?;
    for (place, character) in joint.characters.iter().enumerate() {
        line_as_it_is(out, &one(place, character, joined))?;
    }
    for number in 0..joint.variants.len() {
        line_as_it_is(out, &told(number, joint, joined))?;
    }
    let missing = joined.missing(joint);
    missing
        .iter()
        .try_for_each(|m| line_as_it_is(out, &untold(m)))
}

fn copy(copy: &KeptCopy) -> CopyObject<'_> {
    CopyObject {
        name: &copy.name,
        station: &copy.station,
        number: copy.number,
        evening: copy.evening,
        signal: copy.signal,
        begin: copy.begin.timestamp().to_string(),
    }
}

fn one<'a>(place: usize, character: &JointCharacter, joined: &'a Joined) -> Object<'a> {
    let (printed, copies) = (joined.printed(character), &joined.copies);
    let bearer = |k: usize| {
        let slot = character.slots[k]?;
        let (copy, id) = (copies[k].name.as_str(), copies[k].character(slot).id.0);
        Some(Bearer { copy, id })
    };
    let mut codes: Vec<(u8, f64)> = (0u8..)
        .zip(character.codes)
        .filter(|(_, share)| *share > 1e-4)
        .map(|(code, share)| (code, rounded(f64::from(share), 5)))
        .collect();
    codes.sort_by(|a, b| b.1.total_cmp(&a.1));
    Object::JointCharacter {
        version: VERSION,
        place,
        code: character.code().value(),
        shift: character.shift().to_string(),
        glyph: printed.symbol.text(),
        probability: rounded(f64::from(printed.probability), 5),
        present: rounded(f64::from(character.present), 5),
        doubtful: printed.is_doubtful(),
        codes,
        bearers: (0..copies.len()).filter_map(bearer).collect(),
        variant: character.variant,
    }
}

fn told<'a>(number: usize, joint: &Joint, joined: &'a Joined) -> Object<'a> {
    let variant = &joint.variants[number];
    let wordings = variant.wordings.iter().map(|w| WordingObject {
        text: joined.wording(joint, number, w),
        copies: w.copies.iter().map(|k| copy(&joined.copies[*k])).collect(),
    });
    Object::Variant {
        version: VERSION,
        variant: number,
        from: variant.characters.start,
        until: variant.characters.end,
        wordings: wordings.collect(),
    }
}

fn untold(missing: &Missing) -> Object<'static> {
    Object::Missing {
        version: VERSION,
        why: missing.why.word(),
        from: missing.characters.start,
        until: missing.characters.end,
        doubtful: missing.doubtful(),
        silent_s: missing.silent_s().map(|s| rounded(s, 1)),
    }
}
