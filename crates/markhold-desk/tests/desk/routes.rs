//! Nothing of the desk is left open: every path that its sources name is refused to who has no key,
//! and changes nothing for a page of elsewhere. The paths are read from the sources, so that a new
//! one is tried as well.

use crate::common::outside;
use axum::Router;
use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::{Method, Request, StatusCode};
use markhold_desk::app;
use markhold_desk::door::Door;
use std::net::{Ipv4Addr, SocketAddr};
use std::path::Path;
use tower::ServiceExt;

/// What anybody may see: the entrance with its files, and the way to it.
const OPEN: [&str; 3] = ["/", "/enter", "/assets/desk.css"];

/// All paths, with something in the place of what they take.
fn paths() -> Vec<String> {
    let mut paths = Vec::new();
    look(
        &Path::new(env!("CARGO_MANIFEST_DIR")).join("src"),
        &mut paths,
    );
    let practice = paths.iter().filter(|path| path.starts_with("/evenings"));
    let practice: Vec<String> = practice.map(|path| format!("/practice{path}")).collect();
    paths.extend(practice);
    paths.sort();
    paths
}

fn look(folder: &Path, paths: &mut Vec<String>) {
    for entry in std::fs::read_dir(folder).expect("sources").flatten() {
        let path = entry.path();
        if path.is_dir() {
            look(&path, paths);
        } else if path.extension().is_some_and(|end| end == "rs") {
            let text = std::fs::read_to_string(path).expect("a source");
            paths.extend(text.split(".route(\"").skip(1).filter_map(named));
        }
    }
}

fn named(rest: &str) -> Option<String> {
    let path = rest.split('"').next()?;
    let taken = [
        ("{*name}", "desk.css"),
        ("{name}", "index.html"),
        ("{room}", "practice"),
    ];
    let filled = taken.iter().fold(path.to_string(), |path, (name, with)| {
        path.replace(name, with)
    });
    Some(filled.replace("{id}", "1"))
}

/// How this is answered.
async fn asked(
    app: &Router,
    (method, path): (Method, &str),
    (host, peer): (&str, SocketAddr),
    origin: &str,
) -> StatusCode {
    let request = Request::builder()
        .method(method)
        .uri(path)
        .header("host", host)
        .header("origin", origin)
        .header("content-type", "application/x-www-form-urlencoded")
        .extension(ConnectInfo(peer))
        .body(Body::from("code=1&twice=yes"));
    let answer = app.clone().oneshot(request.expect("a request")).await;
    answer.unwrap_or_else(|never| match never {}).status()
}

#[tokio::test]
async fn every_path_is_behind_the_door() {
    let app = app(crate::common::desk(
        Door::shared(None, |_| {}).expect("random numbers"),
    ));
    let paths = paths();
    assert!(paths.len() > 30, "{paths:?}");
    let here = (
        "localhost:8045",
        SocketAddr::from((Ipv4Addr::LOCALHOST, 40_000)),
    );
    let away = ("192.0.2.1:8045", outside());
    // What is no handshake is no socket, whoever asks.
    let refuses = |path: &str, status: StatusCode| {
        status == StatusCode::FORBIDDEN
            || status == StatusCode::METHOD_NOT_ALLOWED
            || path == "/socket" && status.is_client_error()
    };
    for path in paths.iter().map(String::as_str) {
        for method in [Method::GET, Method::POST, Method::PUT, Method::DELETE] {
            let reads = method == Method::GET;
            let what = (method.clone(), path);
            if !(reads && OPEN.contains(&path) || path == "/enter") {
                let status = asked(&app, what.clone(), away, "http://192.0.2.1:8045").await;
                assert!(refuses(path, status), "{what:?} without a key: {status}");
            }
            if !reads {
                let status = asked(&app, what.clone(), here, "http://evil.example").await;
                assert!(refuses(path, status), "{what:?} from elsewhere: {status}");
            }
        }
    }
}
