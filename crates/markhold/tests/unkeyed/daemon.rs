//! A radio control daemon for tests, with the habit that matters: who keyed and went leaves the
//! transmitter keyed. It writes down when it was switched.

use super::super::ends::now_ns;
use std::io::{BufRead, BufReader, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::sync::{Arc, Mutex};

/// When it was switched, ns of the monotonic clock, and to what.
pub type Switched = Arc<Mutex<Vec<(u64, bool)>>>;

pub struct Daemon {
    pub address: SocketAddr,
    pub switched: Switched,
}

impl Daemon {
    pub fn start() -> Daemon {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a socket");
        let daemon = Daemon {
            address: listener.local_addr().expect("an address"),
            switched: Switched::default(),
        };
        let switched = Arc::clone(&daemon.switched);
        std::thread::spawn(move || {
            for stream in listener.incoming().flatten() {
                let switched = Arc::clone(&switched);
                std::thread::spawn(move || serve(stream, &switched));
            }
        });
        daemon
    }
}

fn serve(stream: TcpStream, switched: &Switched) {
    let mut out = stream.try_clone().expect("a socket");
    for line in BufReader::new(stream).lines().map_while(Result::ok) {
        if out.write_all(answer(&line, switched).as_bytes()).is_err() {
            return;
        }
    }
}

/// The extended form of the protocol.
fn answer(command: &str, switched: &Switched) -> String {
    let mut all = switched.lock().expect("no panic");
    let keyed = all.last().is_some_and(|last| last.1);
    match command {
        "+T 1" | "+T 0" => {
            let on = command == "+T 1";
            if on != keyed {
                all.push((now_ns(), on));
            }
            "set_ptt:\nRPRT 0\n".into()
        }
        "+t" => format!("get_ptt:\nPTT: {}\nRPRT 0\n", u8::from(keyed)),
        _ => "RPRT -1\n".into(),
    }
}
