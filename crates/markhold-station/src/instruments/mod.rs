//! Instruments: pictures and meters of the sound, for the eye.
//!
//! Pure: samples in, pictures out; no clock, no thread. Each is cheap enough to run all day.

mod crashes;
mod eye;
mod figure;
pub mod floor;
mod level;
mod panel;
pub mod spectra;
mod tones;

pub use crashes::CrashCounter;
pub use eye::Eye;
pub use figure::Figure;
pub use level::LevelMeter;
pub use panel::Panel;
pub use tones::{Pair, ToneFilters, TwoTones};

use serde::Serialize;

/// Bins of a row of the passband picture.
pub const ROW_BINS: usize = 256;
/// The first bin lies at 0 Hz, the one after the last at this, Hz of audio.
pub const ROW_TOP_HZ: f64 = 4000.0;
/// Least level of a bin, dB.
pub const ROW_FLOOR_DB: i8 = -127;
/// Points of a trace of the eye picture.
pub const EYE_POINTS: usize = 32;

/// Static crashes. They come before lightning does: a rising rate is a reason to look at
/// the sky, and to follow local safety advice, in good time.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Counts {
    /// Crashes since the start.
    pub crashes: u64,
    /// Crashes in the latest minute.
    pub crashes_per_minute: f64,
    /// Whether the rate rises in a way that a thunderstorm coming nearer does.
    pub lightning_caution: bool,
}

/// One row of the passband picture.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Row {
    /// The middle of the sound it was made of, live time, s.
    pub at_s: f64,
    /// Level of each of [`ROW_BINS`] bins from 0 Hz to [`ROW_TOP_HZ`], dB: 0 is a tone at
    /// full scale. Bins above half the sampling rate hold [`ROW_FLOOR_DB`].
    pub db: Vec<i8>,
}

/// One element in the eye picture.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EyeTrace {
    /// Which element of its character: 0 start, 1 to 5, 6 stop.
    pub element: u8,
    /// [`EYE_POINTS`] points from half an element before it to half an element after it;
    /// 127 is mark for certain, -127 space.
    pub points: Vec<i8>,
}

/// What the level meter has to say.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum LevelState {
    /// Fine.
    #[default]
    Good,
    /// Samples stand at full scale: turn the level down.
    Clipping,
    /// Hardly anything comes: turn the level up.
    TooLittle,
    /// Nothing but zeros: the cable is out, the input is muted or the wrong one.
    Silent,
}

/// The level meter.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Level {
    /// Largest sample since the report before, dB over full scale.
    pub peak_db: f32,
    /// Root mean square since the report before, dB over full scale (a full-scale sine has
    /// -3).
    pub rms_db: f32,
    /// Samples at full scale since the report before.
    pub clipped: u32,
    /// What is to be said about it.
    pub state: LevelState,
}

/// Everything for the eye since the report before.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Instruments {
    /// Up to where the sound is taken in, live time, s.
    pub until_s: f64,
    /// New rows of the passband picture.
    pub rows: Vec<Row>,
    /// The level meter.
    pub level: Level,
    /// Mark filter (x) against space filter (y), new points in order of time; 127 is the
    /// larger of the two tones' levels of late.
    pub figure: Vec<[i8; 2]>,
    /// The tones that the figure's filters and the eye are set to: mark and space, Hz.
    pub tones_hz: Option<[f64; 2]>,
    /// New traces of the eye picture; none while no signal is followed.
    pub eye: Vec<EyeTrace>,
}
