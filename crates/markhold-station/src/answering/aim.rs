//! The tones of an over that is about to begin: the transmitter's own, or exactly those of the
//! pair that is received. What is not known is not guessed: then nothing begins.

use super::ears::{Ears, NoPair, ReceivedPair};
use markhold_code::Tones;
use markhold_sound::Sideband;
use markhold_wire::transmit::{TonesFrom, TransmitterPlan};

/// Rates that differ by more than this are another's, as a share: 45.45 and 50 baud are 10 % apart.
const SAME_RATE: f64 = 0.03;

/// An over with its tones.
#[derive(Clone, Debug)]
pub(super) struct Aimed {
    pub plan: TransmitterPlan,
    /// The pair that its tones are taken from.
    pub pair: Option<ReceivedPair>,
    /// The tones in words, and whose they are.
    pub words: String,
}

/// Aims an over that would begin now; `kept` is the pair of the over before, where nothing was
/// sent or heard since that would make it stale.
///
/// # Errors
///
/// Why exactly the received pair's tones cannot be sent, in words.
pub(super) fn aimed(
    plan: TransmitterPlan,
    from: TonesFrom,
    ears: &dyn Ears,
    kept: Option<ReceivedPair>,
) -> Result<Aimed, String> {
    if from == TonesFrom::Own {
        let words = format!("{}: the transmitter's own", told(plan.tones()));
        return Ok(Aimed {
            plan,
            pair: None,
            words,
        });
    }
    let (pair, whose) = match (ears.pair(), kept) {
        (Ok(pair), _) => (pair, "exactly those of the received pair"),
        (Err(NoPair::Nobody(_)), Some(kept)) => (
            kept,
            "as in the over before, since nobody was copied after it",
        ),
        (Err(NoPair::Nobody(why) | NoPair::NotSure(why)), _) => return Err(refused(&why)),
    };
    let checked = same_side(&pair, plan.sideband).and_then(|()| plan.check_tones(pair.tones));
    checked.map_err(|why| refused(&why))?;
    let words = format!("{}: {whose}{}", told(pair.tones), rates(&pair, &plan));
    Ok(Aimed {
        plan: plan.on(pair.tones),
        pair: Some(pair),
        words,
    })
}

fn refused(why: &str) -> String {
    format!("the received pair cannot be met: {why}; its own tones can be chosen instead")
}

/// On the other sideband the same audio is another radio frequency.
fn same_side(pair: &ReceivedPair, carries: Sideband) -> Result<(), String> {
    let name = |side| match side {
        Sideband::Lower => "lower",
        Sideband::Upper => "upper",
    };
    match pair.sideband {
        Some(side) if side == carries => Ok(()),
        Some(side) => Err(format!(
            "the receiver is on the {} sideband and the transmitter on the {} one (sideband in \
             [transmitter]), where they would be elsewhere: set both alike",
            name(side),
            name(carries)
        )),
        None => Err(
            "nobody has said which sideband the receiver is on: say it below the sentence on \
             tuning (\"The receiver is on\")"
                .into(),
        ),
    }
}

fn told(tones: Tones) -> String {
    format!(
        "mark {:.1} Hz, space {:.1} Hz",
        tones.mark_hz, tones.space_hz
    )
}

/// Another rate is no reason not to send, and worth a word.
fn rates(pair: &ReceivedPair, plan: &TransmitterPlan) -> String {
    let same = (pair.rate_baud / plan.rate_baud - 1.0).abs() < SAME_RATE;
    match same {
        true => String::new(),
        false => format!(
            ". They send at {:.0} baud, this transmitter at {:.2}",
            pair.rate_baud, plan.rate_baud
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::super::ears::Busy;
    use super::*;

    /// Hears this pair.
    struct Hears(Result<ReceivedPair, NoPair>);

    impl Ears for Hears {
        fn busy(&self, _tones: Tones) -> Option<Busy> {
            None
        }

        fn pair(&self) -> Result<ReceivedPair, NoPair> {
            self.0.clone()
        }
    }

    fn pair(mark_hz: f64, space_hz: f64, sideband: Option<Sideband>) -> ReceivedPair {
        ReceivedPair {
            tones: Tones { mark_hz, space_hz },
            sideband,
            rate_baud: 45.4,
        }
    }

    fn plan(keys: &str) -> TransmitterPlan {
        let settings = format!("[transmitter]\nway = \"tones\"\n{keys}");
        TransmitterPlan::of_settings(&settings, Default::default()).unwrap()
    }

    fn aim(
        heard: Result<ReceivedPair, NoPair>,
        keys: &str,
        kept: Option<ReceivedPair>,
    ) -> Result<Aimed, String> {
        aimed(plan(keys), TonesFrom::Received, &Hears(heard), kept)
    }

    #[test]
    fn exactly_the_received_tones_on_either_sideband_and_in_either_sense() {
        for (keys, side) in [
            ("", Sideband::Lower),
            ("sideband = \"upper\"", Sideband::Upper),
        ] {
            for (mark_hz, space_hz) in [(1483.2, 1653.7), (1653.7, 1483.2)] {
                let aimed = aim(Ok(pair(mark_hz, space_hz, Some(side))), keys, None).unwrap();
                let found = aimed.plan.tones();
                let off = (found.mark_hz - mark_hz).abs() + (found.space_hz - space_hz).abs();
                assert!(off < 1e-9, "{found:?}");
                let words = format!("mark {mark_hz:.1} Hz, space {space_hz:.1} Hz: exactly");
                assert!(aimed.words.starts_with(&words), "{}", aimed.words);
            }
        }
        let own = aimed(
            plan(""),
            TonesFrom::Own,
            &Hears(Ok(pair(1.0, 2.0, None))),
            None,
        );
        assert_eq!(own.unwrap().plan, plan(""));
    }

    #[test]
    fn what_is_not_known_is_not_guessed() {
        let lower = Some(Sideband::Lower);
        let nobody = || Err(NoPair::Nobody("nobody was copied".into()));
        let not_sure = || Err(NoPair::NotSure("the copy is not sure".into()));
        let kept = Some(pair(1500.0, 1670.0, lower));
        for (heard, kept, said) in [
            (nobody(), None, "nobody was copied"),
            (not_sure(), kept.clone(), "the copy is not sure"),
            (
                Ok(pair(1500.0, 1670.0, None)),
                None,
                "nobody has said which sideband",
            ),
            (
                Ok(pair(1500.0, 1670.0, Some(Sideband::Upper))),
                None,
                "on the upper sideband and the transmitter on the lower one",
            ),
            (
                Ok(pair(2600.0, 2770.0, lower)),
                None,
                "beyond what the transmitter carries",
            ),
            (
                Ok(pair(250.0, 420.0, lower)),
                kept.clone(),
                "beyond what the transmitter carries",
            ),
        ] {
            let why = aim(heard, "", kept).unwrap_err();
            assert!(why.contains(said) && why.contains("its own tones"), "{why}");
        }
        // Where the over before was, the next one may be.
        let again = aim(nobody(), "", kept).unwrap();
        assert_eq!(again.plan.tones().mark_hz, 1500.0);
        assert!(
            again.words.contains("as in the over before"),
            "{}",
            again.words
        );
    }

    #[test]
    fn another_rate_is_told() {
        let heard = pair(1500.0, 1670.0, Some(Sideband::Lower));
        let words = aim(Ok(heard.clone()), "", None).unwrap().words;
        assert!(!words.contains("baud"), "{words}");
        let words = aim(Ok(heard), "rate_baud = 75", None).unwrap().words;
        assert!(
            words.contains("send at 45 baud, this transmitter at 75.00"),
            "{words}"
        );
    }
}
