//! What opening a transmitter told of its cable.

use super::key_words::KeyWords;
use super::plan::TransmitterPlan;
use crate::control_lines::Opening;
use crate::rig::Rig;
use crate::{KeyerError, Wire};

/// What is to be told before anything is keyed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Cable {
    /// What a person should know.
    pub notes: Vec<String>,
    /// What a person must confirm: opening it may have keyed something.
    pub doubts: Vec<String>,
}

impl Cable {
    /// Of the ports that were opened.
    pub(super) fn of(plan: &TransmitterPlan, openings: &[Opening]) -> Cable {
        let mut cable = Cable::default();
        for opening in openings {
            if let Some(told) = opening.told() {
                cable.notes.push(format!("{told}{}", keyed(plan, opening)));
            }
            let answered = opening.answered().filter(|_| !plan.wired_back);
            cable.doubts.extend(answered);
        }
        cable
    }

    /// The doubts in words, with what to do; `None` = there are none.
    pub fn doubt(&self) -> Option<String> {
        let doubts = self.doubts.join("; ");
        (!doubts.is_empty()).then(|| {
            format!(
                "{doubts}. Look at the transmitter while a program opens the port: if it keys, use \
                 another cable or the daemon; if the plug is only wired back, say wired_back = true \
                 in [transmitter]"
            )
        })
    }
}

/// What a raised wire means, where it is the key.
fn keyed(plan: &TransmitterPlan, opening: &Opening) -> String {
    let wire = match plan.key() {
        KeyWords::Wire(wire, Some(port)) if port == opening.port => Some(wire),
        // That of the line's own port, which is the first one.
        KeyWords::Wire(wire, None) => Some(wire),
        _ => None,
    };
    let up = match wire {
        Some(Wire::Rts) => opening.raised.rts.then_some("RTS"),
        Some(Wire::Dtr) => opening.raised.dtr.then_some("DTR"),
        None => None,
    };
    up.map_or(String::new(), |name| {
        format!(
            ": a cable that keys by {name} alone had the transmitter keyed for so long, and has at \
             every opening, whatever program opens it"
        )
    })
}

/// Asks the daemon that knows, where one was named, whether the radio transmits while everything
/// here is at rest.
///
/// # Errors
///
/// It does, or nobody answers.
pub(super) fn check_unkeyed(plan: &TransmitterPlan) -> Result<(), KeyerError> {
    let Some(KeyWords::Daemon(address)) = plan.ask else {
        return Ok(());
    };
    let what = format!("the radio daemon at {address}");
    match Rig::connect(address).and_then(|mut rig| rig.is_keyed()) {
        Ok(false) => Ok(()),
        Ok(true) => Err(KeyerError::StillKeyed {
            what,
            why:
                "it says that the radio transmits, while everything here is at rest: a cable that \
                  keys when its wires are down does that"
                    .into(),
        }),
        Err(source) => Err(KeyerError::Io { what, source }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::control_lines::Lines;
    use crate::rig::testing::Fake;
    use std::sync::atomic::Ordering;
    use std::time::Duration;

    fn plan(keys: &str) -> TransmitterPlan {
        let settings = format!("[transmitter]\n{keys}");
        TransmitterPlan::of_settings(&settings, Default::default()).unwrap()
    }

    fn opening(cts: bool) -> Opening {
        let raised = Lines {
            rts: true,
            dtr: true,
            cts,
            ..Lines::default()
        };
        Opening {
            port: "/dev/ttyS9".into(),
            raised,
            rested: Lines::default(),
            lasted: Duration::from_micros(80),
        }
    }

    #[test]
    fn a_key_that_rises_with_the_opening_is_told() {
        for (key, named) in [
            ("rts:/dev/ttyS9", "by RTS alone"),
            ("dtr:/dev/ttyS9", "by DTR alone"),
        ] {
            let keys = format!("way = \"tones\"\nkey = \"{key}\"");
            let cable = Cable::of(&plan(&keys), &[opening(false)]);
            assert!(cable.notes[0].contains(named), "{cable:?}");
            assert_eq!(cable.doubt(), None);
        }
        let other = plan("way = \"rts:/dev/ttyS9\"\nkey = \"rigctld:127.0.0.1:4532\"");
        let cable = Cable::of(&other, &[opening(false)]);
        assert!(cable.notes[0].ends_with("for 0.08 ms"), "{cable:?}");
    }

    #[test]
    fn an_answer_on_the_inputs_must_be_confirmed_unless_it_is_known() {
        let keys = "way = \"tones\"\nkey = \"rts:/dev/ttyS9\"\n";
        let doubt = Cable::of(&plan(keys), &[opening(true)]).doubt().unwrap();
        assert!(doubt.contains("CTS of /dev/ttyS9 moved"), "{doubt}");
        let known = plan(&format!("{keys}wired_back = true"));
        assert_eq!(Cable::of(&known, &[opening(true)]).doubt(), None);
    }

    #[test]
    fn a_radio_that_transmits_at_rest_is_refused() {
        let fake = Fake::start();
        let asks = plan(&format!("ask = \"rigctld:{}\"", fake.address));
        check_unkeyed(&asks).unwrap();
        fake.keyed.store(true, Ordering::SeqCst);
        let why = check_unkeyed(&asks).unwrap_err().to_string();
        assert!(why.contains("keys when its wires are down"), "{why}");
        assert!(check_unkeyed(&plan("")).is_ok());
        let error = plan_error("ask = \"rts:/dev/ttyS9\"");
        assert!(error.contains("a radio's daemon"), "{error}");
    }

    fn plan_error(keys: &str) -> String {
        let settings = format!("[transmitter]\n{keys}");
        let plan = TransmitterPlan::of_settings(&settings, Default::default());
        plan.unwrap_err().to_string()
    }
}
