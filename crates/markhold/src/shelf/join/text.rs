//! The joint copy as text.

use super::super::when::Zone;
use super::copies::{KeptCopy, row};
use crate::copy::marker::{Marker, Marking, Marks};
use markhold_code::{Carriage, Code, FiguresRow, Shift, ShiftMachine, Step, Symbol, symbol};
use markhold_join::{Joint, JointCharacter, SURE, Wording};

/// A character that is less likely there than this is left out.
pub const THERE: f32 = 0.4;

/// A line of the joint copy.
pub struct Line {
    pub text: String,
    /// For each copy how many characters of the line it bears.
    pub borne: Vec<usize>,
    /// How many characters it has.
    pub count: usize,
}

/// What a character prints, and the probability of that.
pub fn printed(character: &JointCharacter, row: FiguresRow) -> (Symbol, f32) {
    let (code, shift) = (character.code(), character.shift());
    let figures = character.figures;
    let shifted = symbol(code, Shift::Letters, row) != symbol(code, Shift::Figures, row);
    let in_shift = if shifted {
        figures.max(1.0 - figures)
    } else {
        1.0
    };
    (symbol(code, shift, row), character.probability() * in_shift)
}

/// Whether a character is doubtful.
pub fn doubtful(character: &JointCharacter, row: FiguresRow) -> bool {
    printed(character, row).1 < SURE
}

/// The characters that are shown.
pub fn shown(joint: &Joint) -> impl Iterator<Item = (usize, &JointCharacter)> {
    let all = joint.characters.iter().enumerate();
    all.filter(|(_, c)| c.present >= THERE || c.variant.is_some())
}

/// `A, B and D`.
pub fn names(which: &[usize], copies: &[KeptCopy]) -> String {
    let mut which = which.to_vec();
    which.sort_unstable();
    let names: Vec<&str> = which.iter().map(|k| copies[*k].name.as_str()).collect();
    match names.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => names.concat(),
    }
}

/// `A, B and D: 4312 characters, 2 % doubtful, 3 variants`.
pub fn about(joint: &Joint, copies: &[KeptCopy]) -> String {
    let row = row(copies);
    let there: Vec<&JointCharacter> = shown(joint).map(|(_, c)| c).collect();
    let plain = |c: &&&JointCharacter| c.variant.is_none() && doubtful(c, row);
    let doubt = there.iter().filter(plain).count();
    let variants = match joint.variants.len() {
        1 => "1 variant".to_string(),
        n => format!("{n} variants"),
    };
    format!(
        "{}: {} characters, {:.0} % doubtful, {variants}",
        names(&joint.copies, copies),
        there.len(),
        100.0 * doubt as f64 / there.len().max(1) as f64
    )
}

/// The lines, doubt marked, variants between < and > with | between the wordings: the
/// five-unit alphabet has none of the three.
pub fn lines(joint: &Joint, copies: &[KeptCopy], marker: Marker) -> Vec<Line> {
    let mut typing = Typing::new(copies.len(), marker);
    let row = row(copies);
    let mut last_variant = None;
    for (at, character) in shown(joint) {
        if let Some(number) = character.variant {
            if last_variant.replace(number) != Some(number) {
                let first = joint.variants[number].characters.start;
                let shift = joint.characters[first].shift();
                let wordings = joint.variants[number].wordings.iter();
                let texts: Vec<String> = wordings.map(|w| wording(w, shift, row)).collect();
                typing.variant(&texts);
            }
            typing.bear(&joint.characters[at]);
            continue;
        }
        let (symbol, probability) = printed(character, row);
        typing.take(character, symbol, probability < SURE);
    }
    typing.finish()
}

/// What a wording prints, from the shift on in which it begins.
pub fn wording(wording: &Wording, shift: Shift, row: FiguresRow) -> String {
    let mut machine = ShiftMachine::new(row, false);
    machine.set_shift(shift);
    let best = |codes: &[f32; Code::COUNT]| {
        let at = (0..Code::COUNT).max_by(|a, b| codes[*a].total_cmp(&codes[*b]));
        Code::ALL[at.unwrap_or_default()]
    };
    let codes = wording.codes.iter().map(best);
    codes.filter_map(|c| machine.receive(c).printed()).collect()
}

/// Characters on their way into lines.
struct Typing {
    marking: Marking,
    marker: Marker,
    carriage: Carriage,
    copies: usize,
    line: Line,
    lines: Vec<Line>,
}

impl Typing {
    fn new(copies: usize, marker: Marker) -> Self {
        Self {
            marking: Marking::new(marker),
            marker,
            carriage: Carriage::default(),
            copies,
            line: empty(copies),
            lines: Vec::new(),
        }
    }

    fn take(&mut self, character: &JointCharacter, symbol: Symbol, doubtful: bool) {
        match self.carriage.step(symbol) {
            Step::Nothing => {}
            Step::NewLine => self.new_line(),
            Step::Print(c) => self.print(character, c, doubtful),
            Step::NewLinePrint(c) => {
                self.new_line();
                self.print(character, c, doubtful);
            }
        }
    }

    fn print(&mut self, character: &JointCharacter, c: char, doubtful: bool) {
        let changed = false;
        self.marking
            .push(&mut self.line.text, c, Marks { doubtful, changed });
        self.bear(character);
    }

    fn bear(&mut self, character: &JointCharacter) {
        character.bearers().for_each(|k| self.line.borne[k] += 1);
        self.line.count += 1;
    }

    fn variant(&mut self, wordings: &[String]) {
        // A variant prints, so the carriage is away.
        if let Step::NewLinePrint(_) = self.carriage.step(Symbol::Print('-')) {
            self.new_line();
        }
        self.marking.close(&mut self.line.text);
        self.line.text += &format!("<{}>", wordings.join("|"));
    }

    fn new_line(&mut self) {
        self.marking.close(&mut self.line.text);
        self.marking = Marking::new(self.marker);
        let line = std::mem::replace(&mut self.line, empty(self.copies));
        self.lines.push(line);
    }

    fn finish(mut self) -> Vec<Line> {
        self.new_line();
        self.lines.retain(|l| !l.text.trim().is_empty());
        self.lines
    }
}

fn empty(copies: usize) -> Line {
    Line {
        text: String::new(),
        borne: vec![0; copies],
        count: 0,
    }
}

/// `AB-D`: the copies that bear at least half of the line, - for those that do not.
pub fn bearers(line: &Line, copies: &[KeptCopy]) -> String {
    let of = |(copy, borne): (&KeptCopy, &usize)| match 2 * borne >= line.count {
        true => copy.name.clone(),
        false => "-".repeat(copy.name.len()),
    };
    copies.iter().zip(&line.borne).map(of).collect()
}

/// `<117|118>: 117 in A (2026-03-21) and B (2026-03-28); 118 in C (2026-04-04)`.
pub fn variants(joint: &Joint, copies: &[KeptCopy], zone: &Zone) -> Vec<String> {
    let row = row(copies);
    let told = |variant: &markhold_join::Variant| {
        let shift = joint.characters[variant.characters.start].shift();
        let one = |w: &Wording| {
            format!(
                "{} in {}",
                quoted(&wording(w, shift, row)),
                dated(&w.copies, copies, zone)
            )
        };
        let all: Vec<String> = variant.wordings.iter().map(one).collect();
        let texts: Vec<String> = variant
            .wordings
            .iter()
            .map(|w| wording(w, shift, row))
            .collect();
        format!("<{}>: {}", texts.join("|"), all.join("; "))
    };
    joint.variants.iter().map(told).collect()
}

fn quoted(text: &str) -> String {
    match text.is_empty() {
        true => "nothing".to_string(),
        false => text.to_string(),
    }
}

fn dated(which: &[usize], copies: &[KeptCopy], zone: &Zone) -> String {
    let of = |k: &usize| {
        let date = zone.of(&copies[*k].begin).strftime("%Y-%m-%d").to_string();
        format!("{} ({date})", copies[*k].name)
    };
    which.iter().map(of).collect::<Vec<_>>().join(", ")
}
