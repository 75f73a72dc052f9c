//! Golden pages: every text on every ready-made machine, printed from the disciplined
//! stream, is what it looks like typed by hand, and what is kept in `pages/`.
//!
//! To keep new pages after a wished change, run with `KEEP_PAGES=1` and read the difference.
#![allow(missing_docs, reason = "tests")]

mod common;

use common::{lines_by_hand, typed_by_hand};
use markhold_page::{Copied, Kind, discipline, kinds, print, render::text::text};
use std::fs;
use std::path::Path;

const TEXTS: [(&str, &str); 5] = [
    ("bulletin", include_str!("../../../demo/bulletin.txt")),
    ("weather", include_str!("texts/weather.txt")),
    ("net", include_str!("texts/net.txt")),
    ("letter", include_str!("texts/letter.txt")),
    ("test", include_str!("texts/test.txt")),
];

#[test]
fn every_text_on_every_machine() {
    for kind in kinds() {
        let mut pages = String::new();
        for (name, copy) in TEXTS {
            pages.push_str(&format!("==== {name} ====\n{}", page(kind, name, copy)));
        }
        compare(kind.name, &pages);
    }
}

/// The page of the disciplined stream, which is the page typed by hand.
fn page(kind: &Kind, name: &str, copy: &str) -> String {
    let machine = &kind.machine;
    let orders = discipline(machine, Copied::of_text(copy, 0.0)).unwrap();
    let page = print(machine, &orders);
    assert_eq!((page.struck_in_return(), page.overstruck()), (0, 0));
    assert_eq!(page.bells.len(), copy.matches('\u{7}').count());
    let by_hand = typed_by_hand(&lines_by_hand(copy, machine), machine);
    assert_eq!(text(&page), text(&by_hand), "{name} on {}", kind.name);
    text(&page)
}

fn compare(name: &str, found: &str) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/pages");
    let path = folder.join(format!("{name}.txt"));
    if std::env::var_os("KEEP_PAGES").is_some() {
        fs::write(&path, found).unwrap();
    }
    let kept = fs::read_to_string(&path).unwrap_or_default();
    for (k, (found, kept)) in found.split('\n').zip(kept.split('\n')).enumerate() {
        assert_eq!(found, kept, "{}, line {}", path.display(), k + 1);
    }
    assert_eq!(found.len(), kept.len(), "{}", path.display());
}
