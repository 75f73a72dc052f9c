//! Talk on standard error, with a bar below it while a long file is read.

use crate::outcome::say;
use indicatif::{ProgressBar, ProgressStyle};
use markhold_sound::SoundReader;
use std::io::{IsTerminal, stderr, stdout};

/// Sound shorter than this needs no bar, s.
const LONG_S: u64 = 600;

/// Talks, and shows how far it is.
pub struct Progress {
    bar: ProgressBar,
}

impl Progress {
    /// A bar where it helps: a long file, a person watching standard error, and no text on
    /// the same screen.
    pub fn new(sound: &SoundReader) -> Self {
        let rate = u64::from(sound.rate());
        let length = sound.len_hint().filter(|frames| frames / rate >= LONG_S);
        let bar = match length {
            Some(length) if stderr().is_terminal() && !stdout().is_terminal() => {
                ProgressBar::new(length).with_style(style())
            }
            _ => ProgressBar::hidden(),
        };
        Progress { bar }
    }

    /// Shows that `position` samples have been read.
    pub fn at(&self, position: u64) {
        self.bar.set_position(position);
    }

    /// Says a line.
    pub fn say(&self, line: &str) {
        self.bar.suspend(|| say(line));
    }

    /// Takes the bar away.
    pub fn finish(&self) {
        self.bar.finish_and_clear();
    }
}

fn style() -> ProgressStyle {
    ProgressStyle::with_template("{wide_bar} {percent} %, {eta} left")
        .unwrap_or_else(|_| ProgressStyle::default_bar())
}
