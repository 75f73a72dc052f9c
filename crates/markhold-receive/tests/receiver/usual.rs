//! Every usual rate, with either sense and at both ends of usual sample rates, is found
//! and copied without an error, the first character included.

use crate::hear::{hear, render, scene, sender};
use markhold_air::{Sender, Sense};
use markhold_code::{StartStop, usual};
use markhold_receive::Settings;

const TEXT: &str = "THE QUICK BROWN FOX 1234567890 DE Q1ABC";

fn copies_all(sample_rate: u32) {
    // Each rate with a shift that is sent with it; the place moves along.
    let shifts_hz = [170.0, 425.0, 170.0, 850.0, 170.0];
    let cases = usual::RATES_BAUD.into_iter().zip(shifts_hz).enumerate();
    for (k, (rate_baud, shift_hz)) in cases {
        for sense in [Sense::LowerTone, Sense::HigherTone] {
            let sender = Sender {
                speed: StartStop::new(rate_baud, 1.5),
                centre_hz: 1100.0 + 137.0 * k as f64,
                shift_hz,
                sense,
                ..sender(TEXT)
            };
            copies(sender, sample_rate);
        }
    }
}

fn copies(sender: Sender, sample_rate: u32) {
    let what = format!(
        "{:.2} baud, {} Hz, {:?}, {sample_rate} samples a second",
        sender.speed.rate_baud, sender.shift_hz, sender.sense
    );
    let sound = render(scene(sender.clone(), 20.0), sample_rate);
    let heard = hear(&sound, sample_rate, Settings::default());
    assert_eq!(heard.codes(), sender.codes, "{what}: {}", heard.printed());
    let found = heard.found();
    assert_eq!((found.len(), heard.ended().len()), (1, 1), "{what}");
    assert_eq!(found[0].sense, sender.sense, "{what}");
    assert_eq!(
        found[0].usual_rate_baud,
        Some(sender.speed.rate_baud),
        "{what}"
    );
    let end = heard.ended()[0];
    for (tone_hz, sent_hz) in [
        (end.mark_hz, sender.mark_hz()),
        (end.space_hz, sender.space_hz()),
    ] {
        assert!(
            (tone_hz - sent_hz).abs() < 3.0,
            "{what}: {tone_hz} Hz for {sent_hz} Hz"
        );
    }
}

#[test]
fn at_8000_samples_a_second() {
    copies_all(8000);
}

#[test]
fn at_48000_samples_a_second() {
    copies_all(48_000);
}
