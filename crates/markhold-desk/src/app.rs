//! The web service: the page, its files, the door, the socket.

use crate::assets::{file, words};
use crate::desk::Desk;
use crate::door::{COOKIE, Knock, Pass, Place, STRICT, is_loopback_name, origin_is_ours, policy};
use crate::evenings;
use crate::socket::session;
use axum::Form;
use axum::body::Body;
use axum::extract::ws::WebSocketUpgrade;
use axum::extract::{ConnectInfo, DefaultBodyLimit, Path, Request, State};
use axum::http::header::{CONTENT_SECURITY_POLICY, CONTENT_TYPE, COOKIE as COOKIES, HOST, ORIGIN};
use axum::http::header::{HeaderName, LOCATION, SET_COOKIE};
use axum::http::{HeaderMap, HeaderValue, Method, Response, StatusCode};
use axum::middleware::{Next, from_fn, from_fn_with_state};
use axum::routing::{get, post};
use axum::{Router, extract::Extension};
use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;
use std::time::Duration;
use tokio::time::timeout;

/// Longest message that a browser may send, bytes.
const LONGEST_ASK: usize = 16 * 1024;
/// Longest form, bytes: a code.
const LONGEST_FORM: usize = 1024;
/// Bytes that a socket holds back before it writes; what it reads at once.
const SOCKET_BUFFER: usize = 8 * 1024;
/// How long who asks may take for all of it, and we for the answer.
const ANSWER: Duration = Duration::from_secs(10);

/// The service for a desk. Without a port nothing is known of who asks: then everybody counts
/// as somebody from outside.
pub fn app(desk: Arc<Desk>) -> Router {
    Router::new()
        .route("/", get(page))
        .route("/enter", get(enter).post(knock))
        .route("/forget", post(forget))
        .route("/socket", get(socket))
        .route("/assets/{*name}", get(asset))
        .layer(DefaultBodyLimit::max(LONGEST_FORM))
        .merge(crate::skeds::routes().route_layer(from_fn(only_from_inside)))
        .merge(crate::contacts::routes().route_layer(from_fn(only_from_inside)))
        .merge(evenings::routes().route_layer(from_fn(only_from_inside)))
        .merge(crate::manual::routes().route_layer(from_fn(only_from_inside)))
        .layer(from_fn_with_state(Arc::clone(&desk), at_the_door))
        .with_state(desk)
}

/// What a header says; nothing if it is there twice, which no browser does.
fn text<'a>(headers: &'a HeaderMap, name: &HeaderName) -> &'a str {
    let mut all = headers.get_all(name).iter();
    match (all.next(), all.next()) {
        (Some(one), None) => one.to_str().unwrap_or(""),
        _ => "",
    }
}

fn origin(headers: &HeaderMap) -> Option<&str> {
    Some(text(headers, &ORIGIN)).filter(|origin| !origin.is_empty())
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
    let pass = desk
        .door
        .pass(peer, &host, text(request.headers(), &COOKIES));
    request.extensions_mut().insert(Asker { peer, pass });
    // A whole address in the place of a path goes before `Host` (RFC 9112, 3.2.2).
    let named = request.uri().authority();
    let same = named.is_none_or(|named| named.as_str() == host);
    let mut answer = if same && desk.door.knows(&host) {
        let answer = timeout(ANSWER, next.run(request)).await;
        answer.unwrap_or_else(|_| {
            words(
                StatusCode::REQUEST_TIMEOUT,
                "That took too long; ask again.\n",
            )
        })
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

/// Who asks, and by what right they may come in.
#[derive(Clone, Debug)]
struct Asker {
    peer: Option<IpAddr>,
    pass: Option<Pass>,
}

/// Lets through who may come in; what changes something comes from the desk's own page only.
async fn only_from_inside(
    Extension(asker): Extension<Asker>,
    request: Request,
    next: Next,
) -> Response<Body> {
    let headers = request.headers();
    let is_ours = origin_is_ours(origin(headers), text(headers, &HOST));
    let may = asker.pass.is_some() && (request.method() == Method::GET || is_ours);
    match may {
        true => next.run(request).await,
        false => words(StatusCode::FORBIDDEN, "Open the desk's page first.\n"),
    }
}

async fn page(Extension(asker): Extension<Asker>, headers: HeaderMap) -> Response<Body> {
    if asker.pass.is_some() {
        file("index.html", &headers)
    } else {
        go_to("/enter", None)
    }
}

async fn asset(Path(name): Path<String>, headers: HeaderMap) -> Response<Body> {
    file(&name, &headers)
}

async fn enter(
    State(desk): State<Arc<Desk>>,
    Extension(asker): Extension<Asker>,
    headers: HeaderMap,
) -> Response<Body> {
    if asker.pass.is_some() {
        return go_to("/", None);
    }
    match desk.door.stand() {
        Ok(()) => file("enter.html", &headers),
        Err(_) => no_secrets(),
    }
}

#[derive(serde::Deserialize)]
struct Told {
    code: String,
}

/// A code was told. The form comes from the desk's own page only.
async fn knock(
    State(desk): State<Arc<Desk>>,
    Extension(asker): Extension<Asker>,
    headers: HeaderMap,
    Form(told): Form<Told>,
) -> Response<Body> {
    if !origin_is_ours(origin(&headers), text(&headers, &HOST)) {
        return words(
            StatusCode::FORBIDDEN,
            "Type the code into the desk's own page.\n",
        );
    }
    match desk.door.knock(&told.code, asker.peer) {
        Ok((Knock::Right, key)) => go_to("/", key.as_deref()),
        Ok((Knock::Wrong, _)) => go_to("/enter#wrong", None),
        Ok((Knock::Pause, _)) => go_to("/enter#pause", None),
        Err(_) => no_secrets(),
    }
}

fn no_secrets() -> Response<Body> {
    words(
        StatusCode::INTERNAL_SERVER_ERROR,
        "This machine has no random numbers; the desk cannot be shared.\n",
    )
}

/// The command that forgets all keys: from this machine only, and from no page of elsewhere.
async fn forget(
    State(desk): State<Arc<Desk>>,
    Extension(asker): Extension<Asker>,
    headers: HeaderMap,
) -> Response<Body> {
    let host = text(&headers, &HOST);
    let here = asker.pass == Some(Pass::Here) && is_loopback_name(host);
    if !here || !origin_is_ours(origin(&headers), host) {
        return words(
            StatusCode::FORBIDDEN,
            "Keys are forgotten from the page, or by markhold --forget-keys on its machine.\n",
        );
    }
    let mut answer = Response::new(Body::from(desk.door.forget_keys().to_string()));
    let kind = HeaderValue::from_static("text/plain; charset=utf-8");
    answer.headers_mut().insert(CONTENT_TYPE, kind);
    answer
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
    Extension(asker): Extension<Asker>,
    place: Option<Extension<Arc<Place>>>,
    headers: HeaderMap,
    upgrade: WebSocketUpgrade,
) -> Response<Body> {
    let ours = origin_is_ours(origin(&headers), text(&headers, &HOST));
    let Some(pass) = asker.pass.filter(|_| ours) else {
        return words(StatusCode::FORBIDDEN, "Open the desk's page first.\n");
    };
    // Through a pipe of a test nobody stands in the door.
    let place = place.map(|Extension(place)| place);
    if place.as_ref().is_some_and(|place| !place.open_page()) {
        return words(
            StatusCode::SERVICE_UNAVAILABLE,
            "Too many pages are open; close one.\n",
        );
    }
    upgrade
        .max_message_size(LONGEST_ASK)
        .max_frame_size(LONGEST_ASK)
        .read_buffer_size(SOCKET_BUFFER)
        .write_buffer_size(SOCKET_BUFFER)
        .on_upgrade(move |socket| async move {
            session(desk, socket, pass).await;
            drop(place);
        })
}
