//! What the same text looks like when a person types it: the slow, obvious way.
#![allow(
    missing_docs,
    dead_code,
    reason = "each test file uses its own part of it"
)]

use markhold_code::{Code, EncodeOptions, encode};
use markhold_page::{Machine, Page, Printer};

/// The lines a typist makes of a text on this machine.
pub fn lines_by_hand(text: &str, machine: &Machine) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut empty = 0;
    // Spaces with nothing after them are no line, and nobody starts a motor for an empty one.
    let text = text.replace(['\r', '\u{7}'], "");
    for line in text.trim_end_matches(' ').lines() {
        let before = std::iter::once(' ').chain(line.chars());
        let typed = before.zip(line.chars()).map(|(before, c)| {
            let parted = c == '%' && before.is_ascii_digit() && !machine.lacks.contains('-');
            format!("{}{}", if parted { "-" } else { "" }, typed_for(c, machine))
        });
        let line: String = typed.collect();
        if machine.motor && lines.is_empty() && line.trim().is_empty() {
            continue;
        }
        empty = if line.trim().is_empty() { empty + 1 } else { 0 };
        if empty <= usize::from(machine.empty_lines) {
            lines.extend(broken(line.trim_end(), machine));
        }
    }
    lines
}

/// What is on the keys instead of a character. The list is this file's own and short.
fn typed_for(c: char, machine: &Machine) -> String {
    let us = machine.figures == markhold_page::Figures::Us;
    if machine.lacks.contains(c) {
        return match c {
            '!' => ".".into(),
            '&' => "+".into(),
            '£' => "GBP ".into(),
            _ => machine.replacement.into(),
        };
    }
    match c.to_ascii_uppercase() {
        ' ' => " ".into(),
        'é' => "E".into(),
        '%' => "0/0".into(),
        '–' | '_' => "-".into(),
        '’' => "'".into(),
        '…' => "...".into(),
        '“' | '”' | '"' => if us { "\"" } else { "''" }.into(),
        ';' if !us => ",".into(),
        '$' if !us => "USD ".into(),
        '#' if !us => "NR ".into(),
        '£' if us => "GBP ".into(),
        '=' if us => " EQUALS ".into(),
        '+' if us => " PLUS ".into(),
        c => c.to_string(),
    }
}

/// One line of text as lines of paper.
fn broken(line: &str, machine: &Machine) -> Vec<String> {
    let width = usize::from(machine.usable_columns());
    let longest = usize::from(machine.longest_word);
    let mut lines = vec![String::new()];
    let mut rest: &str = line;
    while !rest.is_empty() {
        let spaces = rest.len() - rest.trim_start_matches(' ').len();
        let word: &str = rest.trim_start_matches(' ').split(' ').next().unwrap();
        rest = &rest[spaces + word.len()..];
        let here = lines.last().unwrap().len();
        let fits = here + spaces + word.len() <= width;
        // Too long to be kept whole, and begun in time: typed on to the margin.
        let runs_on = word.len() > longest && here + spaces + longest <= width;
        if fits || runs_on {
            lines.last_mut().unwrap().push_str(&" ".repeat(spaces));
        } else if here > 0 {
            lines.push(String::new());
        }
        for c in word.chars() {
            if lines.last().unwrap().len() == width {
                lines.push(String::new());
            }
            lines.last_mut().unwrap().push(c);
        }
    }
    lines
}

/// Lines typed at leisure: a new line first, then a character a second and ten seconds for
/// every return of the carriage.
pub fn typed_by_hand(lines: &[String], machine: &Machine) -> Page {
    let mut printer = Printer::new(machine);
    let mut at_s = 0.0;
    let options = EncodeOptions {
        begin: None,
        ..EncodeOptions::default()
    };
    let mut strike = |code: Code| {
        printer.receive(code, at_s);
        at_s += if code == Code::CARRIAGE_RETURN {
            10.0
        } else {
            1.0
        };
    };
    let end = [Code::CARRIAGE_RETURN, Code::LINE_FEED];
    if !lines.is_empty() {
        end.into_iter().for_each(&mut strike);
    }
    for line in lines {
        let codes = encode(line, machine.figures, options).expect("on the keys");
        codes.into_iter().chain(end).for_each(&mut strike);
    }
    printer.tear_off()
}
