//! Made-up events for tests.

use markhold_code::{Code, FiguresRow, Shift, Symbol, lookup};
use markhold_receive::event::{Alternative, Character, Doubt, Event, Sense, Signal, SignalId};

pub(super) fn signal(id: u32) -> Signal {
    Signal {
        id: SignalId(id),
        begin_s: 3.25,
        until_s: 64.0,
        mark_hz: 1275.0,
        space_hz: 1445.25,
        shift_hz: 170.25,
        usual_shift_hz: Some(170.0),
        rate_baud: 45.45,
        usual_rate_baud: Some(1.0 / 0.022),
        sense: Sense::LowerTone,
        stop_units: None,
        es_n0_db: 20.0,
        snr_3khz_db: 1.8,
        drift_hz: -3.0,
        drift_hz_per_min: -1.5,
    }
}

/// Characters of a text, 0.165 s each; one before a `?` is doubtful.
pub(super) fn characters(id: u32, text: &str) -> Vec<Character> {
    let next = text.chars().skip(1).map(Some).chain([None]);
    let kept = text.chars().zip(next).filter(|(c, _)| *c != '?');
    kept.enumerate()
        .map(|(k, (c, next))| character(id, 4.0 + 0.165 * k as f64, c, next == Some('?')))
        .collect()
}

/// A signal found, its text and its end.
pub(super) fn transmission(id: u32, text: &str) -> Vec<Event> {
    let text = characters(id, text).into_iter().map(Event::Character);
    std::iter::once(Event::Found(signal(id)))
        .chain(text)
        .chain([Event::Ended(signal(id))])
        .collect()
}

fn character(id: u32, start_s: f64, c: char, doubtful: bool) -> Character {
    let symbol = match c {
        ' ' => Symbol::Space,
        '\r' => Symbol::CarriageReturn,
        '\n' => Symbol::LineFeed,
        other => Symbol::Print(other),
    };
    let (code, shift) = lookup(symbol, FiguresRow::Ita2).expect("in the alphabet");
    let other = Alternative {
        code: Code::SPACE,
        symbol: Symbol::Space,
        probability: if doubtful { 0.2 } else { 0.0 },
    };
    Character {
        signal: SignalId(id),
        start_s,
        code,
        shift: shift.unwrap_or(Shift::Letters),
        symbol,
        probability: if doubtful { 0.6 } else { 0.995 },
        alternatives: [other; 2],
        doubt: doubtful.then_some(Doubt::Fade),
    }
}
