//! An input of a sound server, asked for with room for what comes in one piece.
//!
//! The general sound crate asks the server to keep no more than one block. What a source gives
//! in longer pieces (the monitor of an output, a card on a busy computer) the server then
//! throws away, and nobody is told. Here the block is as short, and the server keeps as much
//! as it will until it has been sent.

use super::open::{BLOCKS_PER_S, Opened, TIMEOUT, Trouble};
use super::ring::Tap;
use crate::file::{MAX_RATE, MIN_RATE};
use futures_executor::block_on;
use pulseaudio::protocol::stream::{BufferAttr, StreamFlags};
use pulseaudio::protocol::{RecordStreamParams, SampleFormat, SourceInfo};
use pulseaudio::{Client, ClientError, RecordStream};
use std::ffi::CString;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{self, Sender};
use std::time::Duration;

/// What the ids of the server's inputs begin with.
const HOST: &str = "pulseaudio:";
/// How often the server is asked whether the stream is still there.
const LOOK: Duration = Duration::from_millis(200);
/// Bytes of a sample as they are asked for, whatever the source has.
const SAMPLE_BYTES: usize = 4;

/// The server's name for a device, if it is one of a server's.
pub(super) fn source_of(id: &cpal::DeviceId) -> Option<CString> {
    CString::new(id.to_string().strip_prefix(HOST)?).ok()
}

/// Opens a source of the server.
///
/// # Errors
///
/// Why it cannot be opened, in words for the person.
pub(super) fn open(
    source: CString,
    tap: &mut dyn FnMut(u32) -> Tap,
    trouble: Sender<Trouble>,
) -> Result<Opened, String> {
    let server = within(move || Server::reach(source))?;
    let name = server.name();
    let rate = server.rate();
    let tap = tap(rate);
    let stream = within(move || server.record(tap)).map_err(|why| format!("{name}: {why}"))?;
    let stream = Stream::watched(stream, trouble);
    Ok(Opened {
        name,
        rate,
        stream: Box::new(stream),
    })
}

/// A server that hangs must not hang whoever asks it.
fn within<T: Send + 'static>(
    ask: impl FnOnce() -> Result<T, ClientError> + Send + 'static,
) -> Result<T, String> {
    let (tell, told) = mpsc::channel();
    std::thread::spawn(move || {
        // Nobody may be waiting any more.
        let _ = tell.send(ask());
    });
    match told.recv_timeout(TIMEOUT) {
        Ok(answer) => answer.map_err(|why| format!("the sound server says: {why}")),
        Err(_) => Err(format!(
            "the sound server did not answer in {:.0} s",
            TIMEOUT.as_secs_f64()
        )),
    }
}

/// A server, and the one of its sources that is wanted.
struct Server {
    client: Client,
    source: SourceInfo,
}

impl Server {
    fn reach(source: CString) -> Result<Self, ClientError> {
        let client = Client::from_env(c"markhold")?;
        let source = block_on(client.source_info_by_name(source))?;
        Ok(Server { client, source })
    }

    fn name(&self) -> String {
        let name = self.source.description.as_ref();
        name.unwrap_or(&self.source.name)
            .to_string_lossy()
            .into_owned()
    }

    fn rate(&self) -> u32 {
        self.source
            .sample_spec
            .sample_rate
            .clamp(MIN_RATE, MAX_RATE)
    }

    /// What is asked for: the source's channels, floating point, blocks as short as elsewhere.
    fn params(&self) -> RecordStreamParams {
        let mut spec = self.source.sample_spec;
        spec.format = match cfg!(target_endian = "little") {
            true => SampleFormat::Float32Le,
            false => SampleFormat::Float32Be,
        };
        spec.sample_rate = self.rate();
        let frames = (spec.sample_rate / BLOCKS_PER_S) as usize;
        let block = frames * usize::from(spec.channels) * SAMPLE_BYTES;
        RecordStreamParams {
            sample_spec: spec,
            channel_map: self.source.channel_map,
            source_index: Some(self.source.index),
            buffer_attr: BufferAttr {
                fragment_size: block as u32,
                // The rest is as the server thinks best: of what waits, all that it can keep.
                ..Default::default()
            },
            flags: StreamFlags {
                // The device behind it shall be as quick as the blocks are short.
                adjust_latency: true,
                ..Default::default()
            },
            ..Default::default()
        }
    }

    /// Begins to listen.
    fn record(self, mut tap: Tap) -> Result<(Client, RecordStream), ClientError> {
        let params = self.params();
        let channels = usize::from(params.sample_spec.channels);
        let mut samples = Vec::new();
        let take = move |bytes: &[u8]| {
            samples.clear();
            let of = |b: &[u8]| f32::from_ne_bytes(b.try_into().expect("four bytes"));
            samples.extend(bytes.chunks_exact(SAMPLE_BYTES).map(of));
            tap.put(&samples, channels, |s| s);
        };
        let stream = block_on(self.client.create_record_stream(params, take))?;
        Ok((self.client, stream))
    }
}

/// A stream that is listened to; dropped, it ends.
struct Stream {
    gone: Arc<AtomicBool>,
}

impl Stream {
    /// A thread owns the stream and asks after it: the server tells nobody that it ended one.
    fn watched((client, stream): (Client, RecordStream), trouble: Sender<Trouble>) -> Self {
        let gone = Arc::new(AtomicBool::new(false));
        let end = gone.clone();
        std::thread::spawn(move || {
            while !end.load(Ordering::Relaxed) {
                if let Err(why) = block_on(stream.timing_info()) {
                    // The source may have gone.
                    let _ = trouble.send(Trouble::Ended(why.to_string()));
                    break;
                }
                std::thread::sleep(LOOK);
            }
            drop((stream, client));
        });
        Stream { gone }
    }
}

impl Drop for Stream {
    fn drop(&mut self) {
        self.gone.store(true, Ordering::Relaxed);
    }
}
