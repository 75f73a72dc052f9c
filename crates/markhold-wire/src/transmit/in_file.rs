//! An over as tones in a file.

use super::plan::TransmitterPlan;
use crate::way::file_error;
use crate::{Keyer, KeyerError, ToneFile};
use markhold_sound::{Encoding, WavSpec, WavWriter};
use std::io::{self, Write};
use std::path::PathBuf;

/// Sampling rate, Hz.
const RATE: u32 = 12_000;

/// Mark before the over, s, besides its own: a receiver that begins in the middle of a tone
/// needs some time to tell what it is.
const LEAD_S: f64 = 1.0;

/// Makes a file, or writes to standard output. Samples are of floating point: those of 16 bits
/// have more noise far from the tones than the keying has.
pub(super) fn in_file(
    plan: &TransmitterPlan,
    path: Option<&PathBuf>,
) -> Result<Box<dyn Keyer>, KeyerError> {
    let spec = WavSpec {
        rate: RATE,
        channels: 1,
        encoding: Encoding::F32,
        bext: None,
    };
    let name = path.map_or("standard output".into(), |path| path.display().to_string());
    let failed = |error| file_error(&name, error);
    match path {
        None => of_writer(
            plan,
            &name,
            WavWriter::stream(io::stdout(), spec).map_err(failed)?,
        ),
        Some(path) => of_writer(plan, &name, WavWriter::create(path, spec).map_err(failed)?),
    }
}

fn of_writer<W: Write + Send + 'static>(
    plan: &TransmitterPlan,
    name: &str,
    out: WavWriter<W>,
) -> Result<Box<dyn Keyer>, KeyerError> {
    let tones = ToneFile::new(name, out, RATE, plan.speed(), plan.tone_plan())?;
    let mut keyer = Box::new(tones);
    keyer.hold(LEAD_S)?;
    Ok(keyer)
}
