//! Tones into a WAV file, a pipe or standard output.
//!
//! A file takes everything at once, a pipe as fast as it is read: nothing here waits for
//! the clock. Played later, or by a program that reads the pipe, the sound is the line.

use super::keyer::duration;
use super::{Keyer, KeyerError};
use markhold_code::{Code, StartStop, Stretch};
use markhold_signal::{ToneError, ToneMaker, TonePlan};
use markhold_sound::{Encoding, SoundError, WavSpec, WavWriter};
use std::io::Write;

impl From<ToneError> for KeyerError {
    fn from(error: ToneError) -> Self {
        KeyerError::Setting {
            what: error.what,
            found: error.found.to_string(),
            expected: format!("{} to {} at this sampling rate", error.least, error.most),
        }
    }
}

/// Keys tones into anything that takes bytes.
pub struct ToneFile<W: Write> {
    // Configured.
    name: String,
    speed: StartStop,
    rate: u32,
    out: WavWriter<W>,
    // State.
    maker: ToneMaker,
    closed: bool,
}

impl<W: Write> ToneFile<W> {
    /// Keys tones into a writer that [`tone_spec`] made; `name` is what errors call it.
    ///
    /// Errors: a tone that this sampling rate, Hz, cannot hold.
    pub fn new(
        name: &str,
        out: WavWriter<W>,
        rate: u32,
        speed: StartStop,
        plan: TonePlan,
    ) -> Result<Self, KeyerError> {
        Ok(ToneFile {
            maker: ToneMaker::new(plan, f64::from(rate))?,
            name: name.to_string(),
            speed,
            rate,
            out,
            closed: false,
        })
    }

    /// Fades out and brings the header up to date; dropping does the same but can tell
    /// nobody what went wrong.
    pub fn close(mut self) -> Result<(), KeyerError> {
        self.fade_out()
    }

    fn fade_out(&mut self) -> Result<(), KeyerError> {
        self.closed = true;
        self.maker.end();
        self.write()?;
        self.out.flush().map_err(|error| self.failed(error))
    }

    fn write(&mut self) -> Result<(), KeyerError> {
        let mut block = [0.0; 4096];
        loop {
            let made = self.maker.fill(&mut block);
            if made == 0 {
                return Ok(());
            }
            let written = self.out.write(&block[..made]);
            written.map_err(|error| self.failed(error))?;
        }
    }

    fn failed(&self, error: SoundError) -> KeyerError {
        let what = self.name.clone();
        match error {
            SoundError::Io(error) if error.kind() == std::io::ErrorKind::BrokenPipe => {
                super::bytes::write_error(&what, error)
            }
            SoundError::Io(source) => KeyerError::Io { what, source },
            other => KeyerError::Io {
                what,
                source: std::io::Error::other(other.to_string()),
            },
        }
    }
}

/// What a file of tones holds: one channel of 16-bit samples.
pub fn tone_spec(rate: u32) -> WavSpec {
    WavSpec {
        rate,
        channels: 1,
        encoding: Encoding::S16,
        bext: None,
    }
}

impl<W: Write + Send> Keyer for ToneFile<W> {
    fn send(&mut self, code: Code) -> Result<(), KeyerError> {
        self.line(&self.speed.stretches(code))
    }

    fn line(&mut self, stretches: &[Stretch]) -> Result<(), KeyerError> {
        stretches
            .iter()
            .for_each(|stretch| self.maker.push(*stretch));
        self.write()
    }

    fn hold(&mut self, seconds: f64) -> Result<(), KeyerError> {
        let length_s = duration(seconds)?.as_secs_f64();
        self.maker.push(Stretch {
            mark: true,
            length_s,
        });
        self.write()
    }

    fn motor(&mut self, _on: bool) -> Result<(), KeyerError> {
        Ok(())
    }

    /// The old ones fade first.
    fn tones(&mut self, plan: TonePlan) -> Result<(), KeyerError> {
        let next = ToneMaker::new(plan, f64::from(self.rate))?;
        self.maker.end();
        self.write()?;
        self.maker = next;
        Ok(())
    }

    fn finish(&mut self) -> Result<(), KeyerError> {
        self.out.flush().map_err(|error| self.failed(error))
    }

    /// What was written cannot be taken back; it ends in a stop element.
    fn cancel(&mut self) -> Result<(), KeyerError> {
        self.finish()
    }
}

impl<W: Write> Drop for ToneFile<W> {
    fn drop(&mut self) {
        if !self.closed {
            let _ = self.fade_out();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_sound::{ReadOptions, SoundReader};
    use std::sync::{Arc, Mutex};

    const SPEED: StartStop = StartStop::new(50.0, 1.5);

    /// A place to write that can be looked at afterwards.
    #[derive(Clone, Default)]
    struct Shared(Arc<Mutex<Vec<u8>>>);

    impl Write for Shared {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            self.0.lock().unwrap().write(bytes)
        }

        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    struct Closed;

    impl Write for Closed {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            // Takes the header and breaks at the first block of samples.
            match bytes.len() {
                0..200 => Ok(bytes.len()),
                _ => Err(std::io::ErrorKind::BrokenPipe.into()),
            }
        }

        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    fn keyer<W: Write + Send>(out: W) -> ToneFile<W> {
        let plan = TonePlan::new(1275.0, 1445.0, SPEED);
        let writer = WavWriter::stream(out, tone_spec(8000)).unwrap();
        ToneFile::new("sound", writer, 8000, SPEED, plan).unwrap()
    }

    #[test]
    fn holds_hold_and_characters_last_their_time() {
        let shared = Shared::default();
        let mut keyer = keyer(shared.clone());
        keyer.hold(0.5).unwrap();
        keyer.send(Code::LETTERS).unwrap();
        keyer.motor(true).unwrap();
        keyer.finish().unwrap();
        keyer.close().unwrap();
        let bytes = shared.0.lock().unwrap().clone();
        let mut reader =
            SoundReader::from_read(std::io::Cursor::new(bytes), &ReadOptions::default()).unwrap();
        let (mut all, mut block) = (Vec::new(), [0.0; 1000]);
        loop {
            match reader.read(&mut block).unwrap() {
                0 => break,
                count => all.extend_from_slice(&block[..count]),
            }
        }
        // 0.5 s, a character of 0.15 s, a glide of 5 ms and 10 ms to fade.
        assert_eq!(all.len(), 5320);
        assert!(all.iter().any(|s| *s > 0.49) && all[5318].abs() < 1e-3);
    }

    #[test]
    fn a_reader_that_goes_away_is_noticed() {
        let mut keyer = keyer(Closed);
        let error = keyer.hold(5.0).unwrap_err();
        assert!(matches!(error, KeyerError::PulledOut { .. }), "{error}");
    }

    #[test]
    fn a_tone_beyond_the_rate_is_a_setting() {
        let plan = TonePlan::new(1275.0, 4445.0, SPEED);
        let writer = WavWriter::stream(Vec::new(), tone_spec(8000)).unwrap();
        let error = ToneFile::new("sound", writer, 8000, SPEED, plan)
            .err()
            .unwrap();
        assert!(error.to_string().contains("the space tone"), "{error}");
    }
}
