mod gain;
mod laws;

use super::frames::{Expected, Frames};
use super::*;
use markhold_air::{
    Agc, Air, Carrier, Channel, Crashes, Interval, Keying, Noise, Passband, Place, Scene, Sender,
    SenderModel, Speech,
};
use markhold_code::FiguresRow;

/// Before this nothing is done, s: the warm-up and what is behind it.
const BEGIN_S: f64 = 0.6;
/// An AGC of half a second begins at a level of its own; after this it has found its place,
/// and the floor as well, s.
const SETTLED_S: f64 = 4.0;

struct Levelled {
    out: Vec<f32>,
    cells: Vec<CellLevel>,
    cell_s: f64,
}

fn level_in_blocks(sound: &[f32], rate: f64, block: usize) -> Levelled {
    let mut leveller = Leveller::new(BandPlan::new(rate));
    let cell_s = leveller.cell() as f64 / rate;
    let (mut out, mut cells) = (Vec::new(), Vec::new());
    for part in sound.chunks(block) {
        leveller.process(part, &mut out, &mut cells);
    }
    leveller.finish(&mut out, &mut cells);
    assert_eq!(out.len(), sound.len());
    assert_eq!(cells.len(), sound.len().div_ceil(leveller.cell()));
    Levelled { out, cells, cell_s }
}

fn level(sound: &[f32], rate: f64) -> Levelled {
    level_in_blocks(sound, rate, 1000)
}

/// Bulletin text at 45.45 baud and 170 Hz shift in noise.
fn scene(es_n0_db: f64, seconds: f64) -> Scene {
    let text = "NR 7 DE Q1ABC THE MILL STREAM IS HIGH 042\n";
    let sender = Sender {
        repeat: true,
        ..Sender::of_text(text, FiguresRow::Us).expect("it fits")
    };
    Scene {
        senders: vec![sender],
        noise: Noise::EsN0Db(es_n0_db),
        duration_s: Some(seconds),
        level_dbfs: -20.0,
        ..Scene::default()
    }
}

/// A bulletin beside a strong Morse station.
fn with_neighbour(level_db: f64) -> Scene {
    Scene {
        carriers: vec![Carrier {
            level_db,
            place: Place::Beside(-400.0),
            keying: Keying::Morse { wpm: 18.0 },
            ..Carrier::default()
        }],
        ..scene(20.0, 20.0)
    }
}

/// No result may hang on one lucky draw.
const SEEDS: std::ops::RangeInclusive<u64> = 1..=4;

/// As a sound card would bring it: 16 bits.
fn recorded(scene: &Scene, rate: u32) -> Vec<f32> {
    let sound = Air::new(scene.clone(), rate).expect("fine").render();
    sound
        .iter()
        .map(|x| (x * 32767.0).round() / 32767.0)
        .collect()
}

/// Share of crash cells with less than a tenth left, and share of touched cells outside.
/// Cells at an edge count as neither, and `margin_s` beyond it.
fn hits_and_false(levelled: &Levelled, crashes: &[Interval], margin_s: f64) -> (f64, f64) {
    hits_and_false_from(BEGIN_S, levelled, crashes, margin_s)
}

fn hits_and_false_from(
    from_s: f64,
    levelled: &Levelled,
    crashes: &[Interval],
    margin_s: f64,
) -> (f64, f64) {
    let (mut inside, mut outside) = ((0, 0), (0, 0));
    let first = (from_s / levelled.cell_s) as usize;
    for (k, cell) in levelled.cells.iter().enumerate().skip(first) {
        let (from, to) = (k as f64 * levelled.cell_s, (k + 1) as f64 * levelled.cell_s);
        let touches = |c: &Interval| from < c.end_s + margin_s && to > c.start_s - margin_s;
        if crashes.iter().any(|c| c.start_s <= from && to <= c.end_s) {
            inside = (inside.0 + u32::from(cell.clear < 0.1), inside.1 + 1);
        } else if !crashes.iter().any(touches) {
            outside = (outside.0 + u32::from(cell.clear < 1.0), outside.1 + 1);
        }
    }
    let share = |(n, of): (u32, u32)| f64::from(n) / f64::from(of.max(1));
    (share(inside), share(outside))
}

fn gain_rms_db(levelled: &Levelled) -> f64 {
    let first = (BEGIN_S / levelled.cell_s) as usize;
    let cells = &levelled.cells[first..];
    let square = |c: &CellLevel| (20.0 * f64::from(c.gain).log10()).powi(2);
    (cells.iter().map(square).sum::<f64>() / cells.len() as f64).sqrt()
}

fn crashes(level_db: f64) -> Option<Crashes> {
    Some(Crashes {
        level_db,
        ..Crashes::default()
    })
}

#[test]
fn white_noise_at_the_floor_reads_one() {
    for (rate, cell) in [(6000, 6), (8000, 8), (48_000, 48)] {
        let noise = Scene {
            senders: vec![],
            noise: Noise::SnrDb {
                snr_db: 0.0,
                bandwidth_hz: 2500.0,
            },
            ..scene(0.0, 12.0)
        };
        let sound = recorded(&noise, rate);
        let mut frames = Frames::new(cell);
        let expected = Expected {
            level: 1.0,
            pull: 1.0,
        };
        let (mut level, mut power, mut count) = (0.0, 0.0, 0.0);
        for (n, frame) in sound.windows(16 * cell).step_by(4 * cell).enumerate() {
            let heard = frames.process(frame, expected);
            if n >= 1000 {
                level += f64::from(heard.reading.level);
                power += f64::from(heard.powers.iter().sum::<f32>()) / 4.0;
                count += 1.0;
            }
        }
        // Taking the strongest bins for tones costs 1.2 %: exp(-6) (6 + 1 - 1).
        for (what, mean) in [("level", level / count), ("power", power / count)] {
            let off_db = 10.0 * mean.log10();
            assert!(off_db.abs() < 0.7, "{what} at {rate} Hz: {off_db} dB");
        }
    }
}

#[test]
fn crashes_are_taken_down_and_nothing_else() {
    let narrow = Passband {
        low_hz: 1900.0,
        high_hz: 2500.0,
    };
    for (rate, passband, most_false) in [
        (8000, None, 0.001),
        (48_000, None, 0.001),
        // The filter rings for some milliseconds, which is heard.
        (8000, Some(Passband::default()), 0.003),
        (11_025, Some(narrow), 0.003),
    ] {
        for (level_db, seed) in [20.0, 25.0]
            .into_iter()
            .flat_map(|l| SEEDS.map(move |s| (l, s)))
        {
            let scene = Scene {
                seed,
                crashes: crashes(level_db),
                passband,
                level_dbfs: -40.0,
                ..scene(15.0, 15.0)
            };
            let truth = Air::new(scene.clone(), rate).expect("fine").truth();
            let levelled = level(&recorded(&scene, rate), f64::from(rate));
            let (hit, wrong) = hits_and_false(&levelled, &truth.crashes(), 0.0015);
            let case = format!("{level_db} dB at {rate} Hz, {passband:?}, seed {seed}");
            assert!(hit >= 0.97, "{case}: {hit} of the crash cells");
            assert!(wrong <= most_false, "{case}: {wrong} of the other cells");
        }
    }
}

/// A crash of 25 dB over the signal in 4 kHz at Es/N0 15 dB and 22 ms elements is
/// 25 + 10 log10(15 dB / 22 ms / 4 kHz) = 20.6 dB over the noise; weights are its inverse.
#[test]
fn weights_are_the_inverse_of_the_power() {
    let scene = Scene {
        crashes: crashes(25.0),
        level_dbfs: -40.0,
        ..scene(15.0, 20.0)
    };
    let truth = Air::new(scene.clone(), 8000).expect("fine").truth();
    let over = 10f64.powf(2.5) / 4000.0 / truth.noise_density();
    let levelled = level(&recorded(&scene, 8000), 8000.0);
    let (mut sum, mut count) = (0.0, 0.0);
    for (k, cell) in levelled.cells.iter().enumerate().skip(600) {
        let (from, to) = (k as f64 / 1000.0 - 0.001, (k + 2) as f64 / 1000.0);
        if truth
            .crashes()
            .iter()
            .any(|c| c.start_s < from && to < c.end_s)
        {
            sum += -10.0 * f64::from(cell.clear).log10();
            count += 1.0;
        }
    }
    let expected = 10.0 * (1.0 + over).log10();
    assert!(
        (sum / count - expected).abs() < 1.5,
        "{} dB, not {expected}",
        sum / count
    );
}

#[test]
fn a_signal_of_any_strength_is_left_alone() {
    let channels = [
        Channel::Steady,
        Channel::MID_LATITUDE_MODERATE,
        Channel::HIGH_LATITUDE_DISTURBED,
    ];
    for es_n0_db in [0.0, 12.0, 25.0, 40.0] {
        for (channel, model) in channels
            .into_iter()
            .flat_map(|c| SenderModel::ALL.map(|m| (c, m)))
        {
            // Broken phases of strong signals click in earnest, above all where two paths
            // cancel and the click of either is left.
            if es_n0_db > 30.0 && model != SenderModel::PhaseContinuous {
                continue;
            }
            let mut scene = scene(es_n0_db, 10.0);
            (scene.senders[0].channel, scene.senders[0].model) = (channel, model);
            let levelled = level(&recorded(&scene, 8000), 8000.0);
            let (_, wrong) = hits_and_false(&levelled, &[], 0.0);
            let case = format!("{es_n0_db} dB, {channel:?}, {model:?}");
            assert!(wrong <= 0.001, "{case}: {wrong} of the cells");
            let rms = gain_rms_db(&levelled);
            assert!(rms <= 0.2, "{case}: {rms} dB");
        }
    }
}

#[test]
fn what_is_left_alone_comes_back_as_it_was() {
    for (rate, seed) in [8000, 44_100]
        .into_iter()
        .flat_map(|r| SEEDS.map(move |s| (r, s)))
    {
        let scene = Scene {
            seed,
            ..scene(12.0, 5.0)
        };
        let sound = recorded(&scene, rate);
        let levelled = level(&sound, f64::from(rate));
        let cell = BandPlan::new(f64::from(rate)).hop / 32;
        let (mut alone, mut before) = (0, 1.0);
        for (k, c) in levelled.cells.iter().enumerate() {
            let untouched = *c == CellLevel::UNTOUCHED && before == 1.0;
            before = c.gain;
            let range = k * cell..((k + 1) * cell).min(sound.len());
            if untouched {
                alone += 1;
                assert!(
                    levelled.out[range.clone()] == sound[range],
                    "cell {k}, seed {seed}"
                );
            }
        }
        let share = f64::from(alone) / levelled.cells.len() as f64;
        assert!(share > 0.98, "{rate} Hz, seed {seed}: {share} of the cells");
    }
}

#[test]
fn keyed_carriers_and_voices_are_no_crashes() {
    let carrier = |level_db, rise_ms| Carrier {
        level_db,
        rise_ms,
        place: Place::Beside(-400.0),
        ..Carrier::default()
    };
    let voice = |level_db| Speech {
        level_db,
        ..Speech::default()
    };
    let with = |carriers, voices| Scene {
        carriers,
        voices,
        level_dbfs: -30.0,
        ..scene(15.0, 20.0)
    };
    for scene in [
        with(vec![carrier(25.0, 5.0)], vec![]),
        with(vec![carrier(25.0, 0.0)], vec![]),
        with(vec![carrier(40.0, 5.0)], vec![]),
        with(vec![], vec![voice(0.0)]),
        with(vec![], vec![voice(15.0)]),
    ] {
        let (_, wrong) = hits_and_false(&level(&recorded(&scene, 8000), 8000.0), &[], 0.0);
        let case = format!("{:?} {:?}", scene.carriers, scene.voices);
        assert!(wrong <= 0.001, "{case}: {wrong} of the cells");
    }
}

#[test]
fn single_impulses_are_caught_in_their_cell_and_nowhere_else() {
    for rate in [8000_u32, 48_000] {
        let mut sound = recorded(&scene(12.0, 8.0), rate);
        let rms = (sound.iter().map(|x| x * x).sum::<f32>() / sound.len() as f32).sqrt();
        let cell = BandPlan::new(f64::from(rate)).hop / 32;
        let at: Vec<usize> = (1..35)
            .map(|k| rate as usize * (k + 3) / 5 + 37 * k)
            .collect();
        // Seven hundred times the power of all sound in 1 ms of 8 kHz is some 20 dB.
        for (&n, sign) in at.iter().zip([1.0, -1.0].into_iter().cycle()) {
            sound[n] += sign * 38.0 * rms * (f64::from(rate) / 8000.0).sqrt() as f32;
        }
        let levelled = level(&sound, f64::from(rate));
        let hit = |&n: &usize| levelled.cells[n / cell].clear < 0.1;
        let hits = at.iter().filter(|n| hit(n)).count();
        assert_eq!(hits, at.len(), "{rate} Hz");
        let touched = levelled.cells.iter().filter(|c| c.clear < 1.0).count();
        assert!(
            touched <= 3 * at.len(),
            "{rate} Hz: {touched} cells for {} clicks",
            at.len()
        );
    }
}

/// A neighbour that is switched off with sharp edges in a crash would be spread over the
/// band; without one there is no need to lose what is beside the crash.
#[test]
fn weights_move_gently_where_strong_signals_are() {
    let steepest = |scene: &Scene| {
        let levelled = level(&recorded(scene, 8000), 8000.0);
        let edges = levelled.cells[2000..]
            .windows(2)
            .filter(|c| c[0].crash != c[1].crash);
        edges
            .map(|c| (c[0].clear - c[1].clear).abs())
            .fold(0.0, f32::max)
    };
    let crashed = |scene| Scene {
        crashes: crashes(25.0),
        level_dbfs: -40.0,
        ..scene
    };
    assert!(steepest(&crashed(scene(15.0, 10.0))) > 0.9);
    // A third of the way at most, and what is left in a cell that the crash only touches.
    assert!(steepest(&crashed(with_neighbour(25.0))) < 0.4);
}
