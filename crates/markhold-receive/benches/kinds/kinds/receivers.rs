//! The receiver's filters and gain, the sound card, the network between.

use super::Make;
use crate::evenings::card::Losses;
use crate::evenings::draw::Draw;
use crate::evenings::evening::Evening;
use crate::evenings::filter::BandPass;
use crate::evenings::troubles::Trouble;

pub const KINDS: [(&str, Make); 9] = [
    ("narrow crystal filter", |e, d| {
        narrow(e, d);
        let off_hz = d.range(-30.0, 30.0);
        crystal(e, d, off_hz);
    }),
    ("crystal filter beside the tones", |e, d| {
        // Tuned so that one tone lies on the skirt.
        narrow(e, d);
        let off_hz = d.sign() * d.range(60.0, 180.0);
        crystal(e, d, off_hz);
    }),
    ("band ends at a tone", |e, d| edge(e, d)),
    ("gain pumped by Morse", |e, d| {
        e.card.agc_s = Some(d.ratio(0.05, 2.0));
        let hz = away(e, d, 200.0);
        e.troubles.push(Trouble::Morse {
            hz,
            level_db: d.range(3.0, 20.0),
            wpm: d.range(10.0, 30.0),
        });
    }),
    ("clipped", |e, d| e.card.clip = Some(d.ratio(0.02, 1.2))),
    ("faint, eight bits, voltage", |e, d| {
        e.card.bits = 8;
        e.card.level = d.ratio(0.005, 0.05);
        e.card.offset = d.range(-0.3, 0.3);
    }),
    ("samples lost", |e, d| {
        e.card.losses = Some(losses(d, false))
    }),
    ("silence for lost samples", |e, d| {
        e.card.losses = Some(losses(d, true));
    }),
    ("sampled at 11025 Hz and others", |e, d| {
        e.rate = d.pick(&[
            6000.0, 7350.0, 11_025.0, 12_000.0, 16_000.0, 22_050.0, 44_100.0,
        ]);
    }),
];

fn losses(draw: &mut Draw, silence: bool) -> Losses {
    Losses {
        per_minute: draw.range(4.0, 30.0),
        longest_s: draw.ratio(0.02, 0.5),
        silence,
    }
}

/// Makes the shift one that a narrow filter takes.
fn narrow(evening: &mut Evening, draw: &mut Draw) {
    let sender = &mut evening.sender;
    let middle_hz = (sender.mark_hz + sender.space_hz) / 2.0;
    let half_hz = draw.sign() * draw.pick(&[85.0, 85.0, 42.5, 100.0]);
    sender.mark_hz = middle_hz - half_hz;
    sender.space_hz = middle_hz + half_hz;
    sender.baud = draw.pick(&[45.45, 50.0]);
}

/// A crystal filter of 250 to 500 Hz so far from the middle of the tones.
fn crystal(evening: &mut Evening, draw: &mut Draw, off_hz: f64) {
    let sender = &evening.sender;
    let middle_hz = (sender.mark_hz + sender.space_hz) / 2.0 + off_hz;
    let half_hz = draw.range(125.0, 250.0);
    evening.filters.push(BandPass {
        low_hz: (middle_hz - half_hz).max(50.0),
        high_hz: middle_hz + half_hz,
        order: 2 + draw.below(5),
    });
}

/// The speech filter's edge falls near one of the tones.
fn edge(evening: &mut Evening, draw: &mut Draw) {
    let sender = &evening.sender;
    let low_hz = sender.mark_hz.min(sender.space_hz);
    let high_hz = sender.mark_hz.max(sender.space_hz);
    let off_hz = draw.range(-40.0, 100.0);
    let order = 3 + draw.below(8);
    let upper = draw.chance(0.5);
    evening.filters = vec![BandPass {
        low_hz: if upper { 150.0 } else { low_hz - off_hz },
        high_hz: if upper { high_hz + off_hz } else { 3200.0 },
        order,
    }];
}

/// A frequency at least so far from both tones, Hz.
pub fn away(evening: &Evening, draw: &mut Draw, least_hz: f64) -> f64 {
    let tones = [evening.sender.mark_hz, evening.sender.space_hz];
    loop {
        let hz = draw.range(300.0, 2700.0);
        if tones.iter().all(|tone| (hz - tone).abs() >= least_hz) {
            return hz;
        }
    }
}
