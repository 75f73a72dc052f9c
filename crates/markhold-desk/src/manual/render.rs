//! A chapter as a page: headings that can be linked to, a list of them, links between chapters.

use super::Chapter;
use pulldown_cmark::{CowStr, Event, HeadingLevel, Options, Parser, Tag, TagEnd, html};
use std::collections::HashMap;

/// A heading that can be linked to.
#[derive(Debug, PartialEq)]
pub(super) struct Heading {
    pub(super) level: HeadingLevel,
    pub(super) words: String,
    pub(super) anchor: String,
}

/// What a text says, and its headings in order.
pub(super) fn parsed(text: &str) -> (Vec<Event<'_>>, Vec<Heading>) {
    let mut events: Vec<Event> = Parser::new_ext(text, Options::ENABLE_TABLES).collect();
    let (mut headings, mut taken) = (Vec::new(), HashMap::new());
    for at in 0..events.len() {
        if let Event::Start(Tag::Heading { level, .. }) = events[at] {
            let words = words_from(&events[at + 1..]);
            let anchor = anchor(&words, &mut taken);
            headings.push(Heading {
                level,
                words,
                anchor: anchor.clone(),
            });
            if let Event::Start(Tag::Heading { id, .. }) = &mut events[at] {
                *id = Some(anchor.into());
            }
        }
    }
    for event in &mut events {
        match event {
            Event::Start(Tag::Link { dest_url, .. }) => *dest_url = to_page(dest_url),
            // What looks like a tag of a page is text here.
            Event::Html(raw) | Event::InlineHtml(raw) => {
                *event = Event::Text(std::mem::replace(raw, "".into()));
            }
            _ => {}
        }
    }
    (events, headings)
}

/// The words of a heading that begins before these events.
fn words_from(events: &[Event]) -> String {
    let until_end = |event: &&Event| !matches!(event, Event::End(TagEnd::Heading(_)));
    let words = |event: &Event| match event {
        Event::Text(words) | Event::Code(words) => words.to_string(),
        _ => String::new(),
    };
    events.iter().take_while(until_end).map(words).collect()
}

/// Small letters, figures and hyphens; the second of the same name gets a number (common practice
/// where Markdown is shown).
fn anchor(words: &str, taken: &mut HashMap<String, usize>) -> String {
    let kept = |c| match c {
        ' ' => Some('-'),
        c if char::is_alphanumeric(c) || c == '-' || c == '_' => Some(c),
        _ => None,
    };
    let name: String = words.to_lowercase().chars().filter_map(kept).collect();
    let before = taken.entry(name.clone()).or_default();
    *before += 1;
    match *before {
        1 => name,
        again => format!("{name}-{}", again - 1),
    }
}

/// Where a link to a chapter leads among the pages.
fn to_page<'a>(to: &CowStr<'a>) -> CowStr<'a> {
    let (file, anchor) = to.split_once('#').unwrap_or((to, ""));
    match file.strip_suffix(".md") {
        Some(name) if anchor.is_empty() => format!("{name}.html").into(),
        Some(name) => format!("{name}.html#{anchor}").into(),
        None => to.clone(),
    }
}

fn escaped(text: &str) -> String {
    let mut out = String::new();
    html::push_html(&mut out, std::iter::once(Event::Text(text.into())));
    out
}

/// What a chapter is called.
fn title(chapter: &Chapter) -> String {
    let (_, headings) = parsed(chapter.text);
    let first = headings.into_iter().next();
    first.map_or_else(|| chapter.name.into(), |heading| heading.words)
}

/// The page of a chapter.
pub(super) fn chapter(all: &[Chapter], place: usize) -> String {
    let (events, headings) = parsed(all[place].text);
    let mut body = String::new();
    html::push_html(&mut body, events.into_iter());
    // A table wider than a phone is moved for itself.
    let body = body
        .replace(
            "<table>",
            "<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"Table\"><table>",
        )
        .replace("</table>", "</table></div>")
        .replace("<pre>", "<pre tabindex=\"0\">")
        .replace(" style=\"text-align: ", " class=\"");
    let passages = headings.iter().filter(|h| h.level == HeadingLevel::H2);
    let passages: String = passages
        .map(|h| {
            format!(
                "<li><a href=\"#{}\">{}</a></li>\n",
                h.anchor,
                escaped(&h.words)
            )
        })
        .collect();
    let passages = match passages.is_empty() {
        true => String::new(),
        false => format!(
            "<details class=\"passages\"><summary>In this chapter</summary><ul>\n{passages}</ul></details>\n"
        ),
    };
    let beside = |name: &str, to: Option<&Chapter>| {
        to.map_or_else(String::new, |to| {
            format!(
                "<a rel=\"{name}\" href=\"{}.html\">{}</a>",
                to.name,
                escaped(&title(to))
            )
        })
    };
    let before = beside("prev", place.checked_sub(1).and_then(|at| all.get(at)));
    let after = beside("next", all.get(place + 1));
    let turned =
        format!("<nav class=\"turn\" aria-label=\"Before and after\">{before}{after}</nav>\n");
    page(&title(&all[place]), &format!("{passages}{body}{turned}"))
}

/// The page that lists all chapters.
pub(super) fn list(all: &[Chapter]) -> String {
    let one = |chapter: &Chapter| {
        let title = escaped(&title(chapter));
        format!("<li><a href=\"{}.html\">{title}</a></li>\n", chapter.name)
    };
    let chapters: String = all.iter().map(one).collect();
    page(
        "The manual",
        &format!("<h1>The manual</h1>\n<ol class=\"chapters\">\n{chapters}</ol>\n"),
    )
}

/// A whole page. What it needs is named by relative paths: it stands in the desk and in a folder alike.
fn page(title: &str, body: &str) -> String {
    let title = escaped(title);
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n<title>{title} – markhold</title>\n\
         <link rel=\"icon\" href=\"../assets/icon.svg\" type=\"image/svg+xml\">\n\
         <link rel=\"stylesheet\" href=\"../assets/desk.css\">\n\
         <link rel=\"stylesheet\" href=\"../assets/manual.css\">\n\
         <script type=\"module\" src=\"../assets/manual.js\"></script>\n</head>\n<body>\n\
         <header class=\"plate\">\n<p class=\"name\">markhold</p>\n\
         <a class=\"to\" href=\"index.html\">All chapters</a>\n\
         <a class=\"to\" id=\"to-desk\" href=\"/\" hidden>To the desk</a>\n</header>\n\
         <main class=\"manual\">\n{body}</main>\n</body>\n</html>\n"
    )
}
