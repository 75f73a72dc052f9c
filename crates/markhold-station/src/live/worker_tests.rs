//! Whatever is wrong with the sound replaces the sentence, and only as long as it is true.

use super::*;
use crate::inputs::Missing;
use crate::tuning::Instruction;
use std::f32::consts::TAU;

const RATE: u32 = 8000;
const BLOCK: usize = 160;

/// A sound thread without its thread, whose copying does nothing and has so many places.
struct Bench {
    worker: Worker,
    source: Missing,
    samples: usize,
    /// Keeps the queue open.
    _jobs: Receiver<Job>,
}

impl Bench {
    fn new(places: usize) -> Self {
        let (queue, _jobs) = CopyQueue::stuck(places);
        let source = Missing::new("");
        let mut worker = Worker::new(queue, LiveOptions::default());
        worker.begin(&source, GapCause::Stopped);
        Bench {
            worker,
            source,
            samples: 0,
            _jobs,
        }
    }

    fn happens(&mut self, taken: Taken) -> Instruction {
        self.worker.taken(taken, &[], &self.source);
        self.told()
    }

    /// A tone of this amplitude for so long.
    fn hear(&mut self, amplitude: f32, seconds: f32) -> Instruction {
        for _ in 0..(seconds * RATE as f32) as usize / BLOCK {
            let at = |n: usize| ((self.samples + n) as f32 * 1000.0 / RATE as f32 * TAU).sin();
            let block: Vec<f32> = (0..BLOCK)
                .map(|n| (amplitude * at(n)).clamp(-1.0, 1.0))
                .collect();
            self.samples += BLOCK;
            self.worker.taken(Taken::Sound, &block, &self.source);
        }
        self.told()
    }

    fn told(&self) -> Instruction {
        self.worker.board.look(|sum| sum.tuning.instruction)
    }
}

fn fault(fault: Fault) -> Instruction {
    Instruction::Fault { fault }
}

fn gone() -> Taken {
    Taken::Gone { why: "".into() }
}

#[test]
fn no_input_and_one_that_is_gone_are_told_until_there_is_sound() {
    let mut bench = Bench::new(1000);
    assert_eq!(bench.happens(gone()), fault(Fault::NoInput));
    let mut bench = Bench::new(1000);
    bench.hear(0.1, 3.0);
    assert_eq!(bench.happens(gone()), fault(Fault::Gone));
    assert_eq!(bench.happens(Taken::Nothing), fault(Fault::Gone));
    bench.happens(Taken::Back { lost: 80_000 });
    assert_eq!(bench.hear(0.1, 3.0), Instruction::SteadyTone);
    let ended = bench.happens(Taken::Ended { why: None });
    assert_eq!(ended, fault(Fault::Ended));
}

#[test]
fn an_input_that_gives_nothing_is_told() {
    let mut bench = Bench::new(1000);
    assert_eq!(bench.hear(0.1, 3.0), Instruction::SteadyTone);
    assert_eq!(bench.happens(Taken::Nothing), Instruction::SteadyTone);
    bench.worker.still_since = Instant::now().checked_sub(2 * STILL);
    assert_eq!(bench.happens(Taken::Nothing), fault(Fault::Still));
    assert_eq!(bench.hear(0.1, 3.0), Instruction::SteadyTone);
    assert_eq!(bench.happens(Taken::Nothing), Instruction::SteadyTone);
}

#[test]
fn a_wrong_level_is_told() {
    let mut bench = Bench::new(10_000);
    for (amplitude, expected) in [
        (0.0, Fault::Silence),
        (3.0, Fault::TooLoud),
        (0.000_5, Fault::TooQuiet),
    ] {
        assert_eq!(bench.hear(amplitude, 6.0), fault(expected), "{amplitude}");
        let after = bench.hear(0.1, 6.0);
        assert_eq!(after, Instruction::SteadyTone, "{amplitude}");
    }
}

#[test]
fn a_computer_that_is_too_slow_is_told() {
    let mut bench = Bench::new(100);
    assert_eq!(bench.hear(0.1, 1.5), Instruction::SteadyTone);
    assert_eq!(bench.hear(0.1, 4.0), fault(Fault::Behind));
}
