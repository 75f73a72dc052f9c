//! What a person does with readings: corrects one, chooses which stands.

use super::shelf_of::{ShelfOf, with_shelf, words};
use axum::body::Body;
use axum::extract::{Form, Path};
use axum::http::Response;
use markhold_shelf::Shelf;
use serde::Deserialize;

#[derive(Deserialize)]
pub struct Chosen {
    /// Counted from 1; 0 = the one that the shelf would choose.
    reading: usize,
}

/// Lets a reading stand; which one does is answered, counted from 1.
pub async fn choose(of: ShelfOf, Path(id): Path<i64>, Form(asked): Form<Chosen>) -> Response<Body> {
    with_shelf(of, move |shelf| {
        let chosen = Some(asked.reading).filter(|count| *count > 0);
        shelf.choose(id, chosen).map_err(words)?;
        standing(shelf, id)
    })
    .await
}

fn standing(shelf: &Shelf, id: i64) -> Result<usize, String> {
    Ok(shelf.evening(id).map_err(words)?.best + 1)
}

#[derive(Deserialize)]
pub struct Correction {
    /// Counted from 1.
    reading: usize,
    signal: u32,
    /// Where the line begins, s from the first sample of the evening.
    at: f64,
    text: String,
}

/// Writes another text in the place of a line; the reading that has it is answered, counted from 1.
pub async fn correct(
    of: ShelfOf,
    Path(id): Path<i64>,
    Form(asked): Form<Correction>,
) -> Response<Body> {
    with_shelf(of, move |shelf| {
        let place = (asked.signal, asked.at);
        let corrected = shelf.correct(id, asked.reading, place, &asked.text);
        corrected.map_err(words)?;
        standing(shelf, id)
    })
    .await
}
