//! Every chapter is there, and every link lands.

use super::render::parsed;
use super::*;
use pulldown_cmark::{Event, Tag};
use std::collections::BTreeSet;

/// The headings of a chapter that can be linked to.
fn anchors(text: &str) -> BTreeSet<String> {
    let (_, headings) = parsed(text);
    headings.into_iter().map(|heading| heading.anchor).collect()
}

/// Whether `chapter.html#anchor` or `picture` lands, seen from the chapter `from`.
fn lands(from: &str, to: &str) -> bool {
    let (file, anchor) = to.split_once('#').unwrap_or((to, ""));
    let name = match file {
        "" => from,
        file => file.trim_end_matches(".html"),
    };
    let chapter = CHAPTERS.iter().find(|chapter| chapter.name == name);
    match chapter {
        Some(chapter) => anchor.is_empty() || anchors(chapter.text).contains(anchor),
        None => file == "index.html" || BESIDE.iter().any(|(picture, ..)| *picture == file),
    }
}

#[test]
fn every_link_between_chapters_lands() {
    let mut count = 0;
    for chapter in &CHAPTERS {
        let (events, _) = parsed(chapter.text);
        for event in &events {
            let (Event::Start(Tag::Link { dest_url: to, .. })
            | Event::Start(Tag::Image { dest_url: to, .. })) = event
            else {
                continue;
            };
            count += 1;
            assert!(lands(chapter.name, to), "{}: {to}", chapter.name);
        }
    }
    assert!(count > 20, "{count} links");
    assert!(!lands("trouble", "trouble.html#nobody-wrote-this") && !lands("trouble", "none.html"));
}

/// The sentence, the alerts and the legends lead to what the manual says of them.
#[test]
fn every_link_of_the_page_lands() {
    let mut found = BTreeSet::new();
    for name in assets::names() {
        let text = assets::bytes(&name).and_then(|bytes| String::from_utf8(bytes).ok());
        for part in text.unwrap_or_default().split("/manual/").skip(1) {
            let end = part.find(|c: char| !c.is_ascii_alphanumeric() && !"-_.#".contains(c));
            let to = part[..end.unwrap_or(part.len())].to_string();
            if to.is_empty() {
                continue;
            }
            assert!(lands("", &to), "{name} leads to /manual/{to}");
            found.insert(to);
        }
    }
    let more = String::from_utf8(assets::bytes("more.js").expect("there")).expect("text");
    for part in more.split(" at(\"").skip(1) {
        let to = format!("#{}", part.split('"').next().unwrap_or_default());
        assert!(lands("trouble", &to), "more.js leads to {to}");
        found.insert(to);
    }
    assert!(found.len() > 20, "{found:?}");
}

/// What an alert says in short the manual says at length: none is forgotten.
#[test]
fn every_alert_has_a_passage() {
    let text = |name: &str| String::from_utf8(assets::bytes(name).expect(name)).expect("text");
    let more = text("more.js");
    let mut alerts = BTreeSet::new();
    for name in assets::names().filter(|name| name.ends_with(".js")) {
        for call in ["alerts.say(\"", "alerts.mention(\""] {
            let text = text(&name);
            let named = text.split(call).skip(1);
            alerts.extend(named.filter_map(|part| part.split('"').next().map(String::from)));
        }
    }
    for alert in &alerts {
        let quoted = format!("\"{alert}\":");
        let plain = format!("  {alert}:");
        assert!(
            more.contains(&quoted) || more.contains(&plain),
            "{alert} leads nowhere"
        );
    }
    assert!(alerts.len() > 15, "{alerts:?}");
}

#[test]
fn all_of_docs_is_in_it() {
    let docs = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs");
    let files = std::fs::read_dir(docs).expect("docs").flatten();
    let texts = files.filter_map(|f| {
        f.file_name()
            .to_str()?
            .strip_suffix(".md")
            .map(String::from)
    });
    let there: BTreeSet<String> = texts.collect();
    let here: BTreeSet<String> = CHAPTERS.iter().map(|c| c.name.to_string()).collect();
    assert_eq!(there, here);
}

/// The policy of the desk allows nothing inline, and what looks like a tag is text.
#[test]
fn pages_hold_nothing_inline() {
    for (path, bytes) in site().iter().filter(|(path, _)| path.ends_with(".html")) {
        let page = std::str::from_utf8(bytes).expect("text");
        for bad in ["<script>", "style=\"", "onclick=", "<a href=\"javascript"] {
            assert!(!page.contains(bad), "{path} holds {bad}");
        }
        assert!(page.contains("<h1"), "{path} has no title");
    }
    let (events, _) = parsed("A <b onclick=x>tag</b>\n\n<script>x</script>\n");
    assert!(
        !events
            .iter()
            .any(|e| matches!(e, Event::Html(_) | Event::InlineHtml(_)))
    );
}

#[test]
fn the_site_has_what_its_pages_name() {
    let site = site();
    let has = |path: &str| site.iter().any(|(there, _)| there == path);
    for (path, bytes) in site.iter().filter(|(path, _)| path.ends_with(".html")) {
        let page = std::str::from_utf8(bytes).expect("text");
        for part in page.split("\"../").skip(1) {
            let name = part.split('"').next().unwrap_or_default();
            assert!(has(name), "{path} names {name}");
        }
    }
    let css = site
        .iter()
        .find(|(path, _)| path == "assets/desk.css")
        .expect("a style");
    let css = std::str::from_utf8(&css.1).expect("text");
    for part in css.split("url(\"").skip(1) {
        let name = part.split('"').next().unwrap_or_default();
        assert!(has(&format!("assets/{name}")), "{name}");
    }
}

#[test]
fn headings_of_one_name_are_told_apart() {
    let (_, headings) = parsed("# One, two\n\n## The `--to` way\n\n## The --to way\n");
    let anchors: Vec<&str> = headings.iter().map(|h| h.anchor.as_str()).collect();
    assert_eq!(anchors, ["one-two", "the---to-way", "the---to-way-1"]);
}
