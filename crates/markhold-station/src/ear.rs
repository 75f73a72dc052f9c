//! The received sound as it comes, for who wants to hear it.

use std::sync::Arc;
use tokio::sync::broadcast::{Receiver, Sender, error::RecvError};

/// Blocks that wait for a slow listener, some seconds of them; what it misses it misses.
const WAITING: usize = 128;

/// A block of sound.
#[derive(Clone, Debug)]
pub struct Block {
    /// Samples a second, Hz.
    pub rate: u32,
    /// The samples, -1 to 1 at full scale.
    pub samples: Arc<[f32]>,
}

/// Where the sound of a room is given.
#[derive(Debug)]
pub(crate) struct Mouth(Sender<Block>);

impl Default for Mouth {
    fn default() -> Self {
        Mouth(Sender::new(WAITING))
    }
}

impl Mouth {
    /// Gives a block; nothing is done where nobody listens.
    pub(crate) fn give(&self, rate: u32, samples: &[f32]) {
        if self.0.receiver_count() > 0 {
            let samples = samples.into();
            // Who went away meanwhile hears nothing.
            let _ = self.0.send(Block { rate, samples });
        }
    }

    /// Listens from here on.
    pub(crate) fn ear(&self) -> Ear {
        Ear(self.0.subscribe())
    }
}

/// Listens to the sound of a room.
#[derive(Debug)]
pub struct Ear(Receiver<Block>);

impl Ear {
    /// The next block; what came while the listener was too slow is left out. `None` when there
    /// will be no more.
    pub async fn next(&mut self) -> Option<Block> {
        loop {
            match self.0.recv().await {
                Ok(block) => return Some(block),
                Err(RecvError::Lagged(_)) => {}
                Err(RecvError::Closed) => return None,
            }
        }
    }
}
