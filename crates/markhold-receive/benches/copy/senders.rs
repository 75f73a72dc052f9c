//! Cases of usual rates and shifts, and of every kind of sender.

use crate::case::{Case, Middle, Target};
use crate::cases::{at_most, case, sender};
use markhold_air::{Sender, SenderModel, Sense};
use markhold_code::usual;

/// The rates and shifts that are met with, with either sense.
pub fn usual() -> Vec<Case> {
    let slow = usual::RATES_BAUD[0];
    let kinds = [
        (50.0, 170.0),
        (50.0, 425.0),
        (50.0, 450.0),
        (slow, 850.0),
        (75.0, 170.0),
        (75.0, 850.0),
        (100.0, 170.0),
    ];
    let senses = [(Sense::LowerTone, "lower"), (Sense::HigherTone, "higher")];
    kinds
        .into_iter()
        .flat_map(|(rate_baud, shift_hz)| {
            senses.map(|(sense, tone)| {
                // 45.45 is the usual name of the slow rate, cut rather than rounded.
                let rate = (rate_baud * 100.0_f64).floor() / 100.0;
                let mut case = case(format!("{rate}/{shift_hz}, {tone} tone mark, 14 dB"), 14.0);
                let sender = sender(&mut case);
                (sender.speed.rate_baud, sender.shift_hz, sender.sense) =
                    (rate_baud, shift_hz, sense);
                Case {
                    targets: at_most(1.0),
                    middle: Middle::of_shift(shift_hz),
                    ..case
                }
            })
        })
        .collect()
}

/// Senders that jitter, are biased, break the phase or miss the shift.
pub fn kinds() -> Vec<Case> {
    let plain = Sender::default;
    let jitter = |jitter_ms| Sender {
        jitter_ms,
        ..plain()
    };
    let bias = |bias_percent| Sender {
        bias_percent,
        ..plain()
    };
    let model = |model| Sender { model, ..plain() };
    [
        ("no jitter", plain()),
        ("jitter of 0.25 ms", jitter(0.25)),
        ("jitter of 0.5 ms", jitter(0.5)),
        ("jitter of 1 ms", jitter(1.0)),
        ("bias of 20 % to mark", bias(20.0)),
        ("bias of 20 % to space", bias(-20.0)),
        ("two free oscillators", model(SenderModel::TwoOscillators)),
        (
            "random phase at each element",
            model(SenderModel::RandomPhase),
        ),
        (
            "shift 5 Hz off",
            Sender {
                shift_hz: 175.0,
                ..plain()
            },
        ),
    ]
    .map(|(name, sender)| {
        let mut case = case(format!("{name}, 10 dB"), 10.0);
        case.scene.senders = vec![sender];
        Case {
            targets: vec![Target {
                percent: 3.1,
                of: "bound + 1 %",
            }],
            ceiling: "2.1 % non-coherent, sequence framing",
            ..case
        }
    })
    .to_vec()
}
