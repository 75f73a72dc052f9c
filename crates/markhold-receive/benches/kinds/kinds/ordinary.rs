//! An evening with nothing wrong but noise.

use crate::evenings::alphabet::Row;
use crate::evenings::card::Card;
use crate::evenings::draw::Draw;
use crate::evenings::evening::Evening;
use crate::evenings::filter::BandPass;
use crate::evenings::path::Path;
use crate::evenings::sender::{Oscillator, Pace, Sender};
use crate::evenings::stray::Stray;
use crate::evenings::text::Matter;

pub fn evening(draw: &mut Draw) -> Evening {
    let sender = sender(draw);
    let rate = draw.pick(&[8000.0, 8000.0, 8000.0, 11_025.0, 48_000.0, 48_000.0]);
    let mut evening = Evening {
        rate,
        seconds: draw.range(60.0, 100.0),
        margins_s: [draw.range(1.0, 8.0), draw.range(1.0, 8.0)],
        sender,
        path: Path::Steady,
        stray: Stray::default(),
        es_n0_db: draw.range(9.0, 22.0),
        others: Vec::new(),
        troubles: Vec::new(),
        filters: Vec::new(),
        card: Card {
            agc_s: None,
            clip: None,
            level: draw.ratio(0.005, 0.25),
            offset: 0.0,
            bits: 16,
            losses: None,
        },
        pointed: false,
    };
    if draw.chance(0.7) {
        evening.filters.push(speech(&evening.sender, draw));
    }
    evening
}

/// A speech filter with both tones well inside.
fn speech(sender: &Sender, draw: &mut Draw) -> BandPass {
    let above_hz = sender.mark_hz.max(sender.space_hz) + 200.0;
    BandPass {
        low_hz: draw.range(100.0, 350.0),
        high_hz: draw.range(above_hz.max(2400.0), above_hz.max(3400.0)),
        order: 2 + draw.below(9),
    }
}

/// A sender as one usually hears it.
pub fn sender(draw: &mut Draw) -> Sender {
    let shift_hz = draw.pick(&[170.0, 170.0, 170.0, 170.0, 425.0, 450.0, 850.0, 200.0, 85.0]);
    let middle_hz = draw.range(500.0 + shift_hz / 2.0, 2600.0 - shift_hz / 2.0);
    let half_hz = draw.sign() * shift_hz / 2.0;
    let baud: f64 = draw.pick(&[45.45, 45.45, 45.45, 50.0, 50.0, 75.0, 100.0]);
    Sender {
        matter: Matter::Mixed,
        row: Row::Ita2,
        unshift: false,
        repeat_shift: draw.chance(0.5),
        line_end: "\r\n",
        mark_hz: middle_hz - half_hz,
        space_hz: middle_hz + half_hz,
        // Tones closer than the rate cannot be told apart by two filters.
        baud: if shift_hz < 150.0 {
            baud.min(50.0)
        } else {
            baud
        },
        stop: draw.pick(&[1.42, 1.5, 1.5, 2.0]),
        pace: Pace::Tape,
        hunt: 0.0,
        bias: 0.0,
        jitter_s: 0.0,
        oscillator: oscillator(draw),
        chirp_hz: 0.0,
        ripple: None,
        levels: [1.0, 1.0],
        overs_s: None,
        lead_s: draw.range(0.3, 4.0),
    }
}

fn oscillator(draw: &mut Draw) -> Oscillator {
    match draw.below(4) {
        0 => Oscillator::Two,
        1 => Oscillator::Fresh,
        _ => Oscillator::Moved,
    }
}
