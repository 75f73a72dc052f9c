//! How the sending machine and its oscillator behave.

use super::Make;
use crate::evenings::draw::Draw;
use crate::evenings::evening::Evening;
use crate::evenings::sender::{Pace, Ripple};
use crate::evenings::stray::Stray;

pub const KINDS: [(&str, Make); 19] = [
    ("stop element of one unit", |e, d| {
        e.sender.baud = d.pick(&[45.45, 50.0, 75.0]);
        e.sender.stop = 1.0;
    }),
    ("stop element of any length", |e, d| {
        e.sender.stop = d.range(1.0, 2.5);
    }),
    ("typed by hand", |e, d| {
        e.sender.pace = Pace::Typed {
            gap_s: d.range(0.05, 0.5),
            pause_share: d.range(0.02, 0.2),
            pause_s: d.range(5.0, 20.0),
        };
    }),
    ("few characters, long mark", |e, d| {
        e.seconds = 150.0;
        let every_s = d.range(8.0, 20.0);
        e.sender.pace = Pace::Few { every_s };
    }),
    ("short overs", |e, d| {
        e.sender.overs_s = Some([d.range(4.0, 10.0), d.range(3.0, 12.0)]);
        e.sender.lead_s = d.range(0.3, 1.0);
    }),
    ("short overs, typed", |e, d| {
        e.sender.overs_s = Some([d.range(5.0, 15.0), d.range(3.0, 12.0)]);
        e.sender.lead_s = d.range(0.3, 1.0);
        e.sender.pace = Pace::Typed {
            gap_s: d.range(0.05, 0.3),
            pause_share: d.range(0.05, 0.3),
            pause_s: d.range(1.0, 3.0),
        };
    }),
    ("filled with shifts", |e, d| {
        let share = d.range(0.1, 0.7);
        e.sender.pace = Pace::Filled { share };
    }),
    ("bias", |e, d| e.sender.bias = d.sign() * d.range(0.1, 0.4)),
    ("jitter", |e, d| {
        e.sender.jitter_s = d.range(0.02, 0.12) / e.sender.baud;
    }),
    ("hunting motor", |e, d| e.sender.hunt = d.range(0.005, 0.03)),
    ("rate off the usual", |e, d| {
        e.sender.baud *= 1.0 + d.sign() * d.range(0.005, 0.03);
    }),
    ("any rate", |e, d| {
        let shift_hz = (e.sender.mark_hz - e.sender.space_hz).abs();
        e.sender.baud = d.range(40.0, 110_f64.min(0.7 * shift_hz));
    }),
    ("any shift", |e, d| shift(e, d)),
    ("chirp", |e, d| {
        e.sender.chirp_hz = d.sign() * d.range(5.0, 40.0);
    }),
    ("mains on the tones", |e, d| {
        e.sender.ripple = Some(Ripple {
            hz: d.pick(&[50.0, 60.0, 100.0, 120.0]),
            depth: d.range(0.2, 0.9),
        });
    }),
    ("one tone keyed only", |e, d| {
        let missing = d.below(2);
        e.sender.levels[missing] = 0.0;
        e.es_n0_db = d.range(13.0, 25.0);
    }),
    ("one tone weaker", |e, d| {
        let weaker = d.below(2);
        e.sender.levels[weaker] = d.ratio(0.15, 0.7);
    }),
    ("wander", |e, d| e.stray.wander_hz = d.range(0.5, 4.0)),
    ("drift and jumps", |e, d| {
        e.stray = Stray {
            drift_hz_per_s: d.sign() * d.range(0.0, 0.3),
            wander_hz: 0.0,
            jump_hz: d.range(3.0, 20.0),
            every_s: d.range(5.0, 20.0),
        };
    }),
];

/// Any shift that fits between 400 and 2700 Hz.
fn shift(evening: &mut Evening, draw: &mut Draw) {
    let sender = &mut evening.sender;
    let shift_hz = draw.ratio(85.0, 1000.0);
    sender.baud = draw.pick(&[45.45, 50.0, 75.0]);
    sender.baud = sender.baud.min(0.6 * shift_hz);
    let low_hz = draw.range(400.0, 2700.0 - shift_hz);
    let tones = [low_hz, low_hz + shift_hz];
    let mark = draw.below(2);
    (sender.mark_hz, sender.space_hz) = (tones[mark], tones[1 - mark]);
}
