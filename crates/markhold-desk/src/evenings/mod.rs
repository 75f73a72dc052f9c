//! Evenings on the shelf, for the page: the list, one with its copy and marks, words found in all
//! of them, any passage of the sound; and what a person does with them.
//!
//! | asked | answered |
//! |---|---|
//! | `GET /evenings` | the page |
//! | `GET /evenings/list` | the latest evenings, or those before one |
//! | `GET /evenings/search` | lines that hold words, and after them those that may hold them, with the probability |
//! | `GET /evenings/join` | one copy out of those of several evenings |
//! | `GET /evenings/{id}` | an evening and the copy of one of its readings |
//! | `GET /evenings/{id}/sound` | a passage of its sound, WAV |
//! | `POST /evenings/{id}/say` | keeps a note and the name of a station |
//! | `POST /evenings/{id}/again` | copies it again; the new reading stands in the list when it is done |
//! | `POST /evenings/{id}/choose` | lets one of its readings stand |
//! | `POST /evenings/{id}/correct` | writes another text in the place of a line: one more reading, a person's |
//! | `POST /evenings/{id}/remove` | takes it off the shelf |
//!
//! The same below `/practice` is about the evenings of practice, which are kept by themselves.

mod by_hand;
mod joint;
mod object;
mod shelf_of;
mod sound;

use crate::assets::file;
use crate::desk::Desk;
use axum::body::Body;
use axum::extract::{Form, Path, Query};
use axum::http::header::CONTENT_TYPE;
use axum::http::{HeaderMap, HeaderValue, Response, StatusCode};
use axum::routing::{get, post};
use axum::{Extension, Router, extract::DefaultBodyLimit};
use markhold_shelf::joined::Which as Evening;
use markhold_shelf::{Filter, LONGEST_NOTE, Said, settings_from_json};
use markhold_station::Room;
use serde::Deserialize;
use shelf_of::{ShelfOf, on_shelf, with_shelf, words};
use std::sync::Arc;

/// Most evenings told at once.
const MOST: usize = 50;
/// Most lines found at once.
const MOST_FOUND: usize = 100;
/// Most evenings joined at once: each is aligned against all others.
const MOST_JOINED: usize = 24;
/// Longest form, bytes: every byte of a note may be written as three.
const LONGEST_FORM: usize = 4 * LONGEST_NOTE;

/// What is answered about evenings, to who may be here.
pub fn routes() -> Router<Arc<Desk>> {
    let practice = routes_of().layer(Extension(Room::Practice));
    routes_of().nest("/practice", practice)
}

fn routes_of() -> Router<Arc<Desk>> {
    Router::new()
        .route("/evenings", get(page))
        .route("/evenings/list", get(list))
        .route("/evenings/search", get(search))
        .route("/evenings/join", get(join))
        .route("/evenings/{id}", get(evening))
        .route("/evenings/{id}/sound", get(passage))
        .route("/evenings/{id}/say", post(say))
        .route("/evenings/{id}/again", post(again))
        .route("/evenings/{id}/choose", post(by_hand::choose))
        .route("/evenings/{id}/correct", post(by_hand::correct))
        .route("/evenings/{id}/remove", post(remove))
        .layer(DefaultBodyLimit::max(LONGEST_FORM))
}

fn refused(status: StatusCode, why: &str) -> Response<Body> {
    let why = serde_json::json!({ "cannot": why });
    let mut answer = Response::new(Body::from(why.to_string()));
    *answer.status_mut() = status;
    typed(answer, "application/json")
}

fn typed(mut answer: Response<Body>, kind: &'static str) -> Response<Body> {
    let kind = HeaderValue::from_static(kind);
    answer.headers_mut().insert(CONTENT_TYPE, kind);
    answer
}

async fn page(headers: HeaderMap) -> Response<Body> {
    file("evenings.html", &headers)
}

#[derive(Deserialize)]
struct Before {
    /// Only evenings that began before this time.
    before: Option<String>,
}

async fn list(of: ShelfOf, Query(asked): Query<Before>) -> Response<Body> {
    let until = asked.before.and_then(|time| time.parse().ok());
    with_shelf(of, move |shelf| {
        let mut all = shelf.evenings(None, until, MOST).map_err(words)?;
        all.reverse();
        let told = |evening| object::Evening::of(shelf, evening);
        Ok(all.iter().map(told).collect::<Vec<_>>())
    })
    .await
}

#[derive(Deserialize)]
struct Asked {
    #[serde(rename = "for")]
    words: String,
}

async fn search(of: ShelfOf, Query(asked): Query<Asked>) -> Response<Body> {
    with_shelf(of, move |shelf| {
        let filter = Filter {
            most: MOST_FOUND,
            alternatives: true,
            ..Filter::default()
        };
        let hits = shelf.search(&asked.words, &filter).map_err(words)?;
        Ok(hits.iter().map(object::Found::of).collect::<Vec<_>>())
    })
    .await
}

#[derive(Deserialize)]
struct Marked {
    /// Numbers of evenings, with commas between them.
    of: String,
}

async fn join(of: ShelfOf, Query(marked): Query<Marked>) -> Response<Body> {
    with_shelf(of, move |shelf| {
        let all: Result<Vec<i64>, _> = marked.of.split(',').map(str::parse).collect();
        let all = all.map_err(|_| format!("\"{}\" are no evenings", marked.of))?;
        if all.len() > MOST_JOINED {
            return Err(format!("at most {MOST_JOINED} evenings are joined at once"));
        }
        let evening = |id| Evening {
            evening: id,
            signal: None,
        };
        let which: Vec<Evening> = all.into_iter().map(evening).collect();
        let joined = shelf.join(&which).map_err(words)?;
        Ok(joint::Told::of(shelf, &joined))
    })
    .await
}

#[derive(Deserialize)]
struct Which {
    /// Which reading, counted from 1; the one to show if left out.
    reading: Option<usize>,
}

async fn evening(of: ShelfOf, Path(id): Path<i64>, Query(which): Query<Which>) -> Response<Body> {
    with_shelf(of, move |shelf| {
        let evening = shelf.evening(id).map_err(words)?;
        object::Whole::of(shelf, &evening, which.reading)
    })
    .await
}

#[derive(Deserialize)]
struct Passage {
    /// From where, s from the first sample of the evening.
    from: f64,
    /// How long, s.
    length: f64,
}

async fn passage(of: ShelfOf, Path(id): Path<i64>, Query(asked): Query<Passage>) -> Response<Body> {
    let made = on_shelf(of, move |shelf| {
        sound::passage(shelf, id, asked.from, asked.length)
    });
    match made.await {
        Ok(bytes) => typed(Response::new(Body::from(bytes)), "audio/wav"),
        Err(why) => refused(StatusCode::NOT_FOUND, &why),
    }
}

async fn say(of: ShelfOf, Path(id): Path<i64>, Form(said): Form<Said>) -> Response<Body> {
    with_shelf(of, move |shelf| shelf.say(id, &said).map_err(words)).await
}

/// Copying takes minutes: that it has begun is answered.
async fn again(of: ShelfOf, Path(id): Path<i64>) -> Response<Body> {
    let begun = with_shelf(of.clone(), move |shelf| {
        let evening = shelf.evening(id).map_err(words)?;
        match evening.sound_s > 0.0 {
            true => Ok(evening.readings.len()),
            false => Err(format!("no sound of evening {id} is left")),
        }
    })
    .await;
    if begun.status().is_success() {
        tokio::spawn(on_shelf(of, move |shelf| {
            let evening = shelf.evening(id).map_err(words)?;
            let before = evening.readings.first().map(|reading| &reading.settings);
            let settings = before.map(settings_from_json).unwrap_or_default();
            shelf.copy_again(id, &settings, &mut |_| {}).map_err(words)
        }));
    }
    begun
}

#[derive(Deserialize)]
struct Sure {
    /// The evening once more: a second question was answered.
    sure: i64,
}

async fn remove(
    of: ShelfOf,
    Path(id): Path<i64>,
    Form(Sure { sure }): Form<Sure>,
) -> Response<Body> {
    if sure != id {
        return refused(StatusCode::BAD_REQUEST, "another evening was meant");
    }
    with_shelf(of, move |shelf| shelf.remove(id).map_err(words)).await
}
