//! Connections: who gets in, and how long one may be held without a page on it.
//!
//! ```text
//!   accept --> Gate::admit --> connection --> app (one request after the other)
//!                  |                 |----> a page's socket: it keeps the place
//!                  '-- none: closed  '----> too slow, too old, displaced: closed
//! ```

use crate::door::{Gate, Place};
use axum::Router;
use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::Request;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::{Service, service_fn};
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use std::io;
use std::net::SocketAddr;
use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::{TcpListener, TcpStream};
use tokio::time::{sleep, timeout};

/// How long who connects, or has got an answer, may take to ask.
const ASKS_WITHIN: Duration = Duration::from_secs(10);
/// Longest life of a connection that carries no page's socket; browsers open another.
const LIFE: Duration = Duration::from_secs(60);
/// How long its last answer may take.
const LAST: Duration = Duration::from_secs(10);
/// Most bytes of what is asked. Browsers send the cookies of everything on this machine along.
const LONGEST_HEAD: usize = 64 * 1024;
/// The wait after the system refused a connection: it has no more descriptors.
const REFUSED: Duration = Duration::from_millis(200);

/// Takes connections for ever.
pub async fn accept(listener: TcpListener, app: Router, gate: Gate) {
    loop {
        match listener.accept().await {
            Ok((stream, peer)) => {
                // Without a place the connection is closed by being dropped.
                if let Some(place) = gate.admit(peer.ip()) {
                    tokio::spawn(connection(stream, peer, Arc::new(place), app.clone()));
                }
            }
            Err(error) if is_of_the_connection(&error) => {}
            Err(_) => sleep(REFUSED).await,
        }
    }
}

/// An error that says something of this connection only.
fn is_of_the_connection(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::ConnectionRefused
            | io::ErrorKind::ConnectionAborted
            | io::ErrorKind::ConnectionReset
    )
}

/// Serves one connection until it ends, is told to leave, or becomes a page's socket.
async fn connection(stream: TcpStream, peer: SocketAddr, place: Arc<Place>, app: Router) {
    let (app, asker) = (TowerToHyperService::new(app), Arc::clone(&place));
    let service = service_fn(move |request: Request<Incoming>| {
        let mut request = request.map(Body::new);
        request.extensions_mut().insert(ConnectInfo(peer));
        request.extensions_mut().insert(Arc::clone(&asker));
        asker.ask();
        let (answer, asker) = (app.call(request), Arc::clone(&asker));
        async move {
            let answer = answer.await;
            asker.answered();
            answer
        }
    });
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(ASKS_WITHIN)
        .max_buf_size(LONGEST_HEAD)
        .serve_connection(TokioIo::new(stream), service)
        .with_upgrades();
    let mut connection = pin!(connection);
    tokio::select! {
        // What went wrong on the way concerns nobody here.
        _ = connection.as_mut() => return,
        () = place.told_to_leave() => return,
        () = sleep(LIFE) => {}
    }
    connection.as_mut().graceful_shutdown();
    let _ = timeout(LAST, connection).await;
}
