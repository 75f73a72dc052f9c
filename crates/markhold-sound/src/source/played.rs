//! A sound file as a live source.

use super::{BLOCK_S, Source, Taken};
use crate::file::SoundReader;
use std::time::{Duration, Instant};

/// How fast a file is played.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Pace {
    /// As it was heard: a second takes a second.
    #[default]
    AsHeard,
    /// As fast as it can be copied.
    AsFastAsPossible,
}

/// Plays a recording.
pub struct FileSource {
    // configured
    name: String,
    pace: Pace,
    sound: SoundReader,
    // state
    begun: Option<Instant>,
}

impl FileSource {
    /// Plays `sound` under this name.
    pub fn new(name: impl Into<String>, sound: SoundReader, pace: Pace) -> Self {
        FileSource {
            name: name.into(),
            pace,
            sound,
            begun: None,
        }
    }

    /// Waits until what was given so far would have been heard.
    fn wait(&mut self) {
        let begun = *self.begun.get_or_insert_with(Instant::now);
        let heard_s = self.sound.position() as f64 / f64::from(self.sound.rate());
        let ahead = Duration::from_secs_f64(heard_s).saturating_sub(begun.elapsed());
        std::thread::sleep(ahead);
    }
}

impl Source for FileSource {
    fn name(&self) -> String {
        self.name.clone()
    }

    fn rate(&self) -> u32 {
        self.sound.rate()
    }

    fn is_live(&self) -> bool {
        false
    }

    fn take(&mut self, block: &mut Vec<f32>) -> Taken {
        let most = (f64::from(self.rate()) * BLOCK_S).ceil() as usize;
        block.resize(most, 0.0);
        match self.sound.read(block) {
            Ok(0) => Taken::Ended { why: None },
            Ok(count) => {
                block.truncate(count);
                if self.pace == Pace::AsHeard {
                    self.wait();
                }
                Taken::Sound
            }
            Err(error) => Taken::Ended {
                why: Some(error.to_string()),
            },
        }
    }
}
