//! A sound output: samples to a device, as it plays them.
//!
//! The device's callback only moves samples out of a ring that was made beforehand; what
//! it found missing is counted and can be shown.

use super::real_time::ask_for_low_real_time;
use super::{KeyerError, Sink};
use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{BufferSize, Device, ErrorKind, FromSample, SampleFormat, SizedSample, StreamConfig};
use rtrb::{Consumer, Producer, RingBuffer};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Sound kept ready for the device, s: enough for a busy computer, less than a character.
const RING_S: f64 = 0.1;
/// What the device asks for at a time, s.
const PERIOD_S: f64 = 0.02;
/// A device that has asked for nothing for so long is held up or gone, s.
const SILENT_S: f64 = 2.0;
/// How long the sound system may take to open a device.
const OPEN_TIME: Duration = Duration::from_secs(5);

/// What the callback tells.
#[derive(Default)]
struct Told {
    /// Callbacks so far.
    calls: AtomicU64,
    /// Samples that were missing when the device wanted them.
    missing: AtomicU64,
    gone: AtomicBool,
}

/// An open sound output that plays one channel on all of the device's.
pub struct SoundOutput {
    // Configured.
    name: String,
    rate: u32,
    // State.
    ring: Producer<f32>,
    told: Arc<Told>,
    /// Number of callbacks when that number last changed, and when.
    alive: (u64, Instant),
    /// Plays as long as it is kept.
    _stream: cpal::Stream,
}

/// Names of the sound outputs, the default one first.
pub fn outputs() -> Vec<String> {
    let host = cpal::default_host();
    let mut names: Vec<String> = host.default_output_device().iter().map(name_of).collect();
    for name in host
        .output_devices()
        .into_iter()
        .flatten()
        .map(|d| name_of(&d))
    {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    names
}

impl SoundOutput {
    /// Opens an output by a part of its name, or the default one, at a sampling rate, Hz,
    /// or at its own. The thread that opens it fills it, and asks for a place before other
    /// programs: it works for some microseconds at a time, and the device waits for nobody.
    ///
    /// Errors: no such output, in use, forbidden, or it cannot do this rate.
    pub fn open(name: Option<&str>, rate: Option<u32>) -> Result<Self, KeyerError> {
        ask_for_low_real_time();
        let device = find(name)?;
        let name = name_of(&device);
        let failed = |error: cpal::Error| sound_error(&name, &error);
        let usual = device.default_output_config().map_err(failed)?;
        let rate = rate.unwrap_or(usual.sample_rate());
        let config = StreamConfig {
            channels: usual.channels(),
            sample_rate: rate,
            buffer_size: BufferSize::Fixed((PERIOD_S * f64::from(rate)) as u32),
        };
        let (ring, out) = RingBuffer::new((RING_S * f64::from(rate)) as usize);
        let told = Arc::new(Told::default());
        let build = match usual.sample_format() {
            SampleFormat::F32 => build::<f32>,
            SampleFormat::I16 => build::<i16>,
            SampleFormat::I32 => build::<i32>,
            SampleFormat::U8 => build::<u8>,
            other => {
                return Err(KeyerError::Setting {
                    what: "the sample format of the sound output",
                    found: other.to_string(),
                    expected: "f32, i16, i32 or u8".into(),
                });
            }
        };
        let stream = build(&device, config, out, told.clone()).map_err(failed)?;
        stream.play().map_err(failed)?;
        Ok(SoundOutput {
            name,
            rate,
            ring,
            told,
            alive: (0, Instant::now()),
            _stream: stream,
        })
    }

    /// The name of the device.
    pub fn name(&self) -> &str {
        &self.name
    }
}

impl Sink for SoundOutput {
    fn rate_hz(&self) -> f64 {
        f64::from(self.rate)
    }

    fn room(&mut self) -> usize {
        self.ring.slots()
    }

    fn put(&mut self, samples: &[f32]) {
        let (_, left) = self.ring.push_partial_slice(samples);
        debug_assert!(left.is_empty(), "there was room for all");
    }

    fn delay_s(&self) -> f64 {
        // The device holds two periods beyond the ring.
        RING_S + 2.0 * PERIOD_S
    }

    fn missing(&self) -> u64 {
        self.told.missing.load(Ordering::Relaxed)
    }

    fn check(&mut self) -> Result<(), KeyerError> {
        if self.told.gone.load(Ordering::Relaxed) {
            return Err(KeyerError::PulledOut {
                what: self.name.clone(),
            });
        }
        let calls = self.told.calls.load(Ordering::Relaxed);
        if calls != self.alive.0 {
            self.alive = (calls, Instant::now());
        }
        let seconds = self.alive.1.elapsed().as_secs_f64();
        if seconds < SILENT_S {
            return Ok(());
        }
        Err(KeyerError::Stalled {
            what: self.name.clone(),
            seconds,
        })
    }
}

fn build<T: SizedSample + FromSample<f32>>(
    device: &Device,
    config: StreamConfig,
    mut ring: Consumer<f32>,
    told: Arc<Told>,
) -> Result<cpal::Stream, cpal::Error> {
    let channels = usize::from(config.channels);
    let of_callback = told.clone();
    let mut first = true;
    device.build_output_stream(
        config,
        move |frames: &mut [T], _: &_| {
            // Of the thread that calls, so not before it does.
            if std::mem::take(&mut first) {
                ask_for_low_real_time();
            }
            move_samples(&mut ring, frames, channels, &of_callback);
        },
        move |error| {
            // What else there is (a late callback, another route) mends itself.
            let passing = matches!(
                error.kind(),
                ErrorKind::Xrun | ErrorKind::RealtimeDenied | ErrorKind::DeviceChanged
            );
            if error.kind() == ErrorKind::Xrun {
                // The sound system ran dry behind the callback; it does not say for how long.
                told.missing.fetch_add(1, Ordering::Relaxed);
            }
            if !passing {
                told.gone.store(true, Ordering::Relaxed);
            }
        },
        Some(OPEN_TIME),
    )
}

/// The same sample on every channel; silence where the ring has run out.
fn move_samples<T: SizedSample + FromSample<f32>>(
    ring: &mut Consumer<f32>,
    frames: &mut [T],
    channels: usize,
    told: &Told,
) {
    let first = told.calls.fetch_add(1, Ordering::Relaxed) == 0;
    let mut missing = 0;
    for frame in frames.chunks_mut(channels) {
        let sample = ring.pop().unwrap_or_else(|_| {
            missing += 1;
            0.0
        });
        frame.fill(T::from_sample(sample));
    }
    // The very first call may come before the first sample.
    if !first {
        told.missing.fetch_add(missing, Ordering::Relaxed);
    }
}

fn find(name: Option<&str>) -> Result<Device, KeyerError> {
    let host = cpal::default_host();
    let found = match name {
        None => host.default_output_device(),
        Some(part) => {
            let devices = host.output_devices();
            let mut devices = devices.into_iter().flatten();
            devices.find(|device| name_of(device).contains(part))
        }
    };
    found.ok_or_else(|| KeyerError::Missing {
        what: name.map_or("a sound output".into(), |n| format!("the sound output {n}")),
        remedy: match outputs() {
            names if names.is_empty() => {
                "plug in a sound device or start the sound server".to_string()
            }
            names => format!("plug it in, or choose one of: {}", names.join("; ")),
        },
    })
}

fn name_of(device: &Device) -> String {
    device.description().map_or_else(
        |_| "a sound output without a name".into(),
        |description| description.name().to_string(),
    )
}

fn sound_error(name: &str, error: &cpal::Error) -> KeyerError {
    let what = name.to_string();
    match error.kind() {
        ErrorKind::DeviceBusy => KeyerError::Busy { what },
        ErrorKind::DeviceNotAvailable | ErrorKind::HostUnavailable => KeyerError::Missing {
            what,
            remedy: "plug it in, or start the sound server".into(),
        },
        ErrorKind::PermissionDenied => KeyerError::NoPermission {
            what,
            remedy: "add yourself to the group audio, then log in again".into(),
        },
        ErrorKind::UnsupportedConfig => KeyerError::Setting {
            what: "the sampling rate",
            found: format!("one that {name} cannot do ({error})"),
            expected: "44100 or 48000 Hz, or leave it out".into(),
        },
        _ => KeyerError::Io {
            what,
            source: std::io::Error::other(error.to_string()),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_callback_plays_every_channel_and_counts_what_is_missing() {
        let (mut ring, mut out) = RingBuffer::new(8);
        let told = Told::default();
        let mut frames = [1i16; 4];
        move_samples(&mut out, &mut frames, 2, &told);
        assert_eq!((frames, told.missing.load(Ordering::Relaxed)), ([0; 4], 0));
        ring.push(0.5).unwrap();
        move_samples(&mut out, &mut frames, 2, &told);
        assert_eq!(frames, [16_384, 16_384, 0, 0]);
        assert_eq!(told.missing.load(Ordering::Relaxed), 1);
    }

    #[test]
    fn sound_errors_say_what_to_do() {
        let of = |kind: ErrorKind| sound_error("Card", &cpal::Error::from(kind));
        assert!(matches!(of(ErrorKind::DeviceBusy), KeyerError::Busy { .. }));
        let text = of(ErrorKind::HostUnavailable).to_string();
        assert!(text.contains("start the sound server"), "{text}");
        assert!(
            of(ErrorKind::PermissionDenied)
                .to_string()
                .contains("group audio")
        );
        assert!(!of(ErrorKind::UnsupportedConfig).may_reopen());
    }
}
