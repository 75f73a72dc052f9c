//! The page's files, in the binary.

use axum::body::Body;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE, ETAG, IF_NONE_MATCH};
use axum::http::{HeaderMap, Response, StatusCode};
use rust_embed::RustEmbed;

#[derive(RustEmbed)]
#[folder = "assets/"]
struct Files;

/// What a file is, by the end of its name.
fn kind(name: &str) -> &'static str {
    match name.rsplit('.').next() {
        Some("html") => "text/html; charset=utf-8",
        Some("css") => "text/css; charset=utf-8",
        Some("js") => "text/javascript; charset=utf-8",
        Some("svg") => "image/svg+xml",
        Some("woff2") => "font/woff2",
        Some("webmanifest") => "application/manifest+json",
        _ => "text/plain; charset=utf-8",
    }
}

/// A file by its name, or that there is none. The browser asks each time whether its copy
/// is still good: after an update it never mixes old with new.
pub fn file(name: &str, asked: &HeaderMap) -> Response<Body> {
    let Some(file) = Files::get(name) else {
        return words(
            StatusCode::NOT_FOUND,
            "There is nothing of that name on the desk.\n",
        );
    };
    let hash = file.metadata.sha256_hash();
    let tag: String = hash[..8].iter().map(|b| format!("{b:02x}")).collect();
    let tag = format!("\"{tag}\"");
    let same = asked
        .get(IF_NONE_MATCH)
        .is_some_and(|t| t.as_bytes() == tag.as_bytes());
    let (status, body) = if same {
        (StatusCode::NOT_MODIFIED, Body::empty())
    } else {
        (StatusCode::OK, Body::from(file.data.into_owned()))
    };
    Response::builder()
        .status(status)
        .header(CONTENT_TYPE, kind(name))
        .header(CACHE_CONTROL, "no-cache")
        .header(ETAG, tag)
        .body(body)
        .unwrap_or_default()
}

/// A file's bytes by its name.
pub fn bytes(name: &str) -> Option<Vec<u8>> {
    Files::get(name).map(|file| file.data.into_owned())
}

/// The names of all files.
pub fn names() -> impl Iterator<Item = String> {
    Files::iter().map(|name| name.into_owned())
}

/// An answer in plain words.
pub fn words(status: StatusCode, words: &'static str) -> Response<Body> {
    let mut answer = Response::new(Body::from(words));
    *answer.status_mut() = status;
    let kind = axum::http::HeaderValue::from_static("text/plain; charset=utf-8");
    answer.headers_mut().insert(CONTENT_TYPE, kind);
    answer
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_have_their_kind_and_a_tag() {
        let answer = file("index.html", &HeaderMap::new());
        assert_eq!(answer.status(), StatusCode::OK);
        assert_eq!(answer.headers()[CONTENT_TYPE], "text/html; charset=utf-8");
        let mut asked = HeaderMap::new();
        asked.insert(IF_NONE_MATCH, answer.headers()[ETAG].clone());
        assert_eq!(
            file("index.html", &asked).status(),
            StatusCode::NOT_MODIFIED
        );
        assert_eq!(
            file("../Cargo.toml", &asked).status(),
            StatusCode::NOT_FOUND
        );
    }

    /// The policy allows nothing inline and nothing from elsewhere; the files keep to it.
    #[test]
    fn files_hold_nothing_inline_and_ask_for_nothing_from_elsewhere() {
        for name in Files::iter() {
            let file = Files::get(&name).expect("listed");
            if !["html", "css", "js"].iter().any(|end| name.ends_with(end)) {
                continue;
            }
            let text = String::from_utf8(file.data.into_owned()).expect("text");
            for bad in [
                "<script>",
                "<style",
                "style=\"",
                "onclick=",
                "eval(",
                "innerHTML",
            ] {
                assert!(!text.contains(bad), "{name} holds {bad}");
            }
            let foreign = text.matches("://").count() - text.matches("http://www.w3.org/").count();
            assert_eq!(foreign, 0, "{name} names another place");
        }
    }
}
