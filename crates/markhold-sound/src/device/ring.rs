//! From the device's callback to the sound thread: a ring made beforehand.

use rtrb::{Consumer, Producer, RingBuffer};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Sound that the ring holds, s: longer than any computer that works keeps a thread waiting.
pub const RING_S: f64 = 4.0;

/// What is in the ring.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Item {
    Sample(f32),
    /// So many samples did not fit here.
    Lost(u32),
}

/// What both ends look at.
#[derive(Debug)]
struct Shared {
    made: Instant,
    /// When the callback last came, microseconds since `made` and one more; 0 for never.
    came_us: AtomicU64,
}

/// The callback's end.
pub struct Tap {
    // configured
    channel: usize,
    // derived
    ring: Producer<Item>,
    shared: Arc<Shared>,
    // state
    lost: u32,
}

/// The sound thread's end.
pub struct Pool {
    ring: Consumer<Item>,
    shared: Arc<Shared>,
}

/// What [`Pool::take`] found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Found {
    /// The block holds samples.
    Samples,
    /// So many samples were lost here.
    Lost(u32),
    /// Nothing there yet.
    Nothing,
}

/// A ring for `capacity` samples; `channel`, counted from 0, is the one that is taken.
pub fn ring(capacity: usize, channel: usize) -> (Tap, Pool) {
    let (producer, consumer) = RingBuffer::new(capacity.max(2));
    let shared = Arc::new(Shared {
        made: Instant::now(),
        came_us: AtomicU64::new(0),
    });
    let tap = Tap {
        channel,
        ring: producer,
        shared: shared.clone(),
        lost: 0,
    };
    let pool = Pool {
        ring: consumer,
        shared,
    };
    (tap, pool)
}

impl Tap {
    /// Puts interleaved samples of `channels` channels into the ring. Takes no memory and
    /// does not wait. A channel that is not there is the last one.
    pub fn put<T: Copy>(&mut self, samples: &[T], channels: usize, to_f32: impl Fn(T) -> f32) {
        let now_us = self.shared.made.elapsed().as_micros() as u64 + 1;
        self.shared.came_us.store(now_us, Ordering::Relaxed);
        let channels = channels.max(1);
        let frames = samples.chunks_exact(channels);
        let channel = self.channel.min(channels - 1);
        let left_out = frames.len().saturating_sub(self.room());
        let fits = frames.len() - left_out;
        if let Ok(chunk) = self.ring.write_chunk_uninit(fits) {
            let sample = |frame: &[T]| {
                let sample = to_f32(frame[channel]);
                Item::Sample(if sample.is_finite() { sample } else { 0.0 })
            };
            chunk.fill_from_iter(frames.map(sample));
        }
        self.lost = self.lost.saturating_add(left_out as u32);
    }

    /// Room for samples, after what was lost before has been marked.
    fn room(&mut self) -> usize {
        if self.lost > 0 && self.ring.push(Item::Lost(self.lost)).is_ok() {
            self.lost = 0;
        }
        // While a loss is not marked nothing may follow it.
        if self.lost > 0 { 0 } else { self.ring.slots() }
    }
}

impl Pool {
    /// Puts up to `most` samples into `block`, up to the next loss.
    pub fn take(&mut self, block: &mut Vec<f32>, most: usize) -> Found {
        block.clear();
        if let Ok(&Item::Lost(lost)) = self.ring.peek() {
            // It was just seen.
            let _ = self.ring.pop();
            return Found::Lost(lost);
        }
        while block.len() < most
            && let Ok(&Item::Sample(sample)) = self.ring.peek()
        {
            block.push(sample);
            let _ = self.ring.pop();
        }
        match block.is_empty() {
            true => Found::Nothing,
            false => Found::Samples,
        }
    }

    /// How many items wait.
    pub fn waiting(&self) -> usize {
        self.ring.slots()
    }

    /// How long ago the callback last came, or the ring was made if it never did.
    pub fn age(&self) -> Duration {
        let came = Duration::from_micros(self.shared.came_us.load(Ordering::Relaxed));
        self.shared.made.elapsed().saturating_sub(came)
    }

    /// Whether the callback has ever come.
    pub fn has_come(&self) -> bool {
        self.shared.came_us.load(Ordering::Relaxed) > 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(pool: &mut Pool) -> (Vec<f32>, Vec<(usize, u32)>) {
        let (mut samples, mut losses, mut block) = (Vec::new(), Vec::new(), Vec::new());
        loop {
            match pool.take(&mut block, 100) {
                Found::Samples => samples.append(&mut block),
                Found::Lost(lost) => losses.push((samples.len(), lost)),
                Found::Nothing => return (samples, losses),
            }
        }
    }

    fn count(from: u16, to: u16) -> Vec<f32> {
        (from..to).map(f32::from).collect()
    }

    #[test]
    fn everything_comes_through_in_order() {
        let (mut tap, mut pool) = ring(1000, 0);
        assert!(!pool.has_come());
        tap.put(&count(0, 300), 1, |s| s);
        tap.put(&count(300, 777), 1, |s| s);
        assert!(pool.has_come());
        assert_eq!(all(&mut pool), (count(0, 777), vec![]));
    }

    #[test]
    fn the_chosen_channel_is_taken() {
        let stereo: Vec<i16> = (0..100).collect();
        for (channel, first) in [(0, 0.0), (1, 1.0), (9, 1.0)] {
            let (mut tap, mut pool) = ring(1000, channel);
            tap.put(&stereo, 2, f32::from);
            let (samples, _) = all(&mut pool);
            assert_eq!(
                (samples.len(), samples[0], samples[1]),
                (50, first, first + 2.0)
            );
        }
    }

    #[test]
    fn what_does_not_fit_is_marked_in_its_place() {
        let (mut tap, mut pool) = ring(100, 0);
        tap.put(&count(0, 130), 1, |s| s);
        tap.put(&count(130, 150), 1, |s| s);
        let (samples, losses) = all(&mut pool);
        assert_eq!((samples, losses), (count(0, 100), vec![]));
        tap.put(&count(150, 160), 1, |s| s);
        let (samples, losses) = all(&mut pool);
        assert_eq!((samples, losses), (count(150, 160), vec![(0, 50)]));
    }

    #[test]
    fn nothing_is_lost_without_being_counted() {
        let (mut tap, mut pool) = ring(64, 0);
        let (mut got, mut lost) = (0, 0);
        for step in 0..2000 {
            tap.put(&count(0, step % 37), 1, |s| s);
            if step % 3 == 0 {
                let (samples, losses) = all(&mut pool);
                got += samples.len();
                lost += losses.iter().map(|l| l.1 as usize).sum::<usize>();
            }
        }
        tap.put(&count(0, 1), 1, |s| s);
        let (samples, losses) = all(&mut pool);
        got += samples.len();
        lost += losses.iter().map(|l| l.1 as usize).sum::<usize>();
        let put: usize = (0..2000usize).map(|step| step % 37).sum();
        assert!(lost > 0);
        assert_eq!(got + lost, put + 1);
    }

    #[test]
    fn what_is_no_number_is_silence() {
        let (mut tap, mut pool) = ring(10, 0);
        tap.put(&[0.5, f32::NAN, f32::INFINITY], 1, |s| s);
        assert_eq!(all(&mut pool).0, [0.5, 0.0, 0.0]);
    }
}
