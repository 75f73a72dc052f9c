//! Tonight: what is on and what is next, on the page, and skeds to edit.
//!
//! Who may ask is the business of [`super::app`].

use crate::desk::Desk;
use crate::sked_book::{DialSaid, SkedBook};
use axum::Router;
use axum::body::{Body, Bytes};
use axum::extract::{DefaultBodyLimit, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::http::{HeaderValue, Response, StatusCode};
use axum::routing::get;
use markhold_station::Room;
use serde::Deserialize;
use serde_json::{Value, json};
use std::sync::Arc;

/// What the page asks for.
#[derive(Deserialize)]
#[serde(tag = "ask", rename_all = "kebab-case")]
enum Ask {
    Put { id: Option<i64>, sked: Value },
    Remove { id: i64 },
    Dial(DialSaid),
}

/// Longest sked that a page may send, bytes: one with some hundred exceptions.
const LONGEST_SKED: usize = 64 * 1024;

/// The routes of Tonight.
pub(crate) fn routes() -> Router<Arc<Desk>> {
    let routes = Router::new()
        .route("/skeds", get(tonight).post(asked))
        .route("/skeds/went", get(went));
    routes.layer(DefaultBodyLimit::max(LONGEST_SKED))
}

async fn tonight(State(desk): State<Arc<Desk>>) -> Response<Body> {
    told(&desk).await
}

async fn went(State(desk): State<Arc<Desk>>) -> Response<Body> {
    reply(on_the_book(&desk, |book, _| book.went()).await)
}

async fn asked(State(desk): State<Arc<Desk>>, body: Bytes) -> Response<Body> {
    let ask = match serde_json::from_slice::<Ask>(&body) {
        Ok(ask) => ask,
        Err(error) => return cannot(&error.to_string()),
    };
    let done = on_the_book(&desk, |book, room| match ask {
        Ask::Dial(_) if room == Room::Practice => Err("the practice dial is right".into()),
        Ask::Dial(said) => book.dial(said),
        Ask::Put { id, sked } => book.put(id, sked),
        Ask::Remove { id } => book.remove(id),
    });
    match done.await {
        Some(Err(why)) => cannot(&why),
        Some(Ok(())) | None => told(&desk).await,
    }
}

async fn told(desk: &Arc<Desk>) -> Response<Body> {
    reply(on_the_book(desk, |book, room| book.tonight(room)).await)
}

fn reply(found: Option<Result<Value, String>>) -> Response<Body> {
    match found {
        Some(Ok(told)) => answer(StatusCode::OK, &told),
        Some(Err(why)) => cannot(&why),
        // Nothing is kept here: the page shows no skeds.
        None => answer(StatusCode::OK, &Value::Null),
    }
}

/// Asks the book where waiting for a disk holds up nobody.
async fn on_the_book<T: Send + 'static>(
    desk: &Arc<Desk>,
    ask: impl FnOnce(&dyn SkedBook, Room) -> T + Send + 'static,
) -> Option<T> {
    let desk = Arc::clone(desk);
    let asked = move || {
        let room = desk.station.look(|sum| sum.room);
        desk.skeds.get().map(|book| ask(&**book, room))
    };
    tokio::task::spawn_blocking(asked).await.ok().flatten()
}

fn cannot(why: &str) -> Response<Body> {
    answer(StatusCode::UNPROCESSABLE_ENTITY, &json!({ "cannot": why }))
}

fn answer(status: StatusCode, value: &Value) -> Response<Body> {
    let mut answer = Response::new(Body::from(value.to_string()));
    *answer.status_mut() = status;
    let headers = answer.headers_mut();
    headers.insert(CONTENT_TYPE, HeaderValue::from_static("application/json"));
    headers.insert(CACHE_CONTROL, HeaderValue::from_static("no-store"));
    answer
}
