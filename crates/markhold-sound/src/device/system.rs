//! An input of this computer, through its sound server or directly.

use super::list::{InputId, hosts, name_of};
use super::open::{BLOCKS_PER_S, OpenInput, Opened, TIMEOUT, Trouble};
use super::ring::Tap;
#[cfg(target_os = "linux")]
use super::server;
use crate::file::{MAX_RATE, MIN_RATE};
use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{BufferSize, FromSample, SampleFormat, SizedSample, StreamConfig};
use std::sync::mpsc::Sender;

/// An input of this computer.
#[derive(Clone, Debug)]
pub struct SystemInput {
    /// Which one.
    pub id: InputId,
}

impl SystemInput {
    fn device(&self) -> Result<cpal::Device, String> {
        let hosts = hosts();
        if self.id.is_default() {
            let mut defaults = hosts.iter().filter_map(HostTrait::default_input_device);
            return defaults.next().ok_or_else(|| {
                "there is no sound input; plug one in or start the sound server".into()
            });
        }
        let id = self.id.0.parse().map_err(|_| unknown(&self.id))?;
        let device = hosts.iter().find_map(|host| host.device_by_id(&id));
        device.ok_or_else(|| unknown(&self.id))
    }
}

fn unknown(id: &InputId) -> String {
    format!("there is no input \"{id}\"; plug it in, start the sound server, or choose another")
}

impl OpenInput for SystemInput {
    fn open(
        &self,
        tap: &mut dyn FnMut(u32) -> Tap,
        trouble: Sender<Trouble>,
    ) -> Result<Opened, String> {
        let device = self.device()?;
        #[cfg(target_os = "linux")]
        if let Some(source) = device.id().ok().and_then(|id| server::source_of(&id)) {
            return server::open(source, tap, trouble);
        }
        let name = name_of(&device);
        let said = |error: cpal::Error| format!("{name}: {error}");
        let supported = device.default_input_config().map_err(said)?;
        let format = supported.sample_format();
        let mut config = supported.config();
        config.sample_rate = config.sample_rate.clamp(MIN_RATE, MAX_RATE);
        let rate = config.sample_rate;
        // Not every device lets its block be chosen.
        let mut stream = None;
        for size in [BufferSize::Fixed(rate / BLOCKS_PER_S), BufferSize::Default] {
            config.buffer_size = size;
            stream = Some(build(&device, config, format, tap(rate), trouble.clone()));
            if matches!(stream, Some(Ok(_))) {
                break;
            }
        }
        let stream = stream.expect("two were tried").map_err(said)?;
        stream.play().map_err(said)?;
        Ok(Opened {
            name,
            rate,
            stream: Box::new(stream),
        })
    }
}

/// Opens with samples as the device has them.
fn build(
    device: &cpal::Device,
    config: StreamConfig,
    format: SampleFormat,
    tap: Tap,
    trouble: Sender<Trouble>,
) -> Result<cpal::Stream, cpal::Error> {
    match format {
        SampleFormat::F32 => build_of::<f32>(device, config, tap, trouble),
        SampleFormat::F64 => build_of::<f64>(device, config, tap, trouble),
        SampleFormat::I8 => build_of::<i8>(device, config, tap, trouble),
        SampleFormat::U8 => build_of::<u8>(device, config, tap, trouble),
        SampleFormat::I24 => build_of::<cpal::I24>(device, config, tap, trouble),
        SampleFormat::I32 => build_of::<i32>(device, config, tap, trouble),
        SampleFormat::U16 => build_of::<u16>(device, config, tap, trouble),
        // What else there may be the system turns into 16 bits, or says that it cannot.
        _ => build_of::<i16>(device, config, tap, trouble),
    }
}

fn build_of<T>(
    device: &cpal::Device,
    config: StreamConfig,
    mut tap: Tap,
    trouble: Sender<Trouble>,
) -> Result<cpal::Stream, cpal::Error>
where
    T: SizedSample + Send + 'static,
    f32: FromSample<T>,
{
    let channels = usize::from(config.channels);
    device.build_input_stream::<T, _, _>(
        config,
        move |samples, _| tap.put(samples, channels, f32::from_sample_),
        move |error| {
            let said = match error.kind() {
                cpal::ErrorKind::Xrun => Trouble::Lost,
                // These do not end the sound.
                cpal::ErrorKind::DeviceChanged | cpal::ErrorKind::RealtimeDenied => return,
                _ => Trouble::Ended(error.to_string()),
            };
            // The source may have gone.
            let _ = trouble.send(said);
        },
        Some(TIMEOUT),
    )
}
