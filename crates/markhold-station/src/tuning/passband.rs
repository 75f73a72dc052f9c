//! What the receiver lets through, found from its noise.

use crate::instruments::floor::plateau_db;
use crate::instruments::spectra::BIN_HZ;

/// An edge is where the noise has fallen by this much, dB: between the 3 and 6 dB that are
/// the usual measures of a filter's edge.
const EDGE_DB: f32 = 4.5;
/// Bins averaged: 80 Hz.
const SMOOTH: usize = 5;
/// The least that a passband can be to hold a pair and the dial's error, Hz.
const LEAST_HZ: f64 = 250.0;

/// Lower and upper edge, Hz, from the noise floor of each bin in dB; `None` if no edge can
/// be seen: the noise goes on to both ends, or there is none.
pub fn passband(floor_db: &[f32]) -> Option<[f64; 2]> {
    let smooth: Vec<f32> = floor_db
        .windows(SMOOTH)
        .map(|w| w.iter().sum::<f32>() / SMOOTH as f32)
        .collect();
    let level = plateau_db(floor_db).filter(|db| *db >= -115.0)?;
    let inside = |db: &f32| *db > level - EDGE_DB;
    // The longest stretch inside: a lone signal beyond the edge is none.
    let (mut best, mut from) = (0..0, None);
    for (k, db) in smooth.iter().chain([&f32::MIN]).enumerate() {
        match (inside(db), from) {
            (true, None) => from = Some(k),
            (false, Some(begin)) => {
                if k - begin > best.len() {
                    best = begin..k;
                }
                from = None;
            }
            _ => {}
        }
    }
    let hz = |k: usize| (k + SMOOTH / 2) as f64 * BIN_HZ;
    let edges = [hz(best.start), hz(best.end)];
    let open = best.start == 0 && best.end == smooth.len();
    (!open && edges[1] - edges[0] >= LEAST_HZ).then_some(edges)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instruments::floor::Floor;
    use crate::instruments::spectra::Spectra;
    use markhold_air::{Air, Noise, Passband, Scene, Sender};
    use markhold_code::FiguresRow;

    fn found(passband_hz: Option<(f64, f64)>, rate: u32, noise: Noise) -> Option<[f64; 2]> {
        let sender = Sender::of_text("RYRY ", FiguresRow::Ita2).expect("fits");
        let scene = Scene {
            senders: vec![Sender {
                repeat: true,
                ..sender
            }],
            noise,
            passband: passband_hz.map(|(low_hz, high_hz)| Passband { low_hz, high_hz }),
            duration_s: Some(8.0),
            ..Scene::default()
        };
        let sound = Air::new(scene, rate).expect("fine").render();
        let mut floor = Floor::default();
        Spectra::new(rate, 0.0).process(&sound, &mut |s| floor.process(&s));
        passband(floor.db().expect("settled"))
    }

    #[test]
    fn the_edges_are_where_the_filter_has_them() {
        for rate in [8000, 48_000] {
            for (low, high) in [(300.0, 2700.0), (1800.0, 2600.0), (500.0, 3000.0)] {
                let noise = Noise::EsN0Db(15.0);
                let [a, b] = found(Some((low, high)), rate, noise).expect("edges");
                // Butterworth of fourth order is 3 dB down at its edge and 6 dB at 1.147
                // times that (textbook); the floor's median has some play.
                assert!(
                    (low / 1.147 - 120.0..low + 50.0).contains(&a),
                    "{a} for {low}"
                );
                assert!(
                    (high - 50.0..high * 1.147 + 120.0).contains(&b),
                    "{b} for {high}"
                );
            }
        }
    }

    /// Two strong tones whose skirts fall by 2.5 dB a bin cover more than a third of a voice filter.
    #[test]
    fn the_skirts_of_a_signal_are_no_filter() {
        let away = |k: i32, from: i32| (k - from).unsigned_abs() as f32;
        let floor_db: Vec<f32> = (0..256)
            .map(|k| {
                let noise = match k {
                    20..=170 => -60.0,
                    _ => -60.0 - 2.0 * away(k, 20).min(away(k, 170)),
                };
                let skirts = [60, 110].map(|tone| -20.0 - 2.5 * away(k, tone));
                skirts.into_iter().fold(noise, f32::max)
            })
            .collect();
        let [low, high] = passband(&floor_db).expect("edges");
        assert!((low - 20.0 * BIN_HZ).abs() < 60.0, "{low}");
        assert!((high - 170.0 * BIN_HZ).abs() < 60.0, "{high}");
    }

    #[test]
    fn without_a_filter_or_without_noise_there_is_none() {
        assert_eq!(found(None, 8000, Noise::EsN0Db(15.0)), None);
        assert_eq!(found(None, 48_000, Noise::EsN0Db(15.0)), None);
        assert_eq!(passband(&[-127.0; 256]), None);
    }
}
