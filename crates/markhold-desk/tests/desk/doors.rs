//! Who gets what from the service: names, codes, keys, policy. No port is opened.

use crate::common::outside;
use axum::Router;
use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::{Request, Response, StatusCode};
use markhold_desk::app;
use markhold_desk::door::Door;
use std::net::SocketAddr;
use tower::ServiceExt;

struct Asked<'a> {
    path: &'a str,
    host: &'a str,
    peer: SocketAddr,
    cookie: &'a str,
}

const HERE: Asked<'static> = Asked {
    path: "/",
    host: "localhost:8045",
    peer: SocketAddr::new(std::net::IpAddr::V4(std::net::Ipv4Addr::LOCALHOST), 40_000),
    cookie: "",
};

async fn get(app: &Router, asked: Asked<'_>) -> Response<Body> {
    let request = Request::get(asked.path)
        .header("host", asked.host)
        .header("cookie", asked.cookie)
        .extension(ConnectInfo(asked.peer))
        .body(Body::empty());
    let answer = app.clone().oneshot(request.expect("a request")).await;
    answer.unwrap_or_else(|never| match never {})
}

async fn tell_code(app: &Router, code: &str, origin: &str) -> Response<Body> {
    let request = Request::post("/enter")
        .header("host", "192.0.2.1:8045")
        .header("origin", origin)
        .header("content-type", "application/x-www-form-urlencoded")
        .extension(ConnectInfo(outside()))
        .body(Body::from(format!("code={code}")));
    let answer = app.clone().oneshot(request.expect("a request")).await;
    answer.unwrap_or_else(|never| match never {})
}

fn place(answer: &Response<Body>) -> (StatusCode, &str) {
    let place = answer.headers().get("location");
    (
        answer.status(),
        place.map_or("", |p| p.to_str().expect("text")),
    )
}

#[tokio::test]
async fn the_page_and_its_files_come_with_a_strict_policy() {
    let app = app(crate::common::desk(Door::loopback()));
    for path in ["/", "/assets/desk.css", "/assets/nothing", "/nowhere"] {
        let answer = get(&app, Asked { path, ..HERE }).await;
        let found = if path.contains("no") {
            StatusCode::NOT_FOUND
        } else {
            StatusCode::OK
        };
        assert_eq!(answer.status(), found, "{path}");
        let policy = answer.headers()["content-security-policy"]
            .to_str()
            .expect("text");
        assert!(policy.starts_with("default-src 'none'"), "{path}: {policy}");
        assert_eq!(answer.headers()["x-content-type-options"], "nosniff");
    }
}

#[tokio::test]
async fn under_a_strange_name_there_is_nothing() {
    let app = app(crate::common::desk(Door::loopback()));
    for host in ["evil.example", "192.0.2.1:8045", ""] {
        for path in ["/", "/socket", "/assets/desk.css"] {
            let answer = get(&app, Asked { host, path, ..HERE }).await;
            assert_eq!(
                answer.status(),
                StatusCode::MISDIRECTED_REQUEST,
                "{host} {path}"
            );
        }
    }
}

#[tokio::test]
async fn from_outside_the_code_opens_once() {
    let desk = crate::common::desk(Door::shared(|_| {}).expect("random numbers"));
    let app = app(std::sync::Arc::clone(&desk));
    let asked = |cookie| Asked {
        host: "192.0.2.1:8045",
        peer: outside(),
        cookie,
        ..HERE
    };
    let answer = get(&app, asked("")).await;
    assert_eq!(place(&answer), (StatusCode::SEE_OTHER, "/enter"));

    let ours = "http://192.0.2.1:8045";
    let code = desk.door.code().expect("a code");
    let foreign = tell_code(&app, &code, "http://evil.example").await;
    assert_eq!(foreign.status(), StatusCode::FORBIDDEN);
    let wrong = tell_code(&app, "WRONG", ours).await;
    assert_eq!(place(&wrong), (StatusCode::SEE_OTHER, "/enter#wrong"));
    let right = tell_code(&app, &code, ours).await;
    assert_eq!(place(&right), (StatusCode::SEE_OTHER, "/"));
    let cookie = right.headers()["set-cookie"]
        .to_str()
        .expect("text")
        .to_string();
    assert!(cookie.contains("HttpOnly; SameSite=Strict"), "{cookie}");
    let key = cookie.split(';').next().expect("a key");
    assert_eq!(get(&app, asked(key)).await.status(), StatusCode::OK);

    let again = tell_code(&app, &code, ours).await;
    assert_eq!(place(&again), (StatusCode::SEE_OTHER, "/enter#wrong"));
}

#[tokio::test]
async fn the_socket_wants_our_own_page_and_a_key() {
    let desk = crate::common::desk(Door::shared(|_| {}).expect("random numbers"));
    let port = crate::common::serve(&desk);
    // Through a pipe nobody is known to come from this machine.
    let ours = "http://192.0.2.1:8045";
    assert!(port.browser("192.0.2.1:8045", ours, "").await.is_none());
    let code = desk.door.code().expect("a code");
    let (_, key) = desk.door.knock(&code).expect("random numbers");
    let cookie = format!("markhold_key={}", key.expect("a key"));
    assert!(
        port.browser("192.0.2.1:8045", "http://evil.example", &cookie)
            .await
            .is_none()
    );
    assert!(
        port.browser("evil.example", "http://evil.example", &cookie)
            .await
            .is_none()
    );
    assert!(
        port.browser("192.0.2.1:8045", ours, &cookie)
            .await
            .is_some()
    );
}

#[tokio::test]
async fn skeds_are_for_who_may_come_in_and_changed_from_our_own_page() {
    let door = Door::shared(|_| {}).expect("random numbers");
    let app = app(crate::common::desk(door));
    let path = "/skeds";
    let answer = get(&app, Asked { path, ..HERE }).await;
    assert_eq!(answer.status(), StatusCode::OK);
    let (host, peer) = ("192.0.2.1:8045", outside());
    let answer = get(&app, Asked { path, host, peer, ..HERE }).await;
    assert_eq!(answer.status(), StatusCode::FORBIDDEN);
    for (origin, body, expected) in [
        ("http://elsewhere.example", "{}", StatusCode::FORBIDDEN),
        ("http://localhost:8045", "{}", StatusCode::UNPROCESSABLE_ENTITY),
        ("http://localhost:8045", r#"{"ask": "remove", "id": 1}"#, StatusCode::OK),
    ] {
        let request = Request::post(path)
            .header("host", HERE.host)
            .header("origin", origin)
            .extension(ConnectInfo(HERE.peer))
            .body(Body::from(body));
        let answer = app.clone().oneshot(request.expect("a request")).await;
        let answer = answer.unwrap_or_else(|never| match never {});
        assert_eq!(answer.status(), expected, "{origin} {body}");
    }
}
