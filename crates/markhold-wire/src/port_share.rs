//! Ports that this program has open: a keyboard reads beside a line that is keyed over the same
//! port, and whichever of them comes first opens it.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};

/// The library's port of this system.
#[cfg(unix)]
pub(super) type OsPort = serialport::TTYPort;
/// The library's port of this system.
#[cfg(windows)]
pub(super) type OsPort = serialport::COMPort;

/// A port that is open.
struct Opened {
    path: PathBuf,
    /// A descriptor of its own, to be doubled for whoever comes.
    port: Mutex<OsPort>,
    /// How many may key something over it.
    keying: AtomicUsize,
    gone: AtomicBool,
}

static OPEN: Mutex<Vec<Weak<Opened>>> = Mutex::new(Vec::new());

/// What one user has of an open port.
pub(super) struct Share {
    opened: Arc<Opened>,
    keys: bool,
}

/// What came of looking for a port.
pub(super) enum Found {
    /// Nobody has it open here.
    Nobody,
    /// Somebody keys over it, and nobody else may.
    Keyed,
    /// Open, and this is a share of it.
    Open(OsPort, Share),
}

impl Share {
    /// Looks for a port that is open here already; `keys` = to key something over it.
    pub(super) fn find(name: &str, keys: bool) -> Found {
        let path = path_of(name);
        let opened = open().iter().find_map(|opened| {
            let opened = opened.upgrade()?;
            (opened.path == path && !opened.gone.load(Ordering::SeqCst)).then_some(opened)
        });
        let Some(opened) = opened else {
            return Found::Nobody;
        };
        if keys && opened.keying.load(Ordering::SeqCst) > 0 {
            return Found::Keyed;
        }
        let port = lock(&opened.port).try_clone_native();
        match port {
            Ok(port) => Found::Open(port, Share::of(opened, keys)),
            Err(_) => Found::Nobody,
        }
    }

    /// Tells others of a port that was just opened. `None` = it cannot be doubled, and nobody
    /// else can have it.
    pub(super) fn begin(name: &str, port: &OsPort, keys: bool) -> Option<Share> {
        let opened = Arc::new(Opened {
            path: path_of(name),
            port: Mutex::new(port.try_clone_native().ok()?),
            keying: AtomicUsize::new(0),
            gone: AtomicBool::new(false),
        });
        let mut all = open();
        all.retain(|opened| opened.strong_count() > 0);
        all.push(Arc::downgrade(&opened));
        Some(Share::of(opened, keys))
    }

    fn of(opened: Arc<Opened>, keys: bool) -> Share {
        if keys {
            opened.keying.fetch_add(1, Ordering::SeqCst);
        }
        Share { opened, keys }
    }

    /// The port went away: it is not given to anybody any more.
    pub(super) fn is_gone(&self) {
        self.opened.gone.store(true, Ordering::SeqCst);
    }

    /// Whether something may be keyed over it now.
    pub(super) fn is_keyed(&self) -> bool {
        self.opened.keying.load(Ordering::SeqCst) > 0
    }
}

impl Clone for Share {
    fn clone(&self) -> Self {
        Share::of(Arc::clone(&self.opened), self.keys)
    }
}

impl Drop for Share {
    fn drop(&mut self) {
        if self.keys {
            self.opened.keying.fetch_sub(1, Ordering::SeqCst);
        }
    }
}

/// The same port by whatever name.
fn path_of(name: &str) -> PathBuf {
    let path = Path::new(name);
    path.canonicalize().unwrap_or_else(|_| path.into())
}

fn open() -> MutexGuard<'static, Vec<Weak<Opened>>> {
    lock(&OPEN)
}

/// It is whole after every statement.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
