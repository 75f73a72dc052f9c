//! Sound that is no signal: nothing is copied, nothing panics.

use crate::hear::hear;
use crate::text::draw;
use markhold_receive::Settings;
use rand::RngExt;

const RATE: usize = 8000;

/// Nothing may be found in `seconds` of this sound, even if every signal is wanted.
fn gives_nothing(what: &str, seconds: usize, sample: impl FnMut(usize) -> f32) {
    let sound: Vec<f32> = (0..seconds * RATE).map(sample).collect();
    let settings = Settings {
        all: true,
        ..Settings::default()
    };
    let heard = hear(&sound, RATE as u32, settings);
    assert_eq!(heard.events, [], "{what}: {}", heard.printed());
}

fn tone(hz: f64, n: usize) -> f32 {
    (std::f64::consts::TAU * hz * n as f64 / RATE as f64).sin() as f32
}

#[test]
fn silence_and_direct_current() {
    gives_nothing("silence", 20, |_| 0.0);
    gives_nothing("no samples", 0, |_| 0.0);
    gives_nothing("direct current", 20, |_| 1.0);
    gives_nothing("a step", 20, |n| if n < 10 * RATE { -1.0 } else { 1.0 });
}

#[test]
fn tones_and_square_waves_at_full_scale() {
    gives_nothing("a tone", 20, |n| tone(1000.0, n));
    gives_nothing("two tones", 20, |n| {
        (tone(2125.0, n) + tone(2295.0, n)) / 2.0
    });
    gives_nothing("a square wave", 20, |n| tone(441.0, n).signum());
    gives_nothing("a clipped sweep", 20, |n| {
        tone(300.0 + 0.006 * n as f64, n).signum()
    });
    // 22 ms on, 22 ms off: the keying of a teleprinter without its text.
    gives_nothing("even reversals", 20, |n| {
        let hz = if n / 176 % 2 == 0 { 2125.0 } else { 2295.0 };
        tone(hz, n)
    });
}

#[test]
fn impulses() {
    gives_nothing("one impulse", 20, |n| f32::from(u8::from(n == 5 * RATE)));
    gives_nothing("an impulse each second", 20, |n| {
        f32::from(u8::from(n % RATE == 0))
    });
    gives_nothing("an impulse each 22 ms", 20, |n| {
        f32::from(u8::from(n % 176 == 0))
    });
    gives_nothing("an impulse of 1e30", 20, |n| {
        if n == 70_000 { 1e30 } else { 0.0 }
    });
}

#[test]
fn garbage() {
    let mut any = draw("garbage", 1);
    gives_nothing("noise at full scale", 20, |_| any.random_range(-1.0..1.0));
    gives_nothing("random bits", 20, |_| if any.random() { 1.0 } else { -1.0 });
    gives_nothing("huge noise", 20, |_| any.random_range(-1e30_f32..1e30));
    gives_nothing("tiny noise", 20, |_| any.random_range(-1e-30_f32..1e-30));
    gives_nothing("any finite number", 20, |_| {
        let value = f32::from_bits(any.random());
        if value.is_finite() { value } else { 0.0 }
    });
}

/// What is not a number is a defect of whatever made it, and still no reason to fall over.
#[test]
fn samples_that_are_no_numbers() {
    gives_nothing("nothing but NaN", 5, |_| f32::NAN);
    gives_nothing("infinite", 5, |n| {
        if n % 2 == 0 {
            f32::INFINITY
        } else {
            f32::NEG_INFINITY
        }
    });
}
