//! Prints the alphabet and answers questions about it, one JSON object a line, so that
//! programs written elsewhere can check it.
//!
//! Without input the 32 codes. Each line of standard input is a question:
//!
//! ```text
//! encode ita2 letters TEXT     codes of TEXT, receiver in letters (or: figures, unknown)
//! decode us 27 23 31 25        text of codes
//! times 45.4545 1.42           start-stop times of a modulation rate and a stop element
//! ```

use markhold_code::{
    Code, EncodeOptions, FiguresRow, LineEnd, Shift, StartStop, Symbol, decode, encode, symbol,
};
use std::io::{BufRead, stdin};

fn main() {
    Code::ALL.into_iter().for_each(print_code);
    for line in stdin().lock().lines().map_while(Result::ok) {
        println!("{}", answer(&line).unwrap_or_else(|| "null".into()));
    }
}

/// One code: value, elements in order of sending, and its three meanings.
fn print_code(code: Code) {
    let [letters, ita2, us] = [
        (Shift::Letters, FiguresRow::Ita2),
        (Shift::Figures, FiguresRow::Ita2),
        (Shift::Figures, FiguresRow::Us),
    ]
    .map(|(shift, row)| meaning(symbol(code, shift, row)));
    println!(
        r#"{{"code":{},"elements":"{code}","letters":{letters},"ita2":{ita2},"us":{us}}}"#,
        code.value()
    );
}

/// The code point of a character, or the name of what leaves nothing in text.
fn meaning(symbol: Symbol) -> String {
    match (symbol, symbol.text()) {
        (_, Some(c)) => u32::from(c).to_string(),
        (Symbol::Letters, None) => r#""letters""#.into(),
        (Symbol::Figures, None) => r#""figures""#.into(),
        _ => r#""blank""#.into(),
    }
}

/// The answer to one question, or `None` if it is not understood.
fn answer(line: &str) -> Option<String> {
    let (question, rest) = line.split_once(' ')?;
    match question {
        "encode" => encoded(rest),
        "decode" => decoded(rest),
        "times" => times(rest),
        _ => None,
    }
}

fn row(word: &str) -> Option<FiguresRow> {
    match word {
        "ita2" => Some(FiguresRow::Ita2),
        "us" => Some(FiguresRow::Us),
        _ => None,
    }
}

fn encoded(rest: &str) -> Option<String> {
    let mut words = rest.splitn(3, ' ');
    let row = row(words.next()?)?;
    let begin = match words.next()? {
        "letters" => Some(Shift::Letters),
        "figures" => Some(Shift::Figures),
        "unknown" => None,
        _ => return None,
    };
    let options = EncodeOptions {
        line_end: LineEnd::CrLf,
        shift_again_after_space: false,
        begin,
    };
    let codes = encode(words.next()?, row, options).ok()?;
    let values: Vec<u8> = codes.into_iter().map(Code::value).collect();
    Some(format!("{values:?}"))
}

fn decoded(rest: &str) -> Option<String> {
    let (first, numbers) = rest.split_once(' ')?;
    let codes: Option<Vec<Code>> = numbers
        .split_whitespace()
        .map(|n| n.parse().ok().and_then(Code::new))
        .collect();
    let points: Vec<u32> = decode(&codes?, row(first)?, false)
        .chars()
        .map(u32::from)
        .collect();
    Some(format!("{points:?}"))
}

fn times(rest: &str) -> Option<String> {
    let (rate, stop) = rest.split_once(' ')?;
    let times = StartStop::new(rate.parse().ok()?, stop.parse().ok()?);
    Some(format!(
        r#"{{"element_s":{},"stop_s":{},"character_s":{},"opm":{},"wpm":{}}}"#,
        times.element_s(),
        times.stop_s(),
        times.character_s(),
        times.operations_per_minute(),
        times.words_per_minute()
    ))
}
