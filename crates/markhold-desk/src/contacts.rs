//! Contacts and texts that are ready to go, for the page.
//!
//! | asked | answered |
//! |---|---|
//! | `GET /contacts/{room}` | the latest contacts, and the number of the next |
//! | `POST /contacts/{room}` | keeps one |
//! | `POST /contacts/{room}/remove` | takes one out |
//! | `GET /contacts/{room}/adif` | all of them as a file |
//! | `POST /contacts/{room}/import` | takes in those of a file |
//! | `GET /texts` | texts with blanks |
//! | `POST /texts/{room}/fill` | one of them filled in |
//!
//! Practice has a log of its own, which goes with the program. Who may ask is the business of
//! [`super::app`].

use crate::desk::Desk;
use axum::Router;
use axum::body::{Body, Bytes};
use axum::extract::{DefaultBodyLimit, Form, Path, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::http::{HeaderValue, Response, StatusCode};
use axum::routing::{get, post};
use jiff::Timestamp;
use markhold_contact::{Contact, Filling, Kept, Log, fill};
use markhold_station::Room;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use std::sync::Arc;

/// Most contacts told at once.
const MOST: usize = 200;
/// Longest ADIF file that is taken in, bytes: some ten thousand contacts.
const LONGEST_FILE: usize = 8 << 20;

/// The routes of contacts and texts.
pub(crate) fn routes() -> Router<Arc<Desk>> {
    let file = post(import).layer(DefaultBodyLimit::max(LONGEST_FILE));
    let routes = Router::new()
        .route("/contacts/{room}", get(list).post(keep))
        .route("/contacts/{room}/remove", post(remove))
        .route("/contacts/{room}/adif", get(adif))
        .route("/texts", get(texts))
        .route("/texts/{room}/fill", post(filled))
        .layer(DefaultBodyLimit::max(64 * 1024));
    routes.route("/contacts/{room}/import", file)
}

/// As in a path.
#[derive(Clone, Copy, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Which {
    Radio,
    Practice,
}

impl From<Which> for Room {
    fn from(which: Which) -> Self {
        match which {
            Which::Radio => Room::Radio,
            Which::Practice => Room::Practice,
        }
    }
}

fn answer(done: Result<Value, String>) -> Response<Body> {
    let (status, told) = match done {
        Ok(told) => (StatusCode::OK, told),
        Err(why) => (StatusCode::BAD_REQUEST, json!({ "cannot": why })),
    };
    let mut answer = Response::new(Body::from(told.to_string()));
    *answer.status_mut() = status;
    let kind = HeaderValue::from_static("application/json");
    answer.headers_mut().insert(CONTENT_TYPE, kind);
    answer
}

/// Does something with the log where others do not wait for it.
async fn with_log<T: Send + 'static>(
    desk: Arc<Desk>,
    which: Which,
    work: impl FnOnce(&Log) -> Result<T, String> + Send + 'static,
) -> Result<T, String> {
    let work = move || work(&desk.log(which.into())?);
    let done = tokio::task::spawn_blocking(work).await;
    done.unwrap_or_else(|_| Err("that went wrong; try again".into()))
}

fn words(error: impl std::fmt::Display) -> String {
    error.to_string()
}

/// A contact as the page shows it.
#[derive(Serialize)]
struct Shown<'a> {
    #[serde(flatten)]
    kept: &'a Kept,
    band: Option<&'static str>,
}

fn told(log: &Log) -> Result<Value, String> {
    let (kept, troubles) = log.all().map_err(words)?;
    let shown = |kept| Shown {
        kept,
        band: kept.contact.band(),
    };
    let latest: Vec<_> = kept.iter().rev().take(MOST).map(shown).collect();
    Ok(json!({ "contacts": latest, "next": kept.len() + 1, "troubles": troubles }))
}

async fn list(State(desk): State<Arc<Desk>>, Path(which): Path<Which>) -> Response<Body> {
    answer(with_log(desk, which, told).await)
}

/// A contact as a form has it: what is empty is not known.
#[derive(Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
struct Given {
    call: String,
    /// RFC 3339; now if empty.
    begin: String,
    khz: String,
    report_sent: String,
    report_received: String,
    name: String,
    number_sent: String,
    number_received: String,
    note: String,
}

impl Given {
    fn contact(self, own: String) -> Result<Contact, String> {
        fn number<T: std::str::FromStr>(what: &str, text: &str) -> Result<Option<T>, String> {
            let text = text.trim();
            let no = |_| format!("{what} is {text:?}; expected a number");
            (!text.is_empty())
                .then(|| text.parse().map_err(no))
                .transpose()
        }
        let now = Timestamp::now();
        let begin = match self.begin.trim() {
            "" => now,
            text => text.parse().map_err(words)?,
        };
        Ok(Contact {
            call: self.call,
            begin,
            end: Some(now).filter(|end| *end >= begin),
            frequency_hz: number::<f64>("the dial", &self.khz)?.map(|khz| khz * 1e3),
            report_sent: self.report_sent,
            report_received: self.report_received,
            name: self.name,
            number_sent: number("the number given", &self.number_sent)?,
            number_received: number("the number got", &self.number_received)?,
            own,
            note: self.note,
            ..Contact::default()
        })
    }
}

async fn keep(
    State(desk): State<Arc<Desk>>,
    Path(which): Path<Which>,
    Form(given): Form<Given>,
) -> Response<Body> {
    let own = Arc::clone(&desk);
    let kept = with_log(desk, which, move |log| {
        let own = own.station.answering_in(which.into()).call;
        log.add(given.contact(own.unwrap_or_default())?)
            .map_err(words)?;
        told(log)
    });
    answer(kept.await)
}

#[derive(Deserialize)]
struct Number {
    number: usize,
    /// Whom it was with: somebody else may have changed the list.
    call: String,
}

async fn remove(
    State(desk): State<Arc<Desk>>,
    Path(which): Path<Which>,
    Form(asked): Form<Number>,
) -> Response<Body> {
    let removed = with_log(desk, which, move |log| {
        let (kept, _) = log.all().map_err(words)?;
        let meant = kept.iter().find(|kept| kept.number == asked.number);
        if meant.is_none_or(|kept| kept.contact.call != asked.call) {
            return Err("the list has changed meanwhile; look again".into());
        }
        log.remove(asked.number).map_err(words)?;
        told(log)
    });
    answer(removed.await)
}

async fn adif(State(desk): State<Arc<Desk>>, Path(which): Path<Which>) -> Response<Body> {
    let text = with_log(desk, which, |log| log.export().map_err(words)).await;
    match text {
        Ok(text) => {
            let mut file = Response::new(Body::from(text));
            let headers = file.headers_mut();
            let kind = HeaderValue::from_static("text/plain; charset=us-ascii");
            headers.insert(CONTENT_TYPE, kind);
            let name = match which {
                Which::Radio => "attachment; filename=\"contacts.adi\"",
                Which::Practice => "attachment; filename=\"practice.adi\"",
            };
            headers.insert(CONTENT_DISPOSITION, HeaderValue::from_static(name));
            file
        }
        Err(why) => answer(Err(why)),
    }
}

async fn import(
    State(desk): State<Arc<Desk>>,
    Path(which): Path<Which>,
    body: Bytes,
) -> Response<Body> {
    let taken = with_log(desk, which, move |log| {
        let (new, known, troubles) = log.import(&body).map_err(words)?;
        Ok(json!({ "new": new, "known": known, "troubles": troubles }))
    });
    answer(taken.await)
}

async fn texts(State(desk): State<Arc<Desk>>) -> Response<Body> {
    let texts = tokio::task::spawn_blocking(move || desk.texts()).await;
    let texts = texts.unwrap_or_else(|_| Err("that went wrong; try again".into()));
    answer(texts.map(|texts| json!(texts.all())))
}

/// A text with its blanks, and what goes into them.
#[derive(Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
struct Blanks {
    text: String,
    call: String,
    name: String,
    report: String,
    number: String,
}

async fn filled(
    State(desk): State<Arc<Desk>>,
    Path(which): Path<Which>,
    Form(blanks): Form<Blanks>,
) -> Response<Body> {
    let done = tokio::task::spawn_blocking(move || {
        let next = || Some(desk.log(which.into()).ok()?.count().ok()? as u64 + 1);
        let filling = Filling {
            own: desk.station.answering_in(which.into()).call,
            call: Some(blanks.call),
            name: Some(blanks.name),
            report: Some(blanks.report),
            now: Timestamp::now(),
            number: blanks.number.trim().parse().ok().or_else(next),
        };
        fill(&blanks.text, &filling).map_err(words)
    });
    let done = done
        .await
        .unwrap_or_else(|_| Err("that went wrong; try again".into()));
    answer(done.map(|text| json!({ "text": text })))
}
