//! Prints a text on every ready-made machine, as all five kinds of page:
//! `cargo run -p markhold-page --example printed -- TEXT-FILE FOLDER`
#![allow(missing_docs, reason = "an example")]

use markhold_page::{Copied, discipline, kinds, print, render};
use std::path::Path;
use std::{env, fs};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let words: Vec<String> = env::args().skip(1).collect();
    let [text, folder] = words.as_slice() else {
        return Err("expected a text file and a folder".into());
    };
    let text = fs::read_to_string(text)?;
    for kind in kinds() {
        let orders = discipline(&kind.machine, Copied::of_text(&text, 0.0))?;
        let page = print(&kind.machine, &orders);
        let path = |end: &str| Path::new(folder).join(format!("{}.{end}", kind.name));
        fs::write(path("txt"), render::text::text(&page))?;
        fs::write(path("html"), render::html::html(&page, kind.name))?;
        fs::write(path("svg"), render::svg::svg(&page, kind.name))?;
        fs::write(path("pdf"), render::pdf::pdf(&page, kind.name))?;
        render::png::png(&page, fs::File::create(path("png"))?)?;
    }
    Ok(())
}
