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
use tokio::io::{AsyncReadExt, AsyncWriteExt, DuplexStream};
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

/// A socket that is only read.
pub struct Deaf(DuplexStream);

impl Deaf {
    /// Whether the desk closes it within two minutes.
    pub async fn is_closed(&mut self) -> bool {
        let end = async {
            let mut block = vec![0; 1 << 16];
            while let Ok(1..) = self.0.read(&mut block).await {}
        };
        let most = std::time::Duration::from_secs(120);
        tokio::time::timeout(most, end).await.is_ok()
    }
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

    /// Somebody who opened a socket and takes what comes, but says nothing any more.
    pub async fn deaf(&self) -> Deaf {
        let (mut ours, theirs) = tokio::io::duplex(1 << 16);
        self.0.send(theirs).await.expect("the desk listens");
        let asked = "GET /socket HTTP/1.1\r\nHost: localhost\r\nOrigin: http://localhost\r\n\
            Connection: Upgrade\r\nUpgrade: websocket\r\nSec-WebSocket-Version: 13\r\n\
            Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n";
        ours.write_all(asked.as_bytes()).await.expect("sent");
        Deaf(ours)
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

    /// Whether the desk closes it, whatever it says before.
    pub async fn is_closed(&mut self) -> bool {
        let end = async { while let Some(Ok(_)) = self.0.next().await {} };
        let most = std::time::Duration::from_secs(60);
        tokio::time::timeout(most, end).await.is_ok()
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
