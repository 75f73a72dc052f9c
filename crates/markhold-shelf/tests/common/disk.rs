//! A disk that is full when a test wants it to be.

use markhold_shelf::{Disk, Settle, SoundFile};
use std::fs::File;
use std::io::{self, ErrorKind, Seek, SeekFrom, Write};
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering::SeqCst};
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// A disk with room for so many bytes, that takes so long to write.
#[derive(Clone, Debug)]
pub struct SmallDisk {
    pub room: Arc<AtomicU64>,
    pub slow: Duration,
    /// While it is locked, nothing is put on the disk itself.
    pub held: Arc<Mutex<()>>,
}

struct SmallFile {
    disk: SmallDisk,
    file: File,
}

impl SmallDisk {
    pub fn with_room(bytes: u64) -> Self {
        SmallDisk {
            room: Arc::new(AtomicU64::new(bytes)),
            slow: Duration::ZERO,
            held: Arc::default(),
        }
    }
}

impl Disk for SmallDisk {
    fn create(&self, file: &Path) -> io::Result<Box<dyn SoundFile>> {
        let file = File::options().write(true).create_new(true).open(file)?;
        let disk = self.clone();
        Ok(Box::new(SmallFile { disk, file }))
    }

    fn free_bytes(&self, _folder: &Path) -> Option<u64> {
        Some(self.room.load(SeqCst))
    }
}

impl Write for SmallFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        std::thread::sleep(self.disk.slow);
        // What is written over takes no room.
        let at = self.file.stream_position()?;
        let new = (at + bytes.len() as u64).saturating_sub(self.file.metadata()?.len());
        let room = self.disk.room.load(SeqCst);
        if new > room {
            return Err(ErrorKind::StorageFull.into());
        }
        self.disk.room.store(room - new, SeqCst);
        self.file.write_all(bytes)?;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

impl Seek for SmallFile {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.file.seek(to)
    }
}

impl SoundFile for SmallFile {
    fn settling(&mut self) -> Settle {
        let held = Arc::clone(&self.disk.held);
        Box::new(move || {
            drop(held.lock());
            Ok(())
        })
    }
}
