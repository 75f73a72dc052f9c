//! One sound through one receiver to the output.

use super::hint;
use super::output::{About, End, Output};
use super::progress::Progress;
use super::tally::Tally;
use crate::outcome::{Outcome, say};
use anyhow::Context;
use markhold_receive::{Receiver, event::Event, settings::Settings};
use markhold_station::sound::{SoundError, SoundReader};

/// Samples given to the receiver at once: a twelfth of a second at 48 kHz, so that a pipe
/// is followed closely.
const BLOCK: usize = 4096;

/// Copies a sound to its end or to the first error; what was copied until then is printed.
pub fn copy(
    name: &str,
    mut sound: SoundReader,
    settings: &Settings,
    output: &mut dyn Output,
) -> anyhow::Result<Outcome> {
    let mut copying = Copying {
        receiver: Receiver::new(f64::from(sound.rate()), settings.clone())?,
        progress: Progress::new(&sound),
        tally: Tally::default(),
        output,
    };
    copying.output.begin(&About::new(name, &sound))?;
    let error = copying.read(&mut sound)?;
    copying.end(name, &sound, error)
}

struct Copying<'a> {
    receiver: Receiver,
    output: &'a mut dyn Output,
    progress: Progress,
    tally: Tally,
}

impl Copying<'_> {
    /// Gives all samples to the receiver. `Some` is what ended the sound too early; an
    /// error is one of the output.
    fn read(&mut self, sound: &mut SoundReader) -> anyhow::Result<Option<SoundError>> {
        let mut block = vec![0.0; BLOCK];
        let mut events = Vec::new();
        loop {
            let (count, error) = match sound.read(&mut block) {
                Ok(count) => (count, None),
                Err(error) => (0, Some(error)),
            };
            let keep = &mut |event| events.push(event);
            if count > 0 {
                self.receiver.process(&block[..count], keep);
            } else {
                self.receiver.finish(keep);
            }
            events.drain(..).try_for_each(|event| self.tell(&event))?;
            self.output.flush()?;
            self.progress.at(sound.position());
            if count == 0 {
                return Ok(error);
            }
        }
    }

    /// Prints an event, then says what there is to say about it: in this order, so that
    /// on a terminal talk does not fall into a line of text.
    fn tell(&mut self, event: &Event) -> anyhow::Result<()> {
        self.output.event(event)?;
        if let Some(line) = self.tally.count(event) {
            self.output.flush()?;
            self.progress.say(&line);
        }
        Ok(())
    }

    fn end(
        self,
        name: &str,
        sound: &SoundReader,
        error: Option<SoundError>,
    ) -> anyhow::Result<Outcome> {
        self.progress.finish();
        let notices = sound.notices();
        self.output.end(&End {
            name,
            length_s: sound.position() as f64 / f64::from(sound.rate()),
            signals: self.tally.signals,
            characters: self.tally.characters,
            notices: &notices,
            error: error.as_ref(),
        })?;
        self.output.flush()?;
        for notice in &notices {
            say(&format!("{name}: {notice}"));
        }
        if let Some(error) = error {
            return Err(hint(error)).with_context(|| name.to_string());
        }
        if self.tally.characters > 0 {
            return Ok(Outcome::Done);
        }
        say(&format!("{name}: nothing found"));
        Ok(Outcome::NothingFound)
    }
}

#[cfg(test)]
mod tests {
    use super::super::marker::Marker;
    use super::super::running::Running;
    use super::*;
    use markhold_air::{Air, Scene, Sender};
    use markhold_code::FiguresRow;
    use markhold_station::sound::ReadOptions;
    use std::io::{self, Read};

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
        let error = copy("disk", sound, &Settings::default(), &mut output).unwrap_err();
        assert_eq!(
            format!("{error:#}"),
            "disk: the system says: the disk gave up"
        );
        assert_eq!(String::from_utf8(text).unwrap(), "GOOD EVENING ALL\n");
    }
}
