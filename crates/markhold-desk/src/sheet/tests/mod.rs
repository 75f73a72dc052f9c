//! The sheet: what all of its tests begin from.

mod inserted;
mod page;
mod pieces;

use super::*;
use markhold_code::{Code, FiguresRow, Shift, Symbol, lookup};
use markhold_event::{Alternative, CharacterId, Doubt, Sense, Signal};
use markhold_page::kind;

fn character(signal: u32, start_s: f64, c: char, probability: f32) -> Character {
    let symbol = match c {
        ' ' => Symbol::Space,
        '\r' => Symbol::CarriageReturn,
        '\n' => Symbol::LineFeed,
        '\u{7}' => Symbol::Bell,
        other => Symbol::Print(other),
    };
    let (code, shift) = lookup(symbol, FiguresRow::Ita2).expect("in the alphabet");
    let other = Alternative {
        code: Code::SPACE,
        symbol: Symbol::Space,
        probability: 0.0,
    };
    Character {
        signal: SignalId(signal),
        id: CharacterId::of_start(start_s),
        start_s,
        code,
        shift: shift.unwrap_or(Shift::Letters),
        symbol,
        probability,
        present: 1.0,
        codes: None,
        alternatives: [other; 2],
        doubt: (probability < 0.9).then_some(Doubt::Fade),
        witnesses: None,
    }
}

/// A text, sure characters of signal 1, 0.15 s each.
fn characters(text: &str) -> Vec<Character> {
    let all = text.chars().enumerate();
    all.map(|(k, c)| character(1, 0.15 * k as f64, c, 0.99))
        .collect()
}

fn sheet(machine: &Machine) -> Sheet {
    Sheet::new(on_screen(machine, FiguresRow::Ita2))
}

fn narrow() -> Machine {
    Machine {
        columns: 20,
        margin_lamp: 17,
        longest_word: 10,
        ..kind("ita2-69-50").expect("ready-made").machine.clone()
    }
}

/// What stands on all paper, every strike kept: overprints after a carriage return.
fn shown(sheet: &Sheet) -> String {
    let layers = |row: &Row| {
        let mut layers: Vec<Row> = Vec::new();
        for struck in &row.struck {
            let taken = |layer: &&mut Row| layer.struck.iter().all(|s| s.column != struck.column);
            match layers.iter_mut().find(taken) {
                Some(layer) => layer.struck.push(struck.clone()),
                None => layers.push(Row {
                    struck: vec![struck.clone()],
                    ..Row::default()
                }),
            }
        }
        layers.iter().map(Row::text).collect::<Vec<_>>().join("\r")
    };
    let rows = sheet.whole().into_iter().flat_map(|piece| piece.rows);
    rows.map(|row| layers(&row) + "\n").collect()
}

/// What a page shows that begins with nothing and takes every change.
#[derive(Default)]
struct Browser(Vec<Row>);

impl Browser {
    fn take(&mut self, sheet: &mut Sheet) {
        for piece in sheet.changes() {
            assert!(piece.from <= self.0.len() && piece.settled <= piece.from + piece.rows.len());
            self.0.truncate(piece.from);
            self.0.extend(piece.rows);
        }
    }
}

fn signal(id: u32) -> Signal {
    Signal {
        id: SignalId(id),
        begin_s: 0.0,
        until_s: 9.0,
        mark_hz: 2125.0,
        space_hz: 2295.0,
        shift_hz: 170.0,
        usual_shift_hz: None,
        rate_baud: 50.0,
        usual_rate_baud: None,
        sense: Sense::LowerTone,
        stop_units: None,
        figures_row: None,
        unshift_on_space: None,
        es_n0_db: 20.0,
        snr_3khz_db: 2.0,
        drift_hz: 0.0,
        drift_hz_per_min: 0.0,
    }
}
