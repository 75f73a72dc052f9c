//! The disk as the recorder sees it, so that tests can have one that is full.

use std::fs::File;
use std::io::{self, BufWriter, Seek, Write};
use std::path::Path;

/// A sound file being written.
pub trait SoundFile: Write + Seek + Send {
    /// Puts on the disk itself what was flushed to the system.
    fn sync(&mut self) -> io::Result<()>;
}

/// Where sound files are made.
pub trait Disk: Send + Sync {
    /// Makes a file that did not exist.
    fn create(&self, file: &Path) -> io::Result<Box<dyn SoundFile>>;

    /// Bytes that may still be written in `folder`; `None` where that cannot be told.
    fn free_bytes(&self, folder: &Path) -> Option<u64>;
}

/// The disk of this machine.
#[derive(Clone, Copy, Debug, Default)]
pub struct LocalDisk;

impl SoundFile for BufWriter<File> {
    fn sync(&mut self) -> io::Result<()> {
        self.get_ref().sync_data()
    }
}

impl Disk for LocalDisk {
    fn create(&self, file: &Path) -> io::Result<Box<dyn SoundFile>> {
        let made = File::options().write(true).create_new(true).open(file)?;
        if let Some(folder) = file.parent() {
            sync_folder(folder);
        }
        Ok(Box::new(BufWriter::with_capacity(1 << 16, made)))
    }

    #[cfg(unix)]
    fn free_bytes(&self, folder: &Path) -> Option<u64> {
        let about = rustix::fs::statvfs(folder).ok()?;
        Some(about.f_bavail.saturating_mul(about.f_frsize))
    }

    #[cfg(not(unix))]
    fn free_bytes(&self, _folder: &Path) -> Option<u64> {
        None
    }
}

/// Puts a folder's names on the disk, so that a new file is still there after a power cut.
/// Not every file system can; then there is nothing better to do.
fn sync_folder(folder: &Path) {
    #[cfg(unix)]
    if let Ok(folder) = File::open(folder) {
        let _ = folder.sync_all();
    }
    #[cfg(not(unix))]
    let _ = folder;
}
