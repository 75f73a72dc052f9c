//! Whose evenings are asked for, and how that is answered.

use super::{refused, typed};
use crate::desk::Desk;
use axum::body::Body;
use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::http::{Response, StatusCode};
use markhold_shelf::Shelf;
use markhold_station::Room;
use serde::Serialize;
use std::convert::Infallible;
use std::path::Path;
use std::sync::Arc;

/// The shelf of a room; without one, of the room in which a browser begins.
#[derive(Clone)]
pub struct ShelfOf {
    desk: Arc<Desk>,
    room: Option<Room>,
}

impl ShelfOf {
    fn place(&self) -> Option<&Path> {
        match self.room {
            Some(room) => self.desk.station.place_of(room),
            None => self.desk.station.place(),
        }
    }
}

impl From<Arc<Desk>> for ShelfOf {
    fn from(desk: Arc<Desk>) -> Self {
        ShelfOf { desk, room: None }
    }
}

impl FromRequestParts<Arc<Desk>> for ShelfOf {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, desk: &Arc<Desk>) -> Result<Self, Infallible> {
        Ok(ShelfOf {
            desk: Arc::clone(desk),
            room: parts.extensions.get().copied(),
        })
    }
}

/// Does something with the shelf where others do not wait for it; the answer as JSON.
pub async fn with_shelf<T: Serialize + Send + 'static>(
    of: impl Into<ShelfOf>,
    work: impl FnOnce(&mut Shelf) -> Result<T, String> + Send + 'static,
) -> Response<Body> {
    match on_shelf(of, work).await {
        Ok(told) => {
            let json = serde_json::to_vec(&told).unwrap_or_default();
            typed(Response::new(Body::from(json)), "application/json")
        }
        Err(why) => refused(StatusCode::NOT_FOUND, &why),
    }
}

/// Does something with the shelf where others do not wait for it.
///
/// Errors: nothing is kept there, or what the work says, in words.
pub async fn on_shelf<T: Send + 'static>(
    of: impl Into<ShelfOf>,
    work: impl FnOnce(&mut Shelf) -> Result<T, String> + Send + 'static,
) -> Result<T, String> {
    let of = of.into();
    let work = move || {
        let place = of.place().ok_or("nothing is kept here")?;
        let mut shelf = Shelf::open(place).map_err(words)?;
        work(&mut shelf)
    };
    let done = tokio::task::spawn_blocking(work).await;
    done.unwrap_or_else(|_| Err("that went wrong; try again".into()))
}

/// An error in words.
pub fn words(error: impl std::fmt::Display) -> String {
    error.to_string()
}
