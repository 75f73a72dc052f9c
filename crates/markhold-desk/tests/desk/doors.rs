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
    let desk = crate::common::desk(Door::shared(Some("shack"), |_| {}).expect("random numbers"));
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
    let desk = crate::common::desk(Door::shared(Some("shack"), |_| {}).expect("random numbers"));
    let port = crate::common::serve(&desk);
    // Through a pipe nobody is known to come from this machine.
    let ours = "http://192.0.2.1:8045";
    assert!(port.browser("192.0.2.1:8045", ours, "").await.is_none());
    let code = desk.door.code().expect("a code");
    let (_, key) = desk.door.knock(&code, None).expect("random numbers");
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

/// A page from elsewhere whose name was made to point here comes from this machine, too.
#[tokio::test]
async fn shared_a_strange_name_opens_nothing_to_this_machine() {
    let door = Door::shared(Some("shack"), |_| {}).expect("random numbers");
    let app = app(crate::common::desk(door));
    for host in [
        "x.local",
        "127.0.0.1:1.evil",
        "[::1]evil",
        "localhost:8045.evil",
    ] {
        let answer = get(&app, Asked { host, ..HERE }).await;
        assert_eq!(answer.status(), StatusCode::MISDIRECTED_REQUEST, "{host}");
    }
    for host in ["shack.local:8045", "192.0.2.1:8045"] {
        let answer = get(&app, Asked { host, ..HERE }).await;
        assert_eq!(place(&answer), (StatusCode::SEE_OTHER, "/enter"), "{host}");
    }
    assert_eq!(get(&app, HERE).await.status(), StatusCode::OK);
}

#[tokio::test]
async fn two_hosts_or_another_one_in_the_path_are_none() {
    let app = app(crate::common::desk(Door::loopback()));
    let ask = |uri: &str, hosts: &[&str]| {
        let mut request = Request::get(uri).extension(ConnectInfo(HERE.peer));
        for host in hosts {
            request = request.header("host", *host);
        }
        app.clone()
            .oneshot(request.body(Body::empty()).expect("a request"))
    };
    for (uri, hosts) in [
        ("/", &["localhost", "evil.example"][..]),
        ("/", &["localhost", "localhost"]),
        ("http://evil.example/", &["localhost"]),
    ] {
        let answer = ask(uri, hosts).await.expect("an answer");
        assert_eq!(answer.status(), StatusCode::MISDIRECTED_REQUEST, "{uri}");
    }
}

#[tokio::test]
async fn wrong_codes_of_one_address_keep_nobody_else_out() {
    let desk = crate::common::desk(Door::shared(None, |_| {}).expect("random numbers"));
    let app = app(std::sync::Arc::clone(&desk));
    let ours = "http://192.0.2.1:8045";
    let code = desk.door.code().expect("a code");
    let mut last = String::new();
    for _ in 0..20 {
        last = place(&tell_code(&app, "WRONG", ours).await).1.to_string();
    }
    assert_eq!(last, "/enter#pause");
    let paused = tell_code(&app, &code, ours).await;
    assert_eq!(place(&paused).1, "/enter#pause");
    let phone = Some(std::net::IpAddr::from([192, 0, 2, 77]));
    let (_, key) = desk.door.knock(&code, phone).expect("random numbers");
    assert!(key.is_some(), "the code is the one that was shown");
}

#[tokio::test]
async fn keys_are_forgotten_from_this_machine_only() {
    let desk = crate::common::desk(Door::shared(None, |_| {}).expect("random numbers"));
    let app = app(std::sync::Arc::clone(&desk));
    let key = |desk: &markhold_desk::Desk| {
        let code = desk.door.code().expect("a code");
        let key = desk.door.knock(&code, None).expect("random numbers").1;
        format!("markhold_key={}", key.expect("a key"))
    };
    let cookie = key(&desk);
    let ask = |host: &str, origin: &str, peer: SocketAddr, cookie: &str| {
        let request = Request::post("/forget")
            .header("host", host)
            .header("origin", origin)
            .header("cookie", cookie)
            .extension(ConnectInfo(peer));
        app.clone()
            .oneshot(request.body(Body::empty()).expect("a request"))
    };
    let here = "localhost:8045";
    let place = "192.0.2.1:8045";
    for (host, origin, peer) in [
        (here, "http://evil.example", HERE.peer),
        (here, "null", HERE.peer),
        (place, "http://192.0.2.1:8045", outside()),
    ] {
        let answer = ask(host, origin, peer, &cookie).await.expect("an answer");
        assert_eq!(answer.status(), StatusCode::FORBIDDEN, "{host} {origin}");
    }
    let asked = Asked {
        host: place,
        peer: outside(),
        cookie: &cookie,
        ..HERE
    };
    assert_eq!(get(&app, asked).await.status(), StatusCode::OK);
    let answer = ask(here, "http://localhost:8045", HERE.peer, "").await;
    assert_eq!(answer.expect("an answer").status(), StatusCode::OK);
    let asked = Asked {
        host: place,
        peer: outside(),
        cookie: &cookie,
        ..HERE
    };
    assert_eq!(get(&app, asked).await.status(), StatusCode::SEE_OTHER);
}

/// Whoever is in when the keys are forgotten is out, and nobody else.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn who_came_with_a_key_is_out_when_it_is_forgotten() {
    use crate::common::said;
    let desk = crate::common::desk(Door::shared(None, |_| {}).expect("random numbers"));
    let port = crate::common::serve(&desk);
    let code = desk.door.code().expect("a code");
    let (_, key) = desk.door.knock(&code, None).expect("random numbers");
    let cookie = format!("markhold_key={}", key.expect("a key"));
    let ours = "http://192.0.2.1:8045";
    let phone = port.browser("192.0.2.1:8045", ours, &cookie).await;
    let mut phone = phone.expect("it is let in");
    assert_eq!(phone.until(said("shared")).await, true);
    phone.ask(r#"{"ask":"forget-keys"}"#).await;
    assert!(phone.is_closed().await);
    assert!(
        port.browser("192.0.2.1:8045", ours, &cookie)
            .await
            .is_none()
    );
    desk.station.stop();
}

/// Asks to change skeds; what of it counts.
async fn change(app: &Router, asked: Asked<'_>, origin: &str, body: String) -> StatusCode {
    let request = Request::post(asked.path)
        .header("host", asked.host)
        .header("cookie", asked.cookie)
        .header("origin", origin)
        .extension(ConnectInfo(asked.peer))
        .body(Body::from(body));
    let answer = app.clone().oneshot(request.expect("a request")).await;
    answer.unwrap_or_else(|never| match never {}).status()
}

const SKEDS: Asked<'static> = Asked {
    path: "/skeds",
    ..HERE
};
const REMOVE: &str = r#"{"ask": "remove", "id": 1}"#;

#[tokio::test]
async fn skeds_are_shown_to_who_may_come_in() {
    let desk = crate::common::desk(Door::shared(None, |_| {}).expect("random numbers"));
    let app = app(std::sync::Arc::clone(&desk));
    let code = desk.door.code().expect("a code");
    let (_, key) = desk.door.knock(&code, None).expect("random numbers");
    let paired = format!("markhold_key={}", key.expect("a key"));
    for path in ["/skeds", "/skeds/went"] {
        let from = |host, peer, cookie| Asked {
            path,
            host,
            peer,
            cookie,
        };
        let (host, peer) = ("192.0.2.1:8045", outside());
        for (asked, expected) in [
            (from(HERE.host, HERE.peer, ""), StatusCode::OK),
            (from(host, peer, &paired), StatusCode::OK),
            (from(host, peer, ""), StatusCode::FORBIDDEN),
            (from(host, peer, "markhold_key=AAAA"), StatusCode::FORBIDDEN),
            (
                from("evil.example", peer, &paired),
                StatusCode::MISDIRECTED_REQUEST,
            ),
        ] {
            assert_eq!(get(&app, asked).await.status(), expected, "{path}");
        }
    }
}

#[tokio::test]
async fn the_manual_is_there_without_a_network_for_who_may_come_in() {
    let app = app(crate::common::desk(
        Door::shared(None, |_| {}).expect("random numbers"),
    ));
    let asked = |path| Asked { path, ..HERE };
    let away = |path| Asked {
        path,
        host: "192.0.2.1:8045",
        peer: outside(),
        cookie: "",
    };
    let list = get(&app, asked("/manual")).await;
    let to = (StatusCode::SEE_OTHER, "/manual/index.html");
    assert_eq!(place(&list), to);
    for path in [
        "/manual/index.html",
        "/manual/trouble.html",
        "/manual/calibration.svg",
    ] {
        let answer = get(&app, asked(path)).await;
        assert_eq!(answer.status(), StatusCode::OK, "{path}");
        assert!(answer.headers().contains_key("content-security-policy"));
        let strange = get(&app, away(path)).await.status();
        assert_eq!(strange, StatusCode::FORBIDDEN, "{path}");
    }
    let none = get(&app, asked("/manual/nobody-wrote-this.html")).await;
    assert_eq!(none.status(), StatusCode::NOT_FOUND);
    // Evenings of practice are behind the same door; here nothing is kept.
    let evenings = "/practice/evenings/list";
    let kept = get(&app, asked(evenings)).await.status();
    let strange = get(&app, away(evenings)).await.status();
    assert_eq!(
        (kept, strange),
        (StatusCode::NOT_FOUND, StatusCode::FORBIDDEN)
    );
}

#[tokio::test]
async fn skeds_are_changed_from_our_own_page_by_who_may_come_in() {
    let app = app(crate::common::desk(
        Door::shared(None, |_| {}).expect("random numbers"),
    ));
    let ours = "http://localhost:8045";
    for (origin, body, expected) in [
        ("http://elsewhere.example", REMOVE, StatusCode::FORBIDDEN),
        ("null", REMOVE, StatusCode::FORBIDDEN),
        ("http://localhost:8046", REMOVE, StatusCode::FORBIDDEN),
        ("", REMOVE, StatusCode::FORBIDDEN),
        (ours, "{}", StatusCode::UNPROCESSABLE_ENTITY),
        (ours, REMOVE, StatusCode::OK),
    ] {
        let status = change(&app, SKEDS, origin, body.into()).await;
        assert_eq!(status, expected, "{origin} {body}");
    }
    let unpaired = Asked {
        host: "192.0.2.1:8045",
        peer: outside(),
        ..SKEDS
    };
    let status = change(&app, unpaired, "http://192.0.2.1:8045", REMOVE.into()).await;
    assert_eq!(status, StatusCode::FORBIDDEN);
    // No sked is as long as that.
    let long = "x".repeat(100_000);
    let status = change(&app, SKEDS, ours, long).await;
    assert_eq!(status, StatusCode::PAYLOAD_TOO_LARGE);
}
