//! Text as a reader sees it.

/// Any run of line ends is one, no spaces stand before it, none stands at either end of the
/// page. `glyph` tells what an item prints; all line ends print `'\n'`.
pub fn page<T: Copy>(items: impl IntoIterator<Item = T>, glyph: impl Fn(T) -> char) -> Vec<T> {
    let mut page: Vec<T> = Vec::new();
    for item in items {
        let ends = glyph(item) == '\n';
        while ends && page.last().is_some_and(|p| glyph(*p) == ' ') {
            page.pop();
        }
        let at_margin = page.last().is_none_or(|p| glyph(*p) == '\n');
        if !(ends && at_margin) {
            page.push(item);
        }
    }
    while page.last().is_some_and(|p| matches!(glyph(*p), '\n' | ' ')) {
        page.pop();
    }
    page
}
