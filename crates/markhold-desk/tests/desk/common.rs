//! A desk on the practice band, reached without a port.

use axum::serve::Listener;
use futures_util::{SinkExt, StreamExt};
use markhold_desk::door::Door;
use markhold_desk::{Desk, app, plain_machine};
use markhold_station::inputs::PRACTICE;
use markhold_station::practice::PracticeReceiver;
use markhold_station::{Station, StationOptions};
use std::net::SocketAddr;
use std::sync::Arc;
use tokio::io::DuplexStream;
use tokio::sync::mpsc;
use tokio_tungstenite::tungstenite::Message;
use tokio_tungstenite::tungstenite::client::IntoClientRequest;
use tokio_tungstenite::{WebSocketStream, client_async};

/// A desk that hears the practice band, several times as fast as it is.
pub fn desk(door: Door) -> Arc<Desk> {
    desk_with(door, StationOptions::default())
}

/// The same with other options.
pub fn desk_with(door: Door, options: StationOptions) -> Arc<Desk> {
    let options = StationOptions {
        practice: PracticeReceiver::new(1, 8.0),
        ..options
    };
    let station = Station::start(options, PRACTICE).expect("settings that work");
    Desk::new(door, station, (plain_machine(), None))
}

/// Pipes in place of a port.
struct Pipes(mpsc::Receiver<DuplexStream>);

impl Listener for Pipes {
    type Io = DuplexStream;
    type Addr = ();

    async fn accept(&mut self) -> (DuplexStream, ()) {
        match self.0.recv().await {
            Some(pipe) => (pipe, ()),
            None => std::future::pending().await,
        }
    }

    fn local_addr(&self) -> std::io::Result<()> {
        Ok(())
    }
}

/// The place where browsers of a test connect.
pub struct Port(mpsc::Sender<DuplexStream>);

/// Serves a desk through pipes.
pub fn serve(desk: &Arc<Desk>) -> Port {
    let (open, pipes) = mpsc::channel(4);
    let service = app(Arc::clone(desk));
    tokio::spawn(Arc::clone(desk).watch_drift());
    tokio::spawn(async move { axum::serve(Pipes(pipes), service).await });
    Port(open)
}

/// One browser's socket.
pub struct Browser(WebSocketStream<DuplexStream>);

impl Port {
    /// Opens the socket as the desk's own page does, with these cookies.
    pub async fn browser(&self, host: &str, origin: &str, cookie: &str) -> Option<Browser> {
        let (ours, theirs) = tokio::io::duplex(1 << 16);
        self.0.send(theirs).await.ok()?;
        let mut request = format!("ws://{host}/socket").into_client_request().ok()?;
        let headers = request.headers_mut();
        headers.insert("origin", origin.parse().ok()?);
        headers.insert("cookie", cookie.parse().ok()?);
        client_async(request, ours)
            .await
            .ok()
            .map(|(socket, _)| Browser(socket))
    }

    /// A browser on this machine.
    pub async fn here(&self) -> Browser {
        let browser = self.browser("localhost", "http://localhost", "").await;
        browser.expect("the desk opens")
    }
}

impl Browser {
    /// The next message.
    pub async fn next(&mut self) -> Message {
        let next = tokio::time::timeout(std::time::Duration::from_secs(60), self.0.next());
        next.await
            .expect("in time")
            .expect("a message")
            .expect("whole")
    }

    /// The next thing said that `wanted` takes something from.
    pub async fn until<T>(&mut self, wanted: impl Fn(&serde_json::Value) -> Option<T>) -> T {
        loop {
            if let Message::Text(text) = self.next().await {
                let said = serde_json::from_str(&text).expect("JSON");
                if let Some(found) = wanted(&said) {
                    return found;
                }
            }
        }
    }

    /// Asks for something.
    pub async fn ask(&mut self, json: &str) {
        self.0.send(Message::text(json)).await.expect("sent");
    }
}

/// The value of something said, if it is of this kind.
pub fn said(kind: &'static str) -> impl Fn(&serde_json::Value) -> Option<serde_json::Value> {
    move |s| (s["is"] == kind).then(|| s["value"].clone())
}

/// An address outside.
pub fn outside() -> SocketAddr {
    SocketAddr::from(([192, 0, 2, 9], 40_000))
}
