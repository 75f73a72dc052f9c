//! The joint copy as text.

use super::super::when::Zone;
use crate::copy::marker::{Marker, Marking, Marks};
use markhold_join::{Joint, Wording};
use markhold_shelf::joined::{Joined, JointLine, KeptCopy, Missing, Piece, Why};

/// `A, B and D: 4312 characters, 2 % doubtful, 3 variants`.
pub fn about(joined: &Joined, joint: &Joint) -> String {
    let (count, doubtful) = joined.counted(joint);
    let variants = match joint.variants.len() {
        1 => "1 variant".to_string(),
        n => format!("{n} variants"),
    };
    format!(
        "{}: {count} characters, {:.0} % doubtful, {variants}",
        joined.names(&joint.copies),
        100.0 * doubtful as f64 / count.max(1) as f64
    )
}

/// `12/1 does not go with the others from 0:04 to 0:22: heard again`.
pub fn looking(copy: &KeptCopy, from_s: f64, until_s: f64) -> String {
    let [from, until] = [from_s, until_s].map(crate::words::time);
    let (evening, signal) = (copy.evening, copy.signal);
    format!("{evening}/{signal} does not go with the others from {from} to {until}: heard again")
}

/// A line, doubt marked, variants between < and > with | between the wordings: the
/// five-unit alphabet has none of the three.
pub fn line(joined: &Joined, joint: &Joint, line: &JointLine, marker: Marker) -> String {
    let mut marking = Marking::new(marker);
    let mut text = String::new();
    for piece in &line.pieces {
        match *piece {
            Piece::Character {
                glyph, doubtful, ..
            } => {
                let changed = false;
                marking.push(&mut text, glyph, Marks { doubtful, changed });
            }
            Piece::Variant(number) => {
                marking.close(&mut text);
                text += &wordings(joined, joint, number);
            }
        }
    }
    marking.close(&mut text);
    text
}

/// `<117|118>`.
fn wordings(joined: &Joined, joint: &Joint, variant: usize) -> String {
    let all = joint.variants[variant].wordings.iter();
    let texts: Vec<String> = all.map(|w| joined.wording(joint, variant, w)).collect();
    format!("<{}>", texts.join("|"))
}

/// `AB-D`: the copies that bear at least half of the line, - for those that do not.
pub fn bearers(joined: &Joined, line: &JointLine) -> String {
    let of = |(k, copy): (usize, &KeptCopy)| match line.is_borne_by(k) {
        true => copy.name.clone(),
        false => "-".repeat(copy.name.len()),
    };
    joined.copies.iter().enumerate().map(of).collect()
}

/// `<117|118>: 117 in A (2026-03-21) and B (2026-03-28); 118 in C (2026-04-04)`.
pub fn variants(joined: &Joined, joint: &Joint, zone: &Zone) -> Vec<String> {
    let told = |number: usize| {
        let one = |w: &Wording| {
            let text = quoted(&joined.wording(joint, number, w));
            format!("{text} in {}", dated(joined, &w.copies, zone))
        };
        let wordings = joint.variants[number].wordings.iter();
        let all: Vec<String> = wordings.map(one).collect();
        let texts = self::wordings(joined, joint, number);
        format!("{texts}: {}", all.join("; "))
    };
    (0..joint.variants.len()).map(told).collect()
}

fn quoted(text: &str) -> String {
    match text.is_empty() {
        true => "nothing".to_string(),
        false => text.to_string(),
    }
}

fn dated(joined: &Joined, which: &[usize], zone: &Zone) -> String {
    let of = |k: &usize| {
        let copy = &joined.copies[*k];
        let date = zone.of(&copy.begin).strftime("%Y-%m-%d").to_string();
        format!("{} ({date})", copy.name)
    };
    which.iter().map(of).collect::<Vec<_>>().join(", ")
}

/// What is still missing, in words, each passage with the line in which it begins.
pub fn missing(joined: &Joined, joint: &Joint) -> Vec<String> {
    let lines = joined.lines(joint);
    let all = joined.missing(joint);
    let passages = all.iter().filter(|m| m.is_passage());
    let told = |m: &Missing| {
        let what = match m.why {
            Why::Doubtful(count) => format!("{count} characters are doubtful"),
            Why::Uncrossed => "anything may be missing: no copy goes across".to_string(),
            Why::Silent(s) => format!("nothing was read for {s:.0} s: a pause, or lost in each"),
        };
        match m.line(&lines) {
            Some(at) => format!("line {}: {what}", at + 1),
            None => what,
        }
    };
    let mut told: Vec<String> = passages.map(told).collect();
    let single: usize = all
        .iter()
        .filter(|m| !m.is_passage())
        .map(Missing::doubtful)
        .sum();
    if single > 0 {
        told.push(format!("{single} single characters are doubtful"));
    }
    told
}
