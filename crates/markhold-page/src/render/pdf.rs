//! The page as PDF, in Courier, one of the fourteen fonts that every reader has.
//!
//! The roll is cut into sheets of 60 lines. The text can be searched and copied.

use super::layout::{ENDS, Run, SIDE, runs};
use crate::page::{Line, Page};
use pdf_writer::{Content, Finish, Name, Pdf, Rect, Ref, Str, TextStr};

/// Printed lines of one sheet; with its free ends 66, eleven inches.
const LINES: usize = 60;
/// Size of the type, points: Courier is 600/1000 of it wide, so this gives ten columns to
/// the inch (widths of the standard fonts, PDF reference).
const SIZE: f32 = 12.0;
/// Height of a line, points: six to the inch.
const LINE: f32 = 12.0;
/// Height of the baseline above the bottom of a line, points.
const BASELINE: f32 = 3.0;
const FONT: Name<'static> = Name(b"F1");

/// The page as a PDF document with this title.
pub fn pdf(page: &Page, title: &str) -> Vec<u8> {
    let mut pdf = Pdf::new();
    let [catalog, tree, font, info] = [1, 2, 3, 4].map(Ref::new);
    let sheets: Vec<&[Line]> = page.lines.chunks(LINES).collect();
    let sheet_ref = |k: usize| Ref::new(5 + 2 * k as i32);
    pdf.catalog(catalog).pages(tree);
    pdf.pages(tree)
        .kids((0..sheets.len()).map(sheet_ref))
        .count(sheets.len() as i32);
    pdf.type1_font(font)
        .base_font(Name(b"Courier"))
        .encoding_predefined(Name(b"WinAnsiEncoding"));
    pdf.document_info(info).title(TextStr(title));
    for (k, lines) in sheets.iter().enumerate() {
        let content = Ref::new(6 + 2 * k as i32);
        let mut sheet = pdf.page(sheet_ref(k));
        sheet
            .parent(tree)
            .media_box(sheet_size(page.columns))
            .contents(content);
        sheet.resources().fonts().pair(FONT, font);
        sheet.finish();
        pdf.stream(content, &sheet_content(lines));
    }
    pdf.finish()
}

fn sheet_size(columns: u16) -> Rect {
    let width = across(usize::from(columns) + 2 * SIDE);
    Rect::new(0.0, 0.0, width, (LINES + 2 * ENDS) as f32 * LINE)
}

/// Width of so many columns of 7.2 points, rounded once.
fn across(columns: usize) -> f32 {
    (columns * 72) as f32 / 10.0
}

fn sheet_content(lines: &[Line]) -> Vec<u8> {
    let mut content = Content::new();
    content.begin_text();
    content.set_font(FONT, SIZE);
    for (row, line) in lines.iter().enumerate() {
        let from_bottom = (LINES + ENDS - 1 - row) as f32;
        runs(line)
            .iter()
            .for_each(|run| show(&mut content, run, from_bottom * LINE + BASELINE));
    }
    content.end_text();
    content.finish().into_vec()
}

fn show(content: &mut Content, run: &Run, y: f32) {
    let x = across(run.column + SIDE);
    content.set_fill_gray(f32::from(100 - run.ink.percent()) / 100.0);
    content.set_text_matrix([1.0, 0.0, 0.0, 1.0, x, y]);
    content.show(Str(&win_ansi(&run.text)));
}

/// Text in WinAnsiEncoding, which agrees with Unicode for all that a five-unit machine
/// prints: ASCII and the pound sign.
fn win_ansi(text: &str) -> Vec<u8> {
    let same = |byte: &u8| matches!(byte, 0x20..=0x7e | 0xa1..);
    let byte = |c: char| u8::try_from(c).ok().filter(same).unwrap_or(b'?');
    text.chars().map(byte).collect()
}
