//! One sound through one receiver to the output.

use super::output::{About, End, Output};
use super::progress::Progress;
use super::tally::Tally;
use crate::outcome::{Outcome, say};
use crate::stopping;
use anyhow::Context;
use markhold_event::Event;
use markhold_receive::Receiver;
use markhold_sound::{SoundError, SoundReader};
use std::io;

/// Samples given to the receiver at once: a twelfth of a second at 48 kHz, so that a pipe
/// is followed closely.
const BLOCK: usize = 4096;

/// Copies a sound to its end or to the first error, which is told after what was copied
/// until then. An error is one of the output.
pub fn copy(
    name: &str,
    mut sound: SoundReader,
    receiver: Receiver,
    output: &mut dyn Output,
) -> anyhow::Result<Outcome> {
    let mut copying = Copying {
        receiver,
        progress: Progress::new(&sound),
        tally: Tally::default(),
        output,
    };
    let error = copying.run(name, &mut sound).context("standard output")?;
    copying.progress.finish();
    let notices = sound.notices();
    notices
        .iter()
        .for_each(|notice| say(&format!("{name}: {notice}")));
    match error {
        Some(error) => Ok(super::failed(name, &super::hint(&error))),
        None if copying.tally.characters > 0 => Ok(Outcome::Done),
        None if stopping::told() => Ok(Outcome::NothingFound),
        None => {
            let said = match copying.receiver.elsewhere() {
                None => "nothing found".to_string(),
                Some(other) => format!(
                    "nothing found as asked for, but {:.2} baud at mark {:.0} Hz and space {:.0} Hz",
                    other.rate_baud, other.mark_hz, other.space_hz
                ),
            };
            say(&format!("{name}: {said}"));
            Ok(Outcome::NothingFound)
        }
    }
}

struct Copying<'a> {
    receiver: Receiver,
    output: &'a mut dyn Output,
    progress: Progress,
    tally: Tally,
}

impl Copying<'_> {
    /// Copies everything. `Some` is what ended the sound too early.
    fn run(&mut self, name: &str, sound: &mut SoundReader) -> io::Result<Option<SoundError>> {
        let about = About::new(name, sound);
        self.tally.clock = about.clock;
        self.output.begin(&about)?;
        let error = self.read(sound)?;
        let length_s = sound.position() as f64 / f64::from(sound.rate());
        self.output.end(&End {
            notices: &sound.notices(),
            error: error.as_ref(),
            ..self.tally.end(name, length_s)
        })?;
        self.output.flush()?;
        Ok(error)
    }

    /// Gives all samples to the receiver. Told to stop, it takes the sound for ended: what was
    /// held back is told.
    fn read(&mut self, sound: &mut SoundReader) -> io::Result<Option<SoundError>> {
        let mut block = vec![0.0; BLOCK];
        let mut events = Vec::new();
        loop {
            let (count, error) = match sound.read(&mut block) {
                Ok(count) => (count, None),
                Err(error) => (0, Some(error)),
            };
            let over = count == 0 || stopping::told();
            let keep = &mut |event| events.push(event);
            self.receiver.process(&block[..count], keep);
            if over {
                self.receiver.finish(keep);
            }
            events.drain(..).try_for_each(|event| self.tell(&event))?;
            self.output
                .at(sound.position() as f64 / f64::from(sound.rate()))?;
            self.output.flush()?;
            self.progress.at(sound.position());
            if over {
                return Ok(error);
            }
        }
    }

    /// Prints an event, then says what there is to say about it: in this order, so that
    /// on a terminal talk does not fall into a line of text.
    fn tell(&mut self, event: &Event) -> io::Result<()> {
        self.output.event(event)?;
        if let Some(line) = self.tally.count(event) {
            self.output.flush()?;
            self.progress.say(&line);
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::super::marker::Marker;
    use super::super::running::Running;
    use super::*;
    use markhold_air::{Air, Noise, Scene, Sender};
    use markhold_code::FiguresRow;
    use markhold_receive::Settings;
    use markhold_sound::ReadOptions;
    use std::io::Read;

    /// Bare samples that end in an error, as from a failing disk.
    struct Failing(Vec<u8>);

    impl Read for Failing {
        fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
            if self.0.is_empty() {
                return Err(io::Error::other("the disk gave up"));
            }
            let count = out.len().min(self.0.len()).min(1_000);
            out[..count].copy_from_slice(&self.0[..count]);
            self.0.drain(..count);
            Ok(count)
        }
    }

    #[test]
    fn text_before_a_failing_disk_is_printed() {
        let sender = Sender::of_text("GOOD EVENING ALL", FiguresRow::Ita2).unwrap();
        let scene = Scene {
            senders: vec![sender],
            noise: Noise::EsN0Db(22.0),
            ..Scene::default()
        };
        let samples = Air::new(scene, 8_000).unwrap().render();
        let bytes = samples.iter().flat_map(|s| s.to_le_bytes()).collect();
        let options = ReadOptions {
            channel: None,
            raw: Some("8000,f32le".parse().unwrap()),
        };
        let sound = SoundReader::from_read(Failing(bytes), &options).unwrap();
        let mut text = Vec::new();
        let mut output = Running::new(&mut text, Marker::None);
        let receiver = Receiver::new(8_000.0, Settings::default()).unwrap();
        let outcome = copy("disk", sound, receiver, &mut output).unwrap();
        assert_eq!(outcome, Outcome::Failed);
        assert_eq!(String::from_utf8(text).unwrap(), "GOOD EVENING ALL\n");
    }
}
