//! Made-up events for tests of outputs.

use markhold_code::{Code, FiguresRow, Shift, Symbol, lookup};
use markhold_event::{Alternative, Character, CharacterId, Doubt, Event, Sense, Signal, SignalId};

pub fn signal(id: u32) -> Signal {
    Signal {
        id: SignalId(id),
        begin_s: 3.25,
        until_s: 64.0,
        mark_hz: 2125.0,
        space_hz: 2295.25,
        shift_hz: 170.25,
        usual_shift_hz: Some(170.0),
        rate_baud: 45.45,
        usual_rate_baud: Some(1.0 / 0.022),
        sense: Sense::LowerTone,
        stop_units: None,
        figures_row: None,
        unshift_on_space: None,
        es_n0_db: 20.0,
        snr_3khz_db: 1.8,
        drift_hz: -3.0,
        drift_hz_per_min: -1.5,
    }
}

pub fn found(id: u32) -> Event {
    Event::Found(signal(id))
}

pub fn ended(id: u32) -> Event {
    Event::Ended(signal(id))
}

/// Characters of a text; one before a `?` is doubtful.
pub fn characters(id: u32, text: &str) -> Vec<Event> {
    let next = text.chars().skip(1).map(Some).chain([None]);
    text.chars()
        .zip(next)
        .filter(|(c, _)| *c != '?')
        .map(|(c, next)| Event::Character(character(id, c, next == Some('?'))))
        .collect()
}

fn character(id: u32, c: char, doubtful: bool) -> Character {
    let symbol = match c {
        ' ' => Symbol::Space,
        '\r' => Symbol::CarriageReturn,
        '\n' => Symbol::LineFeed,
        '\x07' => Symbol::Bell,
        other => Symbol::Print(other),
    };
    let (code, shift) = lookup(symbol, FiguresRow::Ita2).expect("in the alphabet");
    let alternative = Alternative {
        code: Code::SPACE,
        symbol: Symbol::Space,
        probability: 0.004_211_9,
    };
    Character {
        signal: SignalId(id),
        id: CharacterId(1235),
        start_s: 12.345_678,
        code,
        shift: shift.unwrap_or(Shift::Letters),
        symbol,
        probability: if doubtful { 0.75 } else { 0.995 },
        present: 1.0,
        codes: None,
        alternatives: [alternative; 2],
        doubt: doubtful.then_some(Doubt::FadeOfOneTone),
        witnesses: None,
    }
}
