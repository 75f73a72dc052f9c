//! How an evening is kept: room, length of files, care.

use std::time::Duration;

/// How an evening is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct KeepSettings {
    /// Most bytes of sound on the shelf; the oldest makes room for the latest.
    pub sound_bytes: u64,
    /// Recording stops while less than this many bytes are free on the disk, so that the
    /// copy and everybody else still have room.
    pub spare_bytes: u64,
    /// Length of a sound file, s.
    pub segment_s: f64,
    /// How long after an error of the disk recording is tried again.
    pub retry: Duration,
    /// Whether the archive is copied once a day, and what a crash cost copied again from its
    /// sound, while the evening is kept.
    pub care: bool,
}

impl Default for KeepSettings {
    /// 20 GiB: some sixty hours at 48 kHz, two weeks at 8 kHz.
    fn default() -> Self {
        KeepSettings {
            sound_bytes: 20 << 30,
            spare_bytes: 256 << 20,
            segment_s: 300.0,
            retry: Duration::from_secs(5),
            care: true,
        }
    }
}
