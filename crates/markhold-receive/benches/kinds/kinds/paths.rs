//! The way through the air.

use super::Make;
use crate::evenings::draw::Draw;
use crate::evenings::path::Path;

pub const KINDS: [(&str, Make); 9] = [
    ("two paths", |e, d| {
        e.es_n0_db = d.range(12.0, 25.0);
        e.path = Path::Echoes {
            delays_s: vec![d.range(0.0005, 0.004)],
            spread_hz: d.ratio(0.1, 2.0),
        };
    }),
    ("three paths", |e, d| {
        e.es_n0_db = d.range(12.0, 25.0);
        e.path = Path::Echoes {
            delays_s: vec![d.range(0.0005, 0.002), d.range(0.002, 0.005)],
            spread_hz: d.ratio(0.1, 1.5),
        };
    }),
    ("flat fading", |e, d| {
        e.es_n0_db = d.range(12.0, 25.0);
        e.path = Path::Echoes {
            delays_s: Vec::new(),
            spread_hz: d.ratio(0.05, 1.0),
        };
    }),
    ("tones fade by turns", |e, d| {
        e.es_n0_db = d.range(12.0, 25.0);
        // The echo that puts one tone where the other is not.
        let shift_hz = (e.sender.mark_hz - e.sender.space_hz).abs();
        e.path = Path::Echoes {
            delays_s: vec![0.5 / shift_hz],
            spread_hz: d.ratio(0.03, 0.2),
        };
    }),
    ("flutter", |e, d| {
        e.es_n0_db = d.range(14.0, 28.0);
        e.path = Path::Echoes {
            delays_s: vec![d.range(0.0005, 0.003)],
            spread_hz: d.range(3.0, 10.0),
        };
    }),
    ("polar flutter", |e, d| {
        e.es_n0_db = d.range(12.0, 25.0);
        e.path = Path::Flutter {
            steady: d.range(0.3, 0.9),
            spread_hz: d.range(10.0, 40.0),
        };
    }),
    ("late echo", |e, d| {
        e.es_n0_db = d.range(12.0, 25.0);
        e.path = Path::Echoes {
            delays_s: vec![d.range(0.006, 0.012)],
            spread_hz: d.ratio(0.1, 1.0),
        };
    }),
    ("sudden fades", |e, d| {
        e.es_n0_db = d.range(12.0, 25.0);
        e.path = dips(d);
    }),
    ("slow fading", |e, d| {
        e.path = Path::Slow {
            swing_db: d.range(6.0, 25.0),
            period_s: d.range(4.0, 40.0),
        };
    }),
];

fn dips(draw: &mut Draw) -> Path {
    Path::Dips {
        depth_db: draw.range(12.0, 30.0),
        lasts_s: draw.range(0.1, 1.5),
        every_s: draw.range(1.5, 6.0),
    }
}
