//! The manual: the chapters of `docs/`, rendered where they are read, so that the desk has them
//! without a network. The same pages make the site.
//!
//! | asked | answered |
//! |---|---|
//! | `GET /manual` | the list of chapters |
//! | `GET /manual/NAME.html` | a chapter |
//! | `GET /manual/NAME.svg`, `.png`, `.json` | a picture of one, or what else stands beside it |

mod render;

use crate::assets::{self, words};
use crate::desk::Desk;
use axum::Router;
use axum::body::Body;
use axum::extract::Path;
use axum::http::header::{CONTENT_TYPE, LOCATION};
use axum::http::{HeaderValue, Response, StatusCode};
use axum::routing::get;
use std::sync::Arc;

/// A chapter: its name in links, and its text.
struct Chapter {
    name: &'static str,
    text: &'static str,
}

macro_rules! chapters {
    ($($name:literal)*) => {
        [$(Chapter {
            name: $name,
            text: include_str!(concat!("../../../../docs/", $name, ".md")),
        }),*]
    };
}

/// All chapters, in the order in which a newcomer reads them.
static CHAPTERS: [Chapter; 22] = chapters![
    "first-evening" "installing" "cable" "sound-input" "tuning" "doubt" "evenings" "joining"
    "several" "skeds" "unattended" "machines" "paper" "bench" "sending" "trouble" "guest"
    "language" "reliability" "performance" "reference" "layouts"
];

macro_rules! beside {
    ($($name:literal $kind:literal)*) => {
        [$(($name, $kind, include_bytes!(concat!("../../../../docs/", $name)))),*]
    };
}

/// What stands beside the chapters: name, kind, bytes.
static BESIDE: [(&str, &str, &[u8]); 15] = beside![
    "calibration.svg" "image/svg+xml"
    "desk-day.png" "image/png"
    "evenings-page.png" "image/png"
    "histogram.svg" "image/svg+xml"
    "legend-copy.png" "image/png"
    "legend-drift.png" "image/png"
    "legend-eye.png" "image/png"
    "legend-figure.png" "image/png"
    "legend-level.png" "image/png"
    "legend-quality.png" "image/png"
    "legend-rule.png" "image/png"
    "legend-strip.png" "image/png"
    "page.png" "image/png"
    "range.svg" "image/svg+xml"
    "json-lines.schema.json" "application/schema+json"
];

/// Files of the page that a page of the manual needs.
const NEEDED: [&str; 8] = [
    "desk.css",
    "manual.css",
    "manual.js",
    "tools.js",
    "icon.svg",
    "fonts/courier-prime-latin-400-normal.woff2",
    "fonts/jost-latin-400-normal.woff2",
    "fonts/jost-latin-500-normal.woff2",
];

/// The routes of the manual.
pub(crate) fn routes() -> Router<Arc<Desk>> {
    Router::new()
        .route("/manual", get(to_the_list))
        .route("/manual/{name}", get(page))
}

async fn to_the_list() -> Response<Body> {
    let mut answer = Response::new(Body::empty());
    *answer.status_mut() = StatusCode::SEE_OTHER;
    let list = HeaderValue::from_static("/manual/index.html");
    answer.headers_mut().insert(LOCATION, list);
    answer
}

async fn page(Path(name): Path<String>) -> Response<Body> {
    match named(&name) {
        Some((kind, bytes)) => {
            let mut answer = Response::new(Body::from(bytes));
            let kind = HeaderValue::from_static(kind);
            answer.headers_mut().insert(CONTENT_TYPE, kind);
            answer
        }
        None => words(
            StatusCode::NOT_FOUND,
            "The manual has no chapter of that name; /manual lists them.\n",
        ),
    }
}

/// What the manual has under a name: its kind and its bytes.
fn named(name: &str) -> Option<(&'static str, Vec<u8>)> {
    const HTML: &str = "text/html; charset=utf-8";
    if name == "index.html" {
        return Some((HTML, render::list(&CHAPTERS).into_bytes()));
    }
    if let Some((_, kind, bytes)) = BESIDE.iter().find(|(beside, ..)| *beside == name) {
        return Some((kind, bytes.to_vec()));
    }
    let place = CHAPTERS
        .iter()
        .position(|chapter| name.strip_suffix(".html") == Some(chapter.name))?;
    Some((HTML, render::chapter(&CHAPTERS, place).into_bytes()))
}

/// The manual as files of a site that needs no desk: path and bytes. Its pages name each other and
/// what they need by relative paths, so it may lie in any folder.
pub fn site() -> Vec<(String, Vec<u8>)> {
    let pages = CHAPTERS.iter().map(|c| format!("{}.html", c.name));
    let beside = BESIDE.iter().map(|(name, ..)| (*name).to_string());
    let names = std::iter::once("index.html".to_string())
        .chain(pages)
        .chain(beside);
    let pages = names.filter_map(|name| {
        let (_, bytes) = named(&name)?;
        Some((format!("manual/{name}"), bytes))
    });
    let needed = NEEDED
        .iter()
        .filter_map(|name| Some((format!("assets/{name}"), assets::bytes(name)?)));
    pages.chain(needed).collect()
}

#[cfg(test)]
mod tests;
