//! The page as a file, of the kind that its name says.

use anyhow::{Context, bail};
use markhold_page::{Page, render};
use markhold_sound::create_file;
use std::io::{BufWriter, Write};
use std::path::Path;

/// Kinds of file a page can be.
const KINDS: [&str; 5] = ["txt", "html", "svg", "pdf", "png"];

/// Whether a page can be written under this name.
pub fn check(path: &Path) -> anyhow::Result<()> {
    match kind(path) {
        Some(_) => Ok(()),
        None => bail!(
            "{}: a page is .txt, .html, .svg, .pdf or .png; give the file such a name",
            path.display()
        ),
    }
}

/// Writes the page under this name, titled by it.
pub fn write(page: &Page, path: &Path) -> anyhow::Result<()> {
    let title = path.file_stem().unwrap_or_default().to_string_lossy();
    let name = || path.display().to_string();
    let mut file = BufWriter::new(create_file(path).with_context(name)?);
    match kind(path) {
        Some("html") => file.write_all(render::html::html(page, &title).as_bytes()),
        Some("svg") => file.write_all(render::svg::svg(page, &title).as_bytes()),
        Some("pdf") => file.write_all(&render::pdf::pdf(page, &title)),
        Some("png") => render::png::png(page, &mut file).map_err(Into::into),
        _ => file.write_all(render::text::text(page).as_bytes()),
    }
    .and_then(|()| file.flush())
    .with_context(name)
}

fn kind(path: &Path) -> Option<&'static str> {
    let ending = path.extension()?.to_str()?.to_ascii_lowercase();
    KINDS.into_iter().find(|kind| *kind == ending)
}
