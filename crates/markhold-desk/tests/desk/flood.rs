//! Who holds connections and says nothing keeps nobody out, and is out soon. Over a real port.

use markhold_desk::door::Door;
use markhold_desk::serve::{open, serve};
use std::net::SocketAddr;
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::time::timeout;

/// Half a request.
const HALF: &[u8] = b"GET / HTTP/1.1\r\nHost: localhost\r\n";

async fn desk() -> SocketAddr {
    let listener = open(0, false).await.expect("a port");
    let place = listener.local_addr().expect("a place");
    let desk = crate::common::desk(Door::loopback());
    tokio::spawn(serve(desk, listener, std::future::pending()));
    place
}

async fn half_open(place: SocketAddr) -> TcpStream {
    let mut stream = TcpStream::connect(place).await.expect("a connection");
    stream.write_all(HALF).await.expect("sent");
    stream
}

/// Asks for the page; what the first line of the answer says.
async fn page(place: SocketAddr) -> String {
    let mut stream = TcpStream::connect(place).await.expect("a connection");
    stream.write_all(HALF).await.expect("sent");
    stream.write_all(b"\r\n").await.expect("sent");
    let mut first = vec![0; 15];
    stream.read_exact(&mut first).await.expect("an answer");
    String::from_utf8(first).expect("text")
}

/// Whether the other end closes it.
async fn is_closed(stream: &mut TcpStream) -> bool {
    matches!(stream.read(&mut [0]).await, Ok(0) | Err(_))
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn half_open_requests_lock_nobody_out() {
    let place = desk().await;
    let mut held = Vec::new();
    for _ in 0..300 {
        held.push(half_open(place).await);
    }
    let answer = timeout(Duration::from_secs(5), page(place)).await;
    assert_eq!(answer.as_deref(), Ok("HTTP/1.1 200 OK"));
    // Of the flood only so many are left as there are places.
    let mut left = 0;
    for stream in &mut held {
        let wait = timeout(Duration::from_millis(5), is_closed(stream)).await;
        left += usize::from(wait != Ok(true));
    }
    assert!(left <= markhold_desk::door::MOST_HERE, "{left} are held");
}

/// Time passes at once here when nobody has anything to do.
#[tokio::test]
async fn who_does_not_go_on_is_out() {
    let place = desk().await;
    let mut half = half_open(place).await;
    let mut silent = TcpStream::connect(place).await.expect("a connection");
    let mut body = TcpStream::connect(place).await.expect("a connection");
    let form = b"POST /enter HTTP/1.1\r\nHost: localhost\r\nContent-Length: 99\r\n\
        Content-Type: application/x-www-form-urlencoded\r\nOrigin: http://localhost\r\n\r\ncode=";
    body.write_all(form).await.expect("sent");
    tokio::time::sleep(Duration::from_millis(200)).await;
    tokio::time::pause();
    let begun = tokio::time::Instant::now();
    for stream in [&mut half, &mut silent] {
        assert!(is_closed(stream).await);
    }
    let mut answer = String::new();
    body.read_to_string(&mut answer).await.expect("an answer");
    assert!(answer.starts_with("HTTP/1.1 408"), "{answer}");
    assert!(
        begun.elapsed() < Duration::from_secs(60),
        "{:?}",
        begun.elapsed()
    );
}
