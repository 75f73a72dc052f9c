//! What every kind of sound gives once its container and coding are taken off.

use super::bext::Bext;
use super::{Notice, SoundError};

/// What a source says about itself.
#[derive(Clone, Debug)]
pub(super) struct Info {
    pub(super) kind: &'static str,
    pub(super) precision: &'static str,
    pub(super) rate: u32,
    pub(super) channels: u16,
    /// Magnitude from which a sample is at full scale.
    pub(super) full_scale: f32,
    /// Frames to expect, where known.
    pub(super) len_hint: Option<u64>,
    pub(super) bext: Option<Bext>,
}

/// A source of samples behind its container and coding.
pub(super) trait Decode: Send {
    fn info(&self) -> &Info;
    /// Fills the beginning of `out`; 0 only at the end.
    fn read(&mut self, out: &mut [f32]) -> Result<usize, SoundError>;
    /// Adds what is to be said after `frames` frames.
    fn notices(&self, frames: u64, to: &mut Vec<Notice>);
}

/// Turns a channel counted from 1 into an index. Errors: [`SoundError::NoSuchChannel`].
pub(super) fn pick_channel(asked: u16, available: u16) -> Result<u16, SoundError> {
    match asked.checked_sub(1) {
        Some(index) if index < available => Ok(index),
        _ => Err(SoundError::NoSuchChannel { asked, available }),
    }
}
