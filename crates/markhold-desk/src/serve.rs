//! Opens the port and serves until told to stop.

use crate::app::app;
use crate::connections;
use crate::desk::Desk;
use crate::door::Gate;
use std::io;
use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;
use tokio::net::TcpListener;

/// The port that is tried first.
pub const PORT: u16 = 8045;

/// Why the desk cannot be opened.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// Somebody else has the port.
    #[error(
        "port {port} is taken, perhaps by another markhold; close that, or give another port \
         with --port"
    )]
    Taken {
        /// The port asked for.
        port: u16,
    },
    /// The system says no.
    #[error("port {port} cannot be opened: {cause}; give another port with --port")]
    Port {
        /// The port asked for.
        port: u16,
        /// What the system says.
        cause: io::Error,
    },
}

/// Opens a port: of loopback, or `shared` of all networks of this machine. Port 0 is any.
///
/// # Errors
///
/// The port cannot be had.
pub async fn open(port: u16, shared: bool) -> Result<TcpListener, ServeError> {
    let ip = if shared {
        Ipv4Addr::UNSPECIFIED
    } else {
        Ipv4Addr::LOCALHOST
    };
    TcpListener::bind(SocketAddr::from((ip, port)))
        .await
        .map_err(|cause| match cause.kind() {
            io::ErrorKind::AddrInUse => ServeError::Taken { port },
            _ => ServeError::Port { port, cause },
        })
}

/// Serves the desk until `stop` is there. Open sockets are not waited for.
pub async fn serve(desk: Arc<Desk>, listener: TcpListener, stop: impl Future<Output = ()>) {
    let drift = tokio::spawn(Arc::clone(&desk).watch_drift());
    tokio::select! {
        () = connections::accept(listener, app(desk), Gate::default()) => {}
        () = stop => {}
    }
    drift.abort();
}
