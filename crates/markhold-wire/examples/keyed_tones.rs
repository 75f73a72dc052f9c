//! Five-unit codes to a sound file of clean tones, for `checks/check_tones.py`.
//!
//! Standard input: one byte a character, 0 to 31; 255 holds mark for a second.
//! Arguments: rate in baud, stop element in units, mark in Hz, space in Hz, sampling rate
//! in Hz, `s16` or `f32`. Standard output: a WAV stream that begins and ends with half a
//! second of mark.

use markhold_code::{Code, StartStop};
use markhold_signal::TonePlan;
use markhold_sound::{Encoding, WavWriter};
use markhold_wire::{Keyer, ToneFile, tone_spec};
use std::error::Error;
use std::io::{BufWriter, Read, stdin, stdout};

const MARGIN_S: f64 = 0.5;

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [baud, stop, mark, space, rate, encoding] = &arguments[..] else {
        return Err("expected: BAUD STOP MARK SPACE RATE s16|f32".into());
    };
    let speed = StartStop::new(baud.parse()?, stop.parse()?);
    let plan = TonePlan::new(mark.parse()?, space.parse()?, speed);
    let rate = rate.parse()?;
    let mut spec = tone_spec(rate);
    if encoding == "f32" {
        spec.encoding = Encoding::F32;
    }
    let out = WavWriter::stream(BufWriter::new(stdout()), spec)?;
    let mut keyer = ToneFile::new("standard output", out, rate, speed, plan)?;
    let mut values = Vec::new();
    stdin().lock().read_to_end(&mut values)?;
    keyer.hold(MARGIN_S)?;
    for value in values {
        match Code::new(value) {
            Some(code) => keyer.send(code)?,
            None => keyer.hold(1.0)?,
        }
    }
    keyer.hold(MARGIN_S)?;
    Ok(keyer.close()?)
}
