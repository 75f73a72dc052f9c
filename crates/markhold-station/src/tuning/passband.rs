//! What the receiver lets through, found from its noise.

use crate::instruments::spectra::BIN_HZ;

/// An edge is where the noise has fallen by this much, dB: between the 3 and 6 dB that are
/// the usual measures of a filter's edge.
const EDGE_DB: f32 = 4.5;
/// Bins averaged: 80 Hz.
const SMOOTH: usize = 5;
/// Noise that a filter lets through is flat: bins agree within this, dB, as well as a floor of some
/// seconds is known.
const FLAT_DB: f32 = 3.0;
/// So many must: of a filter of 250 Hz most do. The skirts of a signal are steep, and its tones narrow.
const AGREE: usize = 14;
/// The least that a passband can be to hold a pair and the dial's error, Hz.
const LEAST_HZ: f64 = 250.0;

/// Lower and upper edge, Hz, from the noise floor of each bin in dB; `None` if no edge can
/// be seen: the noise goes on to both ends, or there is none.
pub fn passband(floor_db: &[f32]) -> Option<[f64; 2]> {
    // Where a filter is narrow, most bins agree on what is beyond it.
    [usual_db(floor_db)?, highest_db(floor_db)?]
        .into_iter()
        .find_map(|level| edges(floor_db, level))
}

/// The edges of what stands at this level, dB.
fn edges(floor_db: &[f32], level: f32) -> Option<[f64; 2]> {
    let smooth: Vec<f32> = floor_db
        .windows(SMOOTH)
        .map(|w| w.iter().sum::<f32>() / SMOOTH as f32)
        .collect();
    if level < -115.0 {
        return None;
    }
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

/// Levels of all bins that hold anything, dB, the highest first.
fn levels(floor_db: &[f32]) -> Vec<f32> {
    let mut all: Vec<f32> = floor_db.iter().copied().filter(|db| *db > -125.0).collect();
    all.sort_by(|a, b| b.total_cmp(a));
    all
}

/// How many levels from this one on agree with it.
fn agree(all: &[f32], first: usize) -> usize {
    let flat = |db: &&f32| all[first] - **db < FLAT_DB;
    all[first..].iter().take_while(flat).count()
}

/// The level at which most bins agree: neither a signal nor its skirts are flat.
fn usual_db(floor_db: &[f32]) -> Option<f32> {
    let all = levels(floor_db);
    let most = (0..all.len()).max_by_key(|first| (agree(&all, *first), all.len() - first))?;
    Some(all[most + agree(&all, most) / 2])
}

/// The highest level at which many bins agree.
fn highest_db(floor_db: &[f32]) -> Option<f32> {
    let all = levels(floor_db);
    let first = (0..all.len()).find(|first| agree(&all, *first) >= AGREE)?;
    Some(all[first + agree(&all, first) / 2])
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

    /// A strong signal with wide tones covers much of what a voice filter lets through.
    #[test]
    fn the_skirts_of_a_signal_are_no_filter() {
        for (rate_baud, shift_hz) in [(75.0, 850.0), (50.0, 425.0), (100.0, 170.0)] {
            let sender = Sender::of_text("RYRY ", FiguresRow::Ita2).expect("fits");
            let scene = Scene {
                senders: vec![Sender {
                    repeat: true,
                    shift_hz,
                    centre_hz: 1300.0,
                    speed: markhold_code::StartStop::new(rate_baud, 1.5),
                    ..sender
                }],
                noise: Noise::EsN0Db(26.0),
                passband: Some(Passband::default()),
                duration_s: Some(12.0),
                ..Scene::default()
            };
            let Passband { low_hz, high_hz } = Passband::default();
            let sound = Air::new(scene, 8000).expect("fine").render();
            let mut floor = Floor::default();
            Spectra::new(8000, 0.0).process(&sound, &mut |s| floor.process(&s));
            let [a, b] = passband(floor.db().expect("settled")).expect("edges");
            let near = (a - low_hz).abs() < 130.0 && (b - high_hz).abs() < 250.0;
            assert!(near, "{rate_baud} {shift_hz}: {a} {b}");
        }
    }

    #[test]
    fn without_a_filter_or_without_noise_there_is_none() {
        assert_eq!(found(None, 8000, Noise::EsN0Db(15.0)), None);
        assert_eq!(found(None, 48_000, Noise::EsN0Db(15.0)), None);
        assert_eq!(passband(&[-127.0; 256]), None);
    }
}
