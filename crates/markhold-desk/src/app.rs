//! The web service: the page, its files, the door, the socket.

use crate::assets::{file, words};
use crate::desk::Desk;
use crate::door::{COOKIE, Knock, STRICT, origin_is_ours, policy};
use crate::socket::session;
use axum::Form;
use axum::body::Body;
use axum::extract::ws::WebSocketUpgrade;
use axum::extract::{ConnectInfo, Path, Request, State};
use axum::http::header::{CONTENT_SECURITY_POLICY, COOKIE as COOKIES, HOST, ORIGIN};
use axum::http::header::{HeaderName, LOCATION, SET_COOKIE};
use axum::http::{HeaderMap, HeaderValue, Method, Response, StatusCode};
use axum::middleware::{Next, from_fn, from_fn_with_state};
use axum::routing::get;
use axum::{Router, extract::Extension};
use std::net::SocketAddr;
use std::sync::Arc;

/// Longest message that a browser may send, bytes.
const LONGEST_ASK: usize = 16 * 1024;

/// The service for a desk. Without a port nothing is known of who asks: then everybody counts
/// as somebody from outside.
pub fn app(desk: Arc<Desk>) -> Router {
    Router::new()
        .route("/", get(page))
        .route("/enter", get(enter).post(knock))
        .route("/socket", get(socket))
        .route("/assets/{*name}", get(asset))
        .merge(crate::skeds::routes().route_layer(from_fn(only_from_inside)))
        .layer(from_fn_with_state(Arc::clone(&desk), at_the_door))
        .with_state(desk)
}

fn text<'a>(headers: &'a HeaderMap, name: &HeaderName) -> &'a str {
    headers
        .get(name)
        .and_then(|v| v.to_str().ok())
        .unwrap_or("")
}

/// Looks at the name that was asked for, and adds what is strict to each answer.
async fn at_the_door(
    State(desk): State<Arc<Desk>>,
    peer: Option<Extension<ConnectInfo<SocketAddr>>>,
    mut request: Request,
    next: Next,
) -> Response<Body> {
    let host = text(request.headers(), &HOST).to_string();
    let peer = peer.map(|Extension(ConnectInfo(address))| address.ip());
    let may_enter = desk.door.lets_in(peer, text(request.headers(), &COOKIES));
    request.extensions_mut().insert(MayEnter(may_enter));
    let mut answer = if desk.door.knows(&host) {
        next.run(request).await
    } else {
        words(
            StatusCode::MISDIRECTED_REQUEST,
            "The desk is not known under this name. Use the address that markhold prints.\n",
        )
    };
    let headers = answer.headers_mut();
    for (name, value) in STRICT {
        headers.insert(
            HeaderName::from_static(name),
            HeaderValue::from_static(value),
        );
    }
    if let Ok(policy) = HeaderValue::from_str(&policy(&host)) {
        headers.insert(CONTENT_SECURITY_POLICY, policy);
    }
    answer
}

/// Whether who asks may come in.
#[derive(Clone, Copy)]
struct MayEnter(bool);

/// Lets through who may come in; what changes something comes from the desk's own page only.
async fn only_from_inside(
    Extension(may): Extension<MayEnter>,
    request: Request,
    next: Next,
) -> Response<Body> {
    let headers = request.headers();
    let origin = headers.get(ORIGIN).and_then(|v| v.to_str().ok());
    let is_ours = origin_is_ours(origin, text(headers, &HOST));
    match may.0 && (request.method() == Method::GET || is_ours) {
        true => next.run(request).await,
        false => words(StatusCode::FORBIDDEN, "Open the desk's page first.\n"),
    }
}

async fn page(Extension(may): Extension<MayEnter>, headers: HeaderMap) -> Response<Body> {
    if may.0 {
        file("index.html", &headers)
    } else {
        go_to("/enter", None)
    }
}

async fn asset(Path(name): Path<String>, headers: HeaderMap) -> Response<Body> {
    file(&name, &headers)
}

async fn enter(Extension(may): Extension<MayEnter>, headers: HeaderMap) -> Response<Body> {
    if may.0 {
        go_to("/", None)
    } else {
        file("enter.html", &headers)
    }
}

#[derive(serde::Deserialize)]
struct Told {
    code: String,
}

/// A code was told. The form comes from the desk's own page only.
async fn knock(
    State(desk): State<Arc<Desk>>,
    headers: HeaderMap,
    Form(told): Form<Told>,
) -> Response<Body> {
    let origin = headers.get(ORIGIN).and_then(|v| v.to_str().ok());
    if !origin_is_ours(origin, text(&headers, &HOST)) {
        return words(
            StatusCode::FORBIDDEN,
            "Type the code into the desk's own page.\n",
        );
    }
    match desk.door.knock(&told.code) {
        Ok((Knock::Right, key)) => go_to("/", key.as_deref()),
        Ok((Knock::Wrong, _)) => go_to("/enter#wrong", None),
        Ok((Knock::Pause, _)) => go_to("/enter#pause", None),
        Err(_) => words(
            StatusCode::INTERNAL_SERVER_ERROR,
            "This machine has no random numbers; the desk cannot be shared.\n",
        ),
    }
}

fn go_to(place: &'static str, key: Option<&str>) -> Response<Body> {
    let mut answer = Response::new(Body::empty());
    *answer.status_mut() = StatusCode::SEE_OTHER;
    let headers = answer.headers_mut();
    headers.insert(LOCATION, HeaderValue::from_static(place));
    let cookie = key.map(|key| format!("{COOKIE}={key}; HttpOnly; SameSite=Strict; Path=/"));
    if let Some(Ok(cookie)) = cookie.map(|c| HeaderValue::from_str(&c)) {
        headers.insert(SET_COOKIE, cookie);
    }
    answer
}

async fn socket(
    State(desk): State<Arc<Desk>>,
    Extension(may): Extension<MayEnter>,
    headers: HeaderMap,
    upgrade: WebSocketUpgrade,
) -> Response<Body> {
    let origin = headers.get(ORIGIN).and_then(|v| v.to_str().ok());
    if !may.0 || !origin_is_ours(origin, text(&headers, &HOST)) {
        return words(StatusCode::FORBIDDEN, "Open the desk's page first.\n");
    }
    upgrade
        .max_message_size(LONGEST_ASK)
        .on_upgrade(move |socket| session(desk, socket))
}
