//! The troubles: scenes in which one thing goes wrong, again and again.

use crate::text::{Draw, draw, message};
use markhold_air::{
    Agc, Carrier, Channel, CrashTiming, Crashes, Drift, Hops, Keying, Noise, Place, Scene, Sender,
    Sense,
};
use markhold_code::{Code, EncodeOptions, FiguresRow, StartStop, encode};
use rand::RngExt;

/// What goes wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// The signal is weak throughout.
    Weak,
    /// Both tones fade together.
    FlatFading,
    /// The tones fade apart.
    SelectiveFading,
    /// Static crashes.
    Crashes,
    /// A keyed carrier within the pair's filters, or between the tones.
    NeighbourInside,
    /// A stronger one beside them.
    NeighbourBeside,
    /// A far stronger one far off that pumps the receiver's AGC.
    Pumping,
    /// The dial is nudged.
    Jumps,
    /// The tones drift fast.
    Drift,
    /// Transitions come early and late.
    Jitter,
    /// One tone is lengthened at the cost of the other.
    Bias,
    /// The speed changes.
    SpeedSteps,
    /// Shift characters are covered by noise.
    ShiftCovered,
}

impl Trouble {
    /// All of them, in the order of the table.
    pub const ALL: [Trouble; 13] = [
        Trouble::Weak,
        Trouble::FlatFading,
        Trouble::SelectiveFading,
        Trouble::Crashes,
        Trouble::NeighbourInside,
        Trouble::NeighbourBeside,
        Trouble::Pumping,
        Trouble::Jumps,
        Trouble::Drift,
        Trouble::Jitter,
        Trouble::Bias,
        Trouble::SpeedSteps,
        Trouble::ShiftCovered,
    ];

    /// Its name in the table.
    pub fn name(self) -> &'static str {
        match self {
            Trouble::Weak => "weak throughout",
            Trouble::FlatFading => "both tones fade together",
            Trouble::SelectiveFading => "tones fade apart",
            Trouble::Crashes => "static crashes",
            Trouble::NeighbourInside => "keyed carrier within the pair",
            Trouble::NeighbourBeside => "keyed carrier beside the pair",
            Trouble::Pumping => "AGC pumped from far off",
            Trouble::Jumps => "dial jumps",
            Trouble::Drift => "fast drift",
            Trouble::Jitter => "jitter",
            Trouble::Bias => "bias",
            Trouble::SpeedSteps => "speed steps",
            Trouble::ShiftCovered => "shift characters covered",
        }
    }

    /// What a receiver hears of it with this seed, one scene directly after the other. All
    /// that the trouble leaves open is drawn.
    pub fn scenes(self, seed: u64, characters: usize) -> Vec<Scene> {
        let mut draw = draw(self.name(), seed);
        let count = if self == Trouble::SpeedSteps { 4 } else { 1 };
        let mut scenes: Vec<Scene> = (0..count)
            .map(|k| {
                let mut scene = plain(&mut draw, characters / count);
                scene.seed = draw.random();
                self.befall(&mut scene, k, &mut draw);
                scene
            })
            .collect();
        if let Some(last) = scenes.last_mut() {
            last.silence_after_s = 2.0;
            last.senders[0].tail_s = 0.5;
        }
        scenes
    }

    fn befall(self, scene: &mut Scene, part: usize, draw: &mut Draw) {
        match self {
            Trouble::Weak => scene.noise = decibels(draw, 3.0..7.0),
            Trouble::FlatFading | Trouble::SelectiveFading => self.fade(scene, draw),
            Trouble::Crashes => crash(scene, draw),
            Trouble::NeighbourInside | Trouble::NeighbourBeside => self.neighbour(scene, draw),
            Trouble::Pumping => pump(scene, draw),
            Trouble::Jumps => {
                scene.noise = decibels(draw, 11.0..15.0);
                scene.dial_drift.hops = Some(Hops {
                    period_s: draw.random_range(2.5..5.0),
                    by_hz: either(draw) * draw.random_range(12.0..75.0),
                });
            }
            Trouble::Drift => {
                scene.noise = decibels(draw, 10.0..14.0);
                drift(scene, draw);
            }
            Trouble::Jitter => scene.senders[0].jitter_ms = draw.random_range(3.5..6.0),
            Trouble::Bias => {
                scene.senders[0].bias_percent = either(draw) * draw.random_range(35.0..50.0);
            }
            Trouble::SpeedSteps => speed_step(scene, part, draw),
            Trouble::ShiftCovered => scene.noise = decibels(draw, 13.0..17.0),
        }
    }

    fn fade(self, scene: &mut Scene, draw: &mut Draw) {
        scene.noise = decibels(draw, 10.0..16.0);
        let spread_hz = draw.random_range(0.15..0.7);
        scene.senders[0].channel = match self {
            Trouble::FlatFading => Channel::Flat { spread_hz },
            _ => Channel::TwoPath {
                delay_ms: draw.random_range(2.0..3.5),
                spread_hz,
            },
        };
    }

    fn neighbour(self, scene: &mut Scene, draw: &mut Draw) {
        scene.noise = decibels(draw, 12.0..17.0);
        let sender = &scene.senders[0];
        let (place, level_db) = match self {
            Trouble::NeighbourInside => {
                let from_centre = draw.random_range(-110.0..110.0);
                (
                    Place::At(sender.centre_hz + from_centre),
                    draw.random_range(0.0..10.0),
                )
            }
            _ => (
                Place::Beside(either(draw) * draw.random_range(50.0..120.0)),
                draw.random_range(10.0..28.0),
            ),
        };
        scene.carriers = vec![Carrier {
            place,
            level_db,
            from_s: NEIGHBOUR_FROM_S,
            keying: Keying::Morse {
                wpm: draw.random_range(10.0..28.0),
            },
            ..Carrier::default()
        }];
    }
}

/// A neighbour comes on when the signal has been found, s.
const NEIGHBOUR_FROM_S: f64 = 12.0;

/// One sender without any trouble.
fn plain(draw: &mut Draw, characters: usize) -> Scene {
    let middle_hz = *[2210.0, 1360.0]
        .get(usize::from(draw.random_bool(0.5)))
        .unwrap_or(&2210.0);
    let stop = if draw.random_bool(0.5) { 1.42 } else { 1.5 };
    let sender = Sender {
        codes: codes(draw, characters),
        speed: StartStop::new(45.45, stop),
        centre_hz: middle_hz + draw.random_range(-20.0..20.0),
        sense: if draw.random_bool(0.5) {
            Sense::LowerTone
        } else {
            Sense::HigherTone
        },
        begin_s: draw.random_range(1.0..2.0),
        lead_in_s: 1.0,
        tail_s: 0.0,
        ..Sender::default()
    };
    Scene {
        senders: vec![sender],
        noise: Noise::EsN0Db(15.0),
        ..Scene::default()
    }
}

fn codes(draw: &mut Draw, characters: usize) -> Vec<Code> {
    let text = message(draw, characters);
    let body = encode(&text, FiguresRow::Ita2, EncodeOptions::default());
    let before = [Code::LETTERS, Code::LETTERS];
    before
        .into_iter()
        .chain(body.expect("texts hold sendable characters"))
        .collect()
}

fn decibels(draw: &mut Draw, range: std::ops::Range<f64>) -> Noise {
    Noise::EsN0Db(draw.random_range(range))
}

fn either(draw: &mut Draw) -> f64 {
    if draw.random_bool(0.5) { 1.0 } else { -1.0 }
}

fn crash(scene: &mut Scene, draw: &mut Draw) {
    scene.noise = decibels(draw, 11.0..15.0);
    scene.crashes = Some(Crashes {
        rate_per_s: draw.random_range(0.7..2.5),
        shortest_ms: 20.0,
        longest_ms: draw.random_range(60.0..200.0),
        level_db: draw.random_range(15.0..30.0),
        timing: CrashTiming::Random,
    });
}

fn pump(scene: &mut Scene, draw: &mut Draw) {
    scene.noise = decibels(draw, 9.0..13.0);
    scene.carriers = vec![Carrier {
        place: Place::Beside(either(draw) * draw.random_range(300.0..600.0)),
        level_db: draw.random_range(44.0..60.0),
        from_s: NEIGHBOUR_FROM_S,
        keying: Keying::Morse {
            wpm: draw.random_range(10.0..22.0),
        },
        ..Carrier::default()
    }];
    scene.agc = Some(Agc {
        attack_ms: draw.random_range(2.0..20.0),
        decay_s: draw.random_range(0.1..1.0),
        ..Agc::default()
    });
}

fn drift(scene: &mut Scene, draw: &mut Draw) {
    // Up and down by turns, so that the tones stay within a voice channel.
    let per_s = either(draw) * draw.random_range(12.0..30.0);
    let step_s = 0.05;
    let turn_s = draw.random_range(3.0..8.0);
    let jumps = (0..4000).map(|k| {
        let at_s = 4.0 + step_s * f64::from(k);
        let way = if (at_s / turn_s) as i64 % 2 == 0 {
            1.0
        } else {
            -1.0
        };
        markhold_air::Jump {
            at_s,
            by_hz: way * per_s * step_s,
        }
    });
    scene.dial_drift = Drift {
        jumps: jumps.collect(),
        ..Drift::default()
    };
}

/// Every other part of the transmission is faster or slower by some percent.
fn speed_step(scene: &mut Scene, part: usize, draw: &mut Draw) {
    let sender = &mut scene.senders[0];
    if part % 2 == 1 {
        let by = 1.0 + either(draw) * draw.random_range(0.05..0.12);
        sender.speed = StartStop::new(45.45 * by, 1.5);
    }
    sender.centre_hz = 2210.0;
    sender.sense = Sense::LowerTone;
    if part > 0 {
        (sender.begin_s, sender.lead_in_s) = (0.0, 0.0);
    }
}
