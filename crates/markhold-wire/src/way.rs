//! A way to the line as a value: what is kept in settings and opened, again and again.

use super::SoundOutput;
use super::bytes::STANDARD_OUTPUT;
use super::{
    ByteFormat, ByteTarget, BytesKeyer, Keyer, KeyerError, Opening, SerialKeyer, SerialPlan,
    TimedKeyer, TimedPlan, ToneFile, ToneSettings, ToneSound, measure_on, tone_spec,
};
use markhold_code::StartStop;
use markhold_sound::{SoundError, WavWriter};
use std::io;
use std::path::PathBuf;

/// Mark at the beginning of a file of tones, s, as the bench's patterns have it: whatever
/// plays or copies it hears the line at rest before the first start element.
const FILE_LEAD_S: f64 = 0.5;

/// How long a trial by the clock usually takes, s: 200 edges and more.
pub const TRIAL_S: f64 = 5.0;

/// A way to a machine's line.
///
/// After an error whose [`may_reopen`](KeyerError::may_reopen) is true, drop the keyer,
/// let the person do what the error says, [`open`](Self::open) the way again and go on
/// with the character that came back as the error.
#[derive(Clone, Debug, PartialEq)]
pub enum Way {
    /// A serial port that sends the characters itself.
    Serial(SerialPlan),
    /// A wire of a serial port, keyed by the clock.
    Timed(TimedPlan),
    /// Tones on a sound output.
    Sound {
        /// A part of the output's name; `None` = the default one.
        output: Option<String>,
        /// Sampling rate, Hz; `None` = the output's own.
        rate: Option<u32>,
        /// Tones and speed.
        tones: ToneSettings,
    },
    /// Tones in a WAV file.
    SoundFile {
        /// The file; `None` = standard output.
        path: Option<PathBuf>,
        /// Sampling rate, Hz.
        rate: u32,
        /// Tones and speed; a file knows no autostart.
        tones: ToneSettings,
    },
    /// Plain codes for an interface.
    Bytes {
        /// Where they go.
        target: ByteTarget,
        /// How they are written.
        format: ByteFormat,
        /// The line's pace.
        speed: StartStop,
        /// Whether other computers may be reached.
        network: bool,
    },
}

impl Way {
    /// Tries the way and says in a line or two how well it will do: the speed that a port
    /// set, how late edges are when keyed by the clock (for so many seconds, [`TRIAL_S`] usually,
    /// without switching anything; do it while the computer is as busy as it will be), or that it
    /// opens. A longer trial goes on after a character that was broken off, and counts them.
    ///
    /// Errors: as `open`.
    pub fn trial(&self, seconds: f64) -> Result<String, KeyerError> {
        match self {
            Way::Serial(plan) => Ok(match SerialKeyer::open(plan)?.speed() {
                Some(speed) => format!("the port sends at {speed}"),
                None => "the port is open; the interface keeps the line's time".into(),
            }),
            Way::Timed(plan) => {
                let keyer = TimedKeyer::open(plan)?;
                let opening = keyer.opening().map(told).unwrap_or_default();
                drop(keyer);
                let characters = (seconds * plan.speed.characters_per_second()) as u32;
                let measured = measure_on(plan.speed, characters, |_| seconds > TRIAL_S)?;
                if let Some(error) = measured.late {
                    return Err(error);
                }
                let priority = if measured.real_time {
                    "with"
                } else {
                    "without"
                };
                let verdict = measured.timing.verdict(plan.speed.element_s());
                let broken = match measured.broken_off {
                    0 => String::new(),
                    count => format!("; {count} of {characters} characters were broken off"),
                };
                Ok(format!(
                    "{priority} real-time priority: {verdict}{broken}{opening}"
                ))
            }
            _ => self.open().map(|_| "the way is open".into()),
        }
    }

    /// Opens the way; the line is in mark.
    ///
    /// Errors: see each way.
    pub fn open(&self) -> Result<Box<dyn Keyer>, KeyerError> {
        Ok(match self {
            Way::Serial(plan) => Box::new(SerialKeyer::open(plan)?),
            Way::Timed(plan) => Box::new(TimedKeyer::open(plan)?),
            Way::Sound {
                output,
                rate,
                tones,
            } => {
                let (output, rate) = (output.clone(), *rate);
                let open = move || SoundOutput::open(output.as_deref(), rate);
                Box::new(ToneSound::start(*tones, open)?)
            }
            Way::SoundFile { path, rate, tones } => open_file(path.as_ref(), *rate, *tones)?,
            Way::Bytes {
                target,
                format,
                speed,
                network,
            } => {
                let sink = target.open(*network)?;
                Box::new(BytesKeyer::new(&target.name(), *format, *speed, sink)?)
            }
        })
    }
}

/// What opening a port told, in sentences of its own.
fn told(opening: &Opening) -> String {
    let all = [opening.told(), opening.answered()];
    all.into_iter()
        .flatten()
        .map(|said| format!("\n{said}"))
        .collect()
}

fn open_file(
    path: Option<&PathBuf>,
    rate: u32,
    tones: ToneSettings,
) -> Result<Box<dyn Keyer>, KeyerError> {
    let name = path.map_or(STANDARD_OUTPUT.into(), |p| p.display().to_string());
    let failed = |error| file_error(&name, error);
    let (speed, plan) = (tones.speed, tones.plan);
    let mut keyer: Box<dyn Keyer> = match path {
        None => {
            let out = WavWriter::stream(io::stdout(), tone_spec(rate)).map_err(failed)?;
            Box::new(ToneFile::new(&name, out, rate, speed, plan)?)
        }
        Some(path) => {
            let out = WavWriter::create(path, tone_spec(rate)).map_err(failed)?;
            Box::new(ToneFile::new(&name, out, rate, speed, plan)?)
        }
    };
    keyer.hold(FILE_LEAD_S)?;
    Ok(keyer)
}

pub(crate) fn file_error(name: &str, error: SoundError) -> KeyerError {
    let what = name.to_string();
    match error {
        SoundError::NotFound => KeyerError::Missing {
            what: format!("the folder of {what}"),
            remedy: "make the folder, or name another".into(),
        },
        SoundError::NoPermission => KeyerError::NoPermission {
            what,
            remedy: "choose a folder of your own".into(),
        },
        SoundError::Rate { found } => KeyerError::Setting {
            what: "the sampling rate",
            found: format!("{found} Hz"),
            expected: format!(
                "{} to {} Hz",
                markhold_sound::MIN_RATE,
                markhold_sound::MAX_RATE
            ),
        },
        SoundError::Io(source) => KeyerError::Io { what, source },
        other => KeyerError::Io {
            what,
            source: io::Error::other(other.to_string()),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_code::Code;
    use markhold_signal::TonePlan;

    const SPEED: StartStop = StartStop::new(50.0, 1.5);

    fn file(path: PathBuf, rate: u32) -> Way {
        let tones = ToneSettings {
            speed: SPEED,
            plan: TonePlan::new(1275.0, 1445.0, SPEED),
            autostart: false,
        };
        let path = Some(path);
        Way::SoundFile { path, rate, tones }
    }

    #[test]
    fn a_file_of_tones_is_whole_when_the_keyer_is_dropped() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("line.wav");
        let mut keyer = file(path.clone(), 8000).open().unwrap();
        keyer.send(Code::SPACE).unwrap();
        drop(keyer);
        // 0.5 s of mark, 0.15 s, a glide of 5 ms and 10 ms to fade.
        let samples = hound::WavReader::open(&path).unwrap().duration();
        assert_eq!(samples, 5320);
    }

    #[test]
    fn files_that_cannot_be_say_why() {
        let folder = tempfile::tempdir().unwrap();
        let nowhere = file(folder.path().join("none").join("line.wav"), 8000);
        let error = nowhere.open().err().unwrap();
        assert!(error.to_string().contains("make the folder"), "{error}");
        let slow = file(folder.path().join("line.wav"), 100);
        let error = slow.open().err().unwrap();
        assert!(error.to_string().contains("6000 to 192000 Hz"), "{error}");
    }
}
