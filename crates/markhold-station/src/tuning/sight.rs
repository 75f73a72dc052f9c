//! The fast sight of a pair: from short spectra, long before the receiver has found it.
//!
//! The mean of the latest spectra is looked at, so that weak tones stand out and places are
//! sure. When the tones turn up elsewhere, all that was heard before is thrown away and the
//! mean begins anew: one spectrum is enough where both tones stand well out of the noise.
//! Between characters only mark is there, so a pair that was seen is held while one of its
//! tones is.

use super::humps::{Hump, humps, mean};
use crate::instruments::floor::db;
use crate::instruments::spectra::{BIN_HZ, Spectrum};
use markhold_code::usual::SHIFTS_HZ;
use std::collections::VecDeque;

/// How far a tone must stand over the noise in one spectrum, dB: in noise alone one of a
/// hundred bins does so once in ten thousand spectra.
const ONE_DB: f32 = 13.0;
/// The part of it that averaging does not lower, dB: keying spreads tones.
const LEAST_DB: f32 = 4.5;
/// Most spectra in the mean: 0.4 s.
const MEAN_OF: usize = 10;
/// A tone is where it was when it is no further away than this, Hz.
const SAME_HZ: f64 = 22.0;
/// In a single spectrum, chopped by keying, it may seem to be this far away, Hz.
const SEEMS_HZ: f64 = 40.0;
/// Tones this many times weaker than the strongest may be what the tails of a spectrum
/// still hold of the time before the dial was turned.
const STRONG: f32 = 10.0;
/// Distances that two tones of a pair may have, Hz: 85 less what two places may be off. One
/// keyed tone alone has sidebands at 66.
const SHIFT_HZ: (f64, f64) = (73.0, 1000.0);
/// Tones nearer than this may be one tone and a sideband of its keying, Hz: those of 100 baud that are
/// strong enough to be seen.
const SIDEBAND_HZ: f64 = 130.0;
/// Both tones of a pair are of like strength within this ratio, fading and all.
const LIKE: f32 = 30.0;
/// How far a distance may be from a usual one, Hz: two places, each within some Hz.
const USUAL_HZ: f64 = 14.0;
/// Without any tone a pair is remembered for so many spectra: 1.5 s.
const MEMORY: u32 = 38;
/// A tone alone is one after so many spectra: 0.6 s; a run of mark is shorter.
const ALONE: u32 = 15;
/// A third tone within the pair is another signal after so many spectra: 1 s.
const CROWDED: u32 = 25;
/// A tone alone is keyed if its level changes by at least this much from one spectrum to
/// the next, mean of late, dB. A steady one at 13 dB over the noise changes by 1 dB.
const KEYED_DB: f32 = 2.0;
/// Share of the newest in means of late: half a second.
const LATE: f32 = 0.08;

/// A tone without another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lone {
    /// Where, Hz.
    pub hz: f64,
    /// Whether it comes and goes as one of two keyed tones does.
    pub keyed: bool,
}

/// What is seen at this moment.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Seen {
    /// The two tones, lower first, Hz.
    pub pair: Option<[f64; 2]>,
    /// A tone that has been alone for a while.
    pub lone: Option<Lone>,
    /// Whether another tone stands among those of the pair.
    pub crowded: bool,
}

/// Looks at spectra.
#[derive(Clone, Debug, Default)]
pub struct Sight {
    // state
    latest: VecDeque<Vec<f32>>,
    humps: Vec<Hump>,
    pair: Option<[f64; 2]>,
    /// Spectra since any tone of the pair was there.
    unseen: u32,
    /// Spectra in which the tones seemed to be elsewhere.
    moved_for: u32,
    lone_hz: Option<f64>,
    lone_for: u32,
    lone_db: f32,
    lone_change_db: f32,
    crowded_for: u32,
    chosen: Option<Chosen>,
}

/// A place that a person chose.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Chosen {
    /// Where, Hz.
    pub hz: f64,
    /// How far from it the middle of a pair may be, Hz.
    pub within_hz: f64,
}

impl Chosen {
    /// Whether a pair is there.
    pub fn is(&self, pair_hz: [f64; 2]) -> bool {
        (0.5 * (pair_hz[0] + pair_hz[1]) - self.hz).abs() < self.within_hz
    }
}

impl Sight {
    /// Takes a spectrum and says what is seen now. A pair that the receiver follows is
    /// known beforehand: lower tone first, Hz. Only pairs in the place that was chosen, if one was, are seen.
    pub fn process(
        &mut self,
        spectrum: &Spectrum,
        followed: Option<[f64; 2]>,
        chosen: Option<Chosen>,
    ) -> Seen {
        self.chosen = chosen;
        let now = humps(&spectrum.power, ONE_DB);
        let known = self.pair.or(followed);
        let moved = known.is_some_and(|pair| have_moved(&now, pair));
        self.moved_for = if moved { self.moved_for + 1 } else { 0 };
        // A neighbour may stand out for a moment while the receiver copies.
        if self.moved_for >= if followed.is_some() { 2 } else { 1 } {
            self.latest.clear();
            self.moved_for = 0;
        }
        self.latest.push_back(spectrum.power.clone());
        if self.latest.len() > MEAN_OF {
            self.latest.pop_front();
        }
        let count = self.latest.len() as f32;
        let mean = humps(
            &mean(&self.latest),
            LEAST_DB + (ONE_DB - LEAST_DB) / count.sqrt(),
        );
        // Where all that the receiver follows is there, it is that.
        let is_there = |hz: f64| mean.iter().any(|h| (h.hz - hz).abs() < SAME_HZ);
        let followed = followed.filter(|pair| pair.iter().all(|hz| is_there(*hz)));
        self.look(&spectrum.power, &mean, followed.or(known));
        self.look_for_others(&mean);
        self.humps = mean;
        Seen {
            pair: self.pair,
            lone: self.lone(),
            crowded: self.crowded_for >= CROWDED,
        }
    }

    /// The tones that stand out of the latest mean, strongest first.
    pub fn humps(&self) -> &[Hump] {
        &self.humps
    }

    fn look(&mut self, power: &[f32], mean: &[Hump], known: Option<[f64; 2]>) {
        let there = |pair: [f64; 2]| mean.iter().any(|h| belongs(h.hz, pair, SAME_HZ));
        match (best_pair(mean, known, self.chosen), known) {
            (Some(pair), _) => self.see(pair, power, mean),
            (None, Some(pair)) if there(pair) => self.see(pair, power, mean),
            _ => self.miss(power, mean),
        }
    }

    /// A pair; where its tones are so near to each other that one may be a sideband of the other's
    /// keying, perhaps it is one tone.
    fn see(&mut self, pair: [f64; 2], power: &[f32], mean: &[Hump]) {
        self.pair = Some(pair);
        self.unseen = 0;
        match pair[1] - pair[0] < SIDEBAND_HZ {
            true => self.watch_one(power, mean),
            false => self.lone_hz = None,
        }
    }

    /// No pair: perhaps one tone of one.
    fn miss(&mut self, power: &[f32], mean: &[Hump]) {
        self.unseen += 1;
        if self.unseen > MEMORY {
            self.pair = None;
        }
        self.watch_one(power, mean);
        if self.lone_for == ALONE {
            // It has stood alone for too long to be one of that pair.
            self.pair = None;
        }
    }

    fn watch_one(&mut self, power: &[f32], mean: &[Hump]) {
        let Some(hump) = mean.first() else {
            self.lone_hz = None;
            return;
        };
        let level_db = db(level_near(power, hump.hz));
        if self
            .lone_hz
            .is_some_and(|hz| (hz - hump.hz).abs() < SAME_HZ)
        {
            let change_db = (level_db - self.lone_db).abs();
            self.lone_change_db += LATE * (change_db - self.lone_change_db);
            self.lone_for += 1;
        } else {
            (self.lone_for, self.lone_change_db) = (1, 0.0);
        }
        (self.lone_hz, self.lone_db) = (Some(hump.hz), level_db);
    }

    fn lone(&self) -> Option<Lone> {
        let hz = self.lone_hz.filter(|_| self.lone_for >= ALONE)?;
        Some(Lone {
            hz,
            keyed: self.lone_change_db > KEYED_DB,
        })
    }

    fn look_for_others(&mut self, mean: &[Hump]) {
        let within = |hz: f64, [low, high]: [f64; 2]| hz > low - 60.0 && hz < high + 60.0;
        let crowded = self.pair.is_some_and(|pair| {
            let others = mean.iter().take(4);
            let mut others = others.filter(|h| !belongs(h.hz, pair, SAME_HZ) && within(h.hz, pair));
            others.next().is_some()
        });
        self.crowded_for = if crowded { self.crowded_for + 1 } else { 0 };
    }
}

fn belongs(hz: f64, pair: [f64; 2], within_hz: f64) -> bool {
    pair.iter().any(|tone| (tone - hz).abs() < within_hz)
}

/// The highest power near a place, within what keying makes of it.
fn level_near(power: &[f32], hz: f64) -> f32 {
    let bin = |hz: f64| ((hz / BIN_HZ).round() as usize).min(power.len() - 1);
    let near = &power[bin(hz - SEEMS_HZ)..=bin(hz + SEEMS_HZ)];
    near.iter().copied().fold(0.0, f32::max)
}

/// Whether the tones are elsewhere: all strong ones are, or two of them are as far apart as
/// the pair's and elsewhere.
fn have_moved(now: &[Hump], pair: [f64; 2]) -> bool {
    let Some(top) = now.first() else {
        return false;
    };
    let strong: Vec<&Hump> = now
        .iter()
        .filter(|h| h.power * STRONG > top.power)
        .collect();
    let [low, high] = pair;
    if let [a, b, ..] = strong[..] {
        let same_shift = ((a.hz - b.hz).abs() - (high - low)).abs() < SAME_HZ;
        let off_hz = 0.5 * (a.hz + b.hz - low - high);
        if same_shift {
            return off_hz.abs() > SEEMS_HZ;
        }
    }
    !strong.iter().any(|h| belongs(h.hz, pair, SEEMS_HZ))
}

/// The two humps that look most like a pair; one that is known already first, then one of a
/// usual shift.
fn best_pair(humps: &[Hump], known: Option<[f64; 2]>, chosen: Option<Chosen>) -> Option<[f64; 2]> {
    let known_shift = known.map(|[low, high]| high - low);
    let weight = |a: &Hump, b: &Hump| {
        let shift = (a.hz - b.hz).abs();
        let is_here = chosen.is_none_or(|c| c.is([a.hz, b.hz]));
        let fits = is_here && (SHIFT_HZ.0..=SHIFT_HZ.1).contains(&shift);
        let alike = a.power < LIKE * b.power && b.power < LIKE * a.power;
        let near = |usual: f64| (usual - shift).abs() < USUAL_HZ;
        let as_known = known_shift.is_some_and(near);
        let usual = SHIFTS_HZ.into_iter().any(near);
        let stayed =
            known.is_some_and(|pair| belongs(a.hz, pair, SAME_HZ) && belongs(b.hz, pair, SAME_HZ));
        let times = |so: bool, times: f32| if so { times } else { 1.0 };
        let likely = times(stayed, 100.0) * times(as_known, 100.0) * times(usual, 10.0);
        (fits && alike).then(|| likely * a.power.min(b.power))
    };
    let mut best: Option<(f32, [f64; 2])> = None;
    for (i, a) in humps.iter().enumerate() {
        for b in &humps[i + 1..] {
            if let Some(weight) = weight(a, b)
                && best.is_none_or(|(most, _)| weight > most)
            {
                best = Some((weight, [a.hz.min(b.hz), a.hz.max(b.hz)]));
            }
        }
    }
    best.map(|(_, pair)| pair)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instruments::spectra::Spectra;
    use markhold_air::{Air, Carrier, Jump, Keying, Noise, Passband, Place, Scene, Sender};
    use markhold_code::FiguresRow;

    fn scene(centre_hz: f64, es_n0_db: f64) -> Scene {
        let text = "THE HARBOUR CLUB WISHES ALL STATIONS A QUIET EVENING ";
        let sender = Sender::of_text(text, FiguresRow::Ita2).expect("fits");
        Scene {
            senders: vec![Sender {
                centre_hz,
                repeat: true,
                ..sender
            }],
            noise: Noise::EsN0Db(es_n0_db),
            duration_s: Some(12.0),
            ..Scene::default()
        }
    }

    fn seen(scene: Scene) -> Vec<(f64, Seen)> {
        seen_with(scene, None)
    }

    fn seen_with(scene: Scene, followed: Option<[f64; 2]>) -> Vec<(f64, Seen)> {
        let sound = Air::new(scene, 8000).expect("fine").render();
        let (mut sight, mut all) = (Sight::default(), Vec::new());
        Spectra::new(8000, 0.0).process(&sound, &mut |s| {
            all.push((s.until_s, sight.process(&s, followed, None)));
        });
        all
    }

    fn is_at(seen: &Seen, centre_hz: f64) -> bool {
        seen.pair.is_some_and(|[low, high]| {
            (low - centre_hz + 85.0).abs() < 20.0 && (high - centre_hz - 85.0).abs() < 20.0
        })
    }

    #[test]
    fn a_pair_is_seen_within_a_second_of_its_first_character_and_held() {
        for (es_n0_db, least) in [(30.0, 0.99), (20.0, 0.97), (14.0, 0.85)] {
            let all = seen(scene(1500.0, es_n0_db));
            // A second of idle mark comes first.
            let late: Vec<_> = all.iter().filter(|(t, _)| *t > 2.0).collect();
            let right = late.iter().filter(|(_, s)| is_at(s, 1500.0)).count();
            let share = right as f64 / late.len() as f64;
            assert!(share >= least, "{share} at {es_n0_db} dB");
        }
    }

    #[test]
    fn noise_alone_is_no_pair() {
        let mut scene = scene(1500.0, 15.0);
        scene.senders[0].begin_s = 11.0;
        let all = seen(scene);
        let early = all.iter().filter(|(t, _)| *t < 10.5);
        let pairs = early.filter(|(_, s)| s.pair.is_some()).count();
        assert_eq!(pairs, 0);
    }

    #[test]
    fn a_turned_dial_is_seen_at_once() {
        let mut scene = scene(1500.0, 25.0);
        scene.dial_drift.jumps = vec![Jump {
            at_s: 6.0,
            by_hz: 400.0,
        }];
        let all = seen(scene);
        let first = all.iter().find(|(t, s)| *t > 6.0 && is_at(s, 1900.0));
        assert!(first.expect("seen").0 < 6.5);
        let after = all.iter().filter(|(t, _)| *t > 6.5);
        assert!(after.clone().all(|(_, s)| is_at(s, 1900.0)));
    }

    #[test]
    fn a_pair_at_the_edge_is_one_keyed_tone() {
        let mut scene = scene(330.0, 25.0);
        scene.passband = Some(Passband {
            low_hz: 380.0,
            high_hz: 2700.0,
        });
        scene.senders[0].shift_hz = 450.0;
        let all = seen(scene);
        let late = all.iter().filter(|(t, _)| *t > 4.0);
        let keyed = late.filter(|(_, s)| {
            s.lone
                .is_some_and(|l| l.keyed && (l.hz - 555.0).abs() < 20.0)
        });
        assert!(keyed.count() > 150);
    }

    #[test]
    fn a_carrier_is_a_steady_tone() {
        let mut scene = scene(1500.0, 25.0);
        scene.senders.clear();
        scene.noise = Noise::Silent;
        scene.carriers = vec![Carrier {
            place: Place::At(1000.0),
            keying: Keying::Steady,
            ..Carrier::default()
        }];
        let all = seen(scene);
        let late = all.iter().filter(|(t, _)| *t > 2.0);
        assert!(late.clone().count() > 200);
        for (_, seen) in late {
            assert!(seen.lone.is_some_and(|l| !l.keyed), "{seen:?}");
        }
    }

    #[test]
    fn a_carrier_among_the_tones_makes_a_crowd() {
        let mut crowded = scene(1500.0, 25.0);
        crowded.senders[0].shift_hz = 450.0;
        let pair = Some([1275.0, 1725.0]);
        let alone = seen_with(crowded.clone(), pair);
        assert!(alone.iter().all(|(_, s)| !s.crowded));
        crowded.carriers = vec![Carrier {
            place: Place::At(1480.0),
            keying: Keying::Steady,
            ..Carrier::default()
        }];
        let all = seen_with(crowded, pair);
        let late = all.iter().filter(|(t, _)| *t > 4.0);
        assert!(late.filter(|(_, s)| s.crowded).count() > 150);
    }
}
