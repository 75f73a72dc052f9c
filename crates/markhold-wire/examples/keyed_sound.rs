//! Five-unit codes to tones on a sound output, for `checks/check_sound_output.py`.
//!
//! Standard input: one byte a character, 0 to 31. Arguments: rate in baud, stop element in
//! units, mark in Hz, space in Hz and, if not the default one, a part of the output's
//! name. Standard error says how many samples were missing. Half a second of mark is held
//! at both ends.

use markhold_code::{Code, StartStop};
use markhold_signal::TonePlan;
use markhold_wire::SoundOutput;
use markhold_wire::{Keyer, ToneSettings, ToneSound};
use std::error::Error;
use std::io::{Read, stdin};

const MARGIN_S: f64 = 0.5;

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [baud, stop, mark, space, output @ ..] = &arguments[..] else {
        return Err("expected: BAUD STOP MARK SPACE [OUTPUT]".into());
    };
    let speed = StartStop::new(baud.parse()?, stop.parse()?);
    let settings = ToneSettings {
        speed,
        plan: TonePlan::new(mark.parse()?, space.parse()?, speed),
        autostart: false,
    };
    let output = output.first().cloned();
    let open = move || SoundOutput::open(output.as_deref(), None);
    let mut keyer = ToneSound::start(settings, open)?;
    keyer.hold(MARGIN_S)?;
    let mut values = Vec::new();
    stdin().lock().read_to_end(&mut values)?;
    for code in values.into_iter().filter_map(Code::new) {
        keyer.send(code)?;
    }
    keyer.hold(MARGIN_S)?;
    keyer.finish()?;
    eprintln!("{} samples missing", keyer.missing());
    Ok(())
}
