//! The kinds of evening. Each draws everything about a recording from the whole range in
//! which a textbook receiver may still read; what it cannot read is drawn again.

use crate::alphabet::Row;
use crate::draw::Draw;
use crate::evening::{Evening, Stray};
use crate::filter::BandPass;
use crate::path::Path;
use crate::sender::{Oscillator, Pace, Sender};
use crate::text::Matter;
use crate::troubles::Trouble;

/// One kind.
pub struct Kind {
    pub name: &'static str,
    /// Changes an ordinary evening into one of this kind.
    pub make: fn(&mut Evening, &mut Draw),
}

/// All kinds, in the order of the table.
pub fn all() -> Vec<Kind> {
    let kind = |name, make| Kind { name, make };
    vec![
        kind("ordinary", |_, _| {}),
        kind("figures, shift not repeated", |e, _| {
            e.sender.matter = Matter::Figures;
            e.sender.repeat_shift = false;
        }),
        kind("figures, space returns to letters", |e, d| {
            e.sender.matter = Matter::Figures;
            e.sender.row = d.pick(&[Row::Ita2, Row::American]);
            e.sender.unshift = true;
        }),
        kind("weather groups", |e, _| e.sender.matter = Matter::Weather),
        kind("calls", |e, _| e.sender.matter = Matter::Calls),
        kind("letters at random", |e, _| {
            e.sender.matter = Matter::Letters
        }),
        kind("stop element of one unit", |e, d| {
            e.sender.baud = d.pick(&[45.45, 50.0, 75.0]);
            e.sender.stop = 1.0;
        }),
        kind("typed by hand", |e, d| {
            e.sender.pace = Pace::Typed {
                gap_s: d.range(0.05, 0.5),
                pause_share: d.range(0.02, 0.2),
                pause_s: d.range(5.0, 20.0),
            };
        }),
        kind("few characters, long mark", |e, d| {
            e.seconds = 150.0;
            e.sender.pace = Pace::Few {
                every_s: d.range(8.0, 20.0),
            };
        }),
        kind("short overs", |e, d| {
            e.sender.overs_s = Some([d.range(4.0, 10.0), d.range(3.0, 12.0)]);
            e.sender.lead_s = d.range(0.3, 1.0);
        }),
        kind("steady carriers", |e, d| {
            for _ in 0..3 + d.below(8) {
                let hz = away(e, d, 40.0);
                e.troubles.push(Trouble::Carrier {
                    hz,
                    level_db: d.range(-6.0, 12.0),
                    drift_hz_per_s: d.range(-0.2, 0.2),
                });
            }
        }),
        kind("hum", |e, d| {
            e.troubles.push(Trouble::Hum {
                mains_hz: d.pick(&[50.0, 60.0]),
                level_db: d.range(0.0, 25.0),
                falls_db: d.range(1.0, 8.0),
            });
        }),
        kind("narrow crystal filter", |e, d| {
            narrow_shift(e, d);
            crystal(e, d, 250.0, 500.0);
        }),
        kind("five-unit neighbour", neighbour),
        kind("flutter", |e, d| {
            e.es_n0_db = d.range(14.0, 28.0);
            e.path = Path::Echoes {
                delays_s: vec![d.range(0.0005, 0.003)],
                spread_hz: d.range(3.0, 10.0),
            };
        }),
        kind("two paths", |e, d| {
            e.es_n0_db = d.range(12.0, 25.0);
            e.path = Path::Echoes {
                delays_s: vec![d.range(0.0005, 0.004)],
                spread_hz: d.ratio(0.1, 2.0),
            };
        }),
        kind("sudden fades", |e, d| {
            e.es_n0_db = d.range(12.0, 25.0);
            e.path = Path::Dips {
                depth_db: d.range(12.0, 30.0),
                lasts_s: d.range(0.1, 1.5),
                every_s: d.range(1.5, 6.0),
            };
        }),
        kind("wander", |e, d| {
            e.stray = Stray {
                drift_hz_per_s: 0.0,
                wander_hz: d.range(0.5, 4.0),
            };
        }),
        kind("slow fading", |e, d| {
            e.path = Path::Slow {
                swing_db: d.range(6.0, 20.0),
                period_s: d.range(4.0, 40.0),
            };
        }),
        kind("Morse between the tones", |e, d| {
            let (low, high) = between(e);
            e.troubles.push(Trouble::Morse {
                hz: d.range(low, high),
                level_db: d.range(-6.0, 12.0),
                wpm: d.range(10.0, 30.0),
            });
        }),
        kind("static", |e, d| {
            e.troubles.push(Trouble::Static {
                per_s: d.ratio(0.2, 5.0),
                level_db: d.range(6.0, 30.0),
                lasts_s: d.ratio(0.003, 0.1),
            });
        }),
        kind("filled with shifts", |e, d| {
            e.sender.pace = Pace::Filled {
                share: d.range(0.1, 0.7),
            };
        }),
        kind("samples lost", |e, d| {
            e.losses = Some([d.range(4.0, 30.0), d.ratio(0.02, 0.5)]);
        }),
    ]
}

/// The evening of a kind and a seed.
pub fn evening(kind: &Kind, draw: &mut Draw) -> Evening {
    let mut evening = ordinary(draw);
    (kind.make)(&mut evening, draw);
    evening
}

/// An evening with nothing wrong but noise.
fn ordinary(draw: &mut Draw) -> Evening {
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
        agc_s: None,
        clip: None,
        losses: None,
        level: draw.ratio(0.005, 0.25),
        offset: 0.0,
        pointed: false,
    };
    if draw.chance(0.7) {
        let above = evening.sender.mark_hz.max(evening.sender.space_hz) + 200.0;
        evening.filters.push(BandPass {
            low_hz: draw.range(100.0, 350.0),
            high_hz: draw.range(2400_f64.max(above), 3400_f64.max(above)),
            order: 2 + draw.below(9),
        });
    }
    evening
}

/// A sender as one usually hears it.
fn sender(draw: &mut Draw) -> Sender {
    let shift_hz = draw.pick(&[170.0, 170.0, 170.0, 170.0, 425.0, 450.0, 850.0, 200.0, 85.0]);
    let middle_hz = draw.range(500.0 + shift_hz / 2.0, 2600.0 - shift_hz / 2.0);
    let half_hz = draw.sign() * shift_hz / 2.0;
    let baud: f64 = draw.pick(&[45.45, 45.45, 45.45, 50.0, 50.0, 75.0, 100.0]);
    let baud = if shift_hz < 150.0 {
        baud.min(50.0)
    } else {
        baud
    };
    Sender {
        matter: Matter::Mixed,
        row: Row::Ita2,
        unshift: false,
        repeat_shift: draw.chance(0.5),
        mark_hz: middle_hz - half_hz,
        space_hz: middle_hz + half_hz,
        baud,
        stop: draw.pick(&[1.42, 1.5, 1.5, 2.0]),
        pace: Pace::Tape,
        bias: 0.0,
        jitter_s: 0.0,
        oscillator: draw.pick(&[
            Oscillator::Moved,
            Oscillator::Moved,
            Oscillator::Two,
            Oscillator::Fresh,
        ]),
        levels: [1.0, 1.0],
        overs_s: None,
        lead_s: draw.range(0.3, 4.0),
    }
}

/// A frequency at least so far from both tones, Hz.
fn away(evening: &Evening, draw: &mut Draw, least_hz: f64) -> f64 {
    let Sender {
        mark_hz, space_hz, ..
    } = evening.sender;
    loop {
        let hz = draw.range(300.0, 2700.0);
        if (hz - mark_hz).abs().min((hz - space_hz).abs()) >= least_hz {
            return hz;
        }
    }
}

/// The tones, the lower first, Hz.
fn between(evening: &Evening) -> (f64, f64) {
    let Sender {
        mark_hz, space_hz, ..
    } = evening.sender;
    (mark_hz.min(space_hz), mark_hz.max(space_hz))
}

/// Makes the shift one that a narrow filter takes.
fn narrow_shift(evening: &mut Evening, draw: &mut Draw) {
    let s = &mut evening.sender;
    let (middle, half) = (
        (s.mark_hz + s.space_hz) / 2.0,
        draw.sign() * draw.pick(&[85.0, 85.0, 42.5, 100.0]),
    );
    (s.mark_hz, s.space_hz) = (middle - half, middle + half);
    s.baud = draw.pick(&[45.45, 50.0]);
}

/// A crystal filter about the middle of the tones, tuned well or not so well.
fn crystal(evening: &mut Evening, draw: &mut Draw, least_hz: f64, most_hz: f64) {
    let s = &evening.sender;
    let middle = (s.mark_hz + s.space_hz) / 2.0 + draw.range(-30.0, 30.0);
    let half = draw.range(least_hz, most_hz) / 2.0;
    evening.filters.push(BandPass {
        low_hz: middle - half,
        high_hz: middle + half,
        order: 2 + draw.below(5),
    });
}

/// A second five-unit signal beside the wanted one, or sharing one of its tones.
fn neighbour(evening: &mut Evening, draw: &mut Draw) {
    evening.pointed = true;
    let own = evening.sender.clone();
    let shares = draw.chance(0.2);
    let shift_hz = (own.space_hz - own.mark_hz).abs();
    let off_hz = draw.sign()
        * if shares {
            shift_hz
        } else {
            draw.range(60.0, 300.0)
        };
    let reversed = !shares && draw.chance(0.3);
    let (mark_hz, space_hz) = (own.mark_hz + off_hz, own.space_hz + off_hz);
    let other = Sender {
        matter: draw.pick(&[Matter::Prose, Matter::Rows, Matter::Figures]),
        mark_hz: if reversed { space_hz } else { mark_hz },
        space_hz: if reversed { mark_hz } else { space_hz },
        baud: draw.pick(&[45.45, 50.0, 75.0]),
        ..own
    };
    evening
        .others
        .push((other, Path::Steady, draw.range(-3.0, 9.0)));
}
