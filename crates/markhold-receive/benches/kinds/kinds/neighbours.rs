//! What else is on the band. Where another five-unit station is heard, the user points at
//! the wanted one (`--at`).

use super::Make;
use super::ordinary;
use super::receivers::away;
use crate::evenings::draw::Draw;
use crate::evenings::evening::{Evening, Other};
use crate::evenings::path::Path;
use crate::evenings::sender::Sender;
use crate::evenings::strangers::Stranger;
use crate::evenings::text::Matter;
use crate::evenings::troubles::Trouble;

pub const KINDS: [(&str, Make); 14] = [
    ("steady carriers", |e, d| {
        for _ in 0..3 + d.below(8) {
            let hz = away(e, d, 40.0);
            e.troubles.push(Trouble::Carrier {
                hz,
                level_db: d.range(-6.0, 12.0),
                drift_hz_per_s: d.range(-0.2, 0.2),
            });
        }
    }),
    ("carrier between the tones", |e, d| {
        let hz = inside(e, d);
        e.troubles.push(Trouble::Carrier {
            hz,
            level_db: d.range(-6.0, 10.0),
            drift_hz_per_s: d.range(-0.2, 0.2),
        });
    }),
    ("hum", |e, d| {
        e.troubles.push(Trouble::Hum {
            mains_hz: d.pick(&[50.0, 60.0]),
            level_db: d.range(0.0, 25.0),
            falls_db: d.range(1.0, 8.0),
        });
    }),
    ("buzz", |e, d| {
        e.troubles.push(Trouble::Buzz {
            mains_hz: d.pick(&[50.0, 60.0]),
            level_db: d.range(0.0, 25.0),
        });
    }),
    ("static", |e, d| {
        e.troubles.push(Trouble::Static {
            per_s: d.ratio(0.2, 5.0),
            level_db: d.range(6.0, 30.0),
            lasts_s: d.ratio(0.003, 0.1),
        });
    }),
    ("Morse between the tones", |e, d| {
        let hz = inside(e, d);
        morse(e, d, hz, 12.0);
    }),
    ("Morse on many places", |e, d| {
        for _ in 0..3 + d.below(6) {
            let hz = away(e, d, 60.0);
            morse(e, d, hz, 15.0);
        }
    }),
    ("somebody tunes up", |e, d| {
        e.troubles.push(Trouble::Sweep {
            level_db: d.range(0.0, 15.0),
            lasts_s: d.range(1.0, 20.0),
        });
    }),
    ("voice", |e, d| {
        let pitch_hz = d.range(90.0, 230.0);
        stranger(e, d, Stranger::Voice { pitch_hz });
    }),
    ("data with many tones", |e, d| {
        let spacing_hz = d.pick(&[15.6, 31.25, 40.0, 62.5]);
        let count = d.pick(&[8, 16]);
        let high_hz = spacing_hz * count as f64;
        let lowest_hz = d.range(300.0, 2700.0 - high_hz);
        let tones = Stranger::Tones {
            count,
            lowest_hz,
            spacing_hz,
            baud: spacing_hz,
        };
        stranger(e, d, tones);
    }),
    ("five-unit neighbour", |e, d| {
        let off_hz = d.sign() * d.range(60.0, 300.0);
        let reversed = d.chance(0.3);
        neighbour(e, d, off_hz, reversed);
    }),
    ("five-unit neighbour shares a tone", |e, d| {
        let shift_hz = (e.sender.space_hz - e.sender.mark_hz).abs();
        let off_hz = d.sign() * shift_hz;
        let reversed = d.chance(0.3);
        neighbour(e, d, off_hz, reversed);
    }),
    ("two five-unit stations, much louder", |e, d| {
        e.pointed = true;
        for _ in 0..2 {
            let other = station(e, d);
            let level_db = d.range(6.0, 20.0);
            push(e, other, level_db);
        }
    }),
    ("twelve stations", |e, d| twelve(e, d)),
];

/// A frequency between the tones, Hz.
fn inside(evening: &Evening, draw: &mut Draw) -> f64 {
    draw.range(evening.sender.mark_hz, evening.sender.space_hz)
}

fn morse(evening: &mut Evening, draw: &mut Draw, hz: f64, most_db: f64) {
    evening.troubles.push(Trouble::Morse {
        hz,
        level_db: draw.range(-6.0, most_db),
        wpm: draw.range(10.0, 30.0),
    });
}

fn stranger(evening: &mut Evening, draw: &mut Draw, stranger: Stranger) {
    evening.troubles.push(Trouble::Stranger {
        stranger,
        level_db: draw.range(-10.0, 6.0),
    });
}

/// A second five-unit signal with both tones moved by so much.
fn neighbour(evening: &mut Evening, draw: &mut Draw, off_hz: f64, reversed: bool) {
    evening.pointed = true;
    let own = evening.sender.clone();
    let (mark_hz, space_hz) = (own.mark_hz + off_hz, own.space_hz + off_hz);
    let other = Sender {
        matter: draw.pick(&[Matter::Prose, Matter::Rows, Matter::Figures]),
        mark_hz: if reversed { space_hz } else { mark_hz },
        space_hz: if reversed { mark_hz } else { space_hz },
        baud: draw.pick(&[45.45, 50.0, 75.0]),
        ..own
    };
    let level_db = draw.range(-3.0, 9.0);
    push(evening, other, level_db);
}

fn push(evening: &mut Evening, sender: Sender, level_db: f64) {
    evening.others.push(Other {
        sender,
        path: Path::Steady,
        level_db,
    });
}

/// Another station whose tones keep off the wanted ones.
fn station(evening: &Evening, draw: &mut Draw) -> Sender {
    let own = [evening.sender.mark_hz, evening.sender.space_hz];
    loop {
        let other = ordinary::sender(draw);
        let tones = [other.mark_hz, other.space_hz];
        let near = |hz: &f64| own.iter().any(|own| (hz - own).abs() < 150.0);
        if !tones.iter().any(near) {
            return other;
        }
    }
}

/// Twelve stations side by side, the wanted one among them.
fn twelve(evening: &mut Evening, draw: &mut Draw) {
    evening.pointed = true;
    evening.filters.clear();
    let sender = &mut evening.sender;
    let own = draw.below(12);
    let at_hz = |slot: usize| 400.0 + 190.0 * slot as f64;
    let half_hz = 42.5 * draw.sign();
    sender.baud = sender.baud.min(50.0);
    sender.mark_hz = at_hz(own) - half_hz;
    sender.space_hz = at_hz(own) + half_hz;
    for slot in (0..12).filter(|slot| *slot != own) {
        let half_hz = 42.5 * draw.sign();
        let other = Sender {
            mark_hz: at_hz(slot) - half_hz,
            space_hz: at_hz(slot) + half_hz,
            baud: draw.pick(&[45.45, 50.0]),
            ..ordinary::sender(draw)
        };
        let level_db = draw.range(-6.0, 6.0);
        push(evening, other, level_db);
    }
}
