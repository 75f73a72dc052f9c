//! The disk as the recorder sees it, so that tests can have one that is full.

use super::settling::Settle;
use std::fs::File;
use std::io::{self, BufWriter, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// A sound file being written.
pub trait SoundFile: Write + Seek + Send {
    /// What puts on the disk itself all that was flushed to the system.
    fn settling(&mut self) -> Settle;
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

/// A file of this machine's disk.
struct LocalFile {
    file: BufWriter<File>,
    /// The folder that does not hold its name on the disk yet.
    new_in: Option<PathBuf>,
}

impl Write for LocalFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

impl Seek for LocalFile {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.file.seek(to)
    }
}

impl SoundFile for LocalFile {
    fn settling(&mut self) -> Settle {
        let new_in = self.new_in.take();
        match self.file.get_ref().try_clone() {
            Ok(file) => Box::new(move || {
                new_in.as_deref().into_iter().for_each(sync_folder);
                file.sync_data()
            }),
            // No handle is left for another thread: then in this one.
            Err(_) => {
                let done = self.file.get_ref().sync_data();
                Box::new(move || done)
            }
        }
    }
}

impl Disk for LocalDisk {
    fn create(&self, file: &Path) -> io::Result<Box<dyn SoundFile>> {
        let made = File::options().write(true).create_new(true).open(file)?;
        Ok(Box::new(LocalFile {
            file: BufWriter::with_capacity(1 << 16, made),
            new_in: file.parent().map(Path::to_path_buf),
        }))
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
