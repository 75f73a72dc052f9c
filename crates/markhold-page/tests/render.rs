//! The same page in all five forms, read back by other means where there are any.
#![allow(missing_docs, reason = "tests")]

use markhold_code::{Code, EncodeOptions, encode};
use markhold_page::{Ink, Machine, Page, Printer, render};

/// Overprints, doubtful characters, signs that mean something in HTML, the pound sign.
fn page() -> Page {
    let machine = Machine {
        figures: markhold_page::Figures::Ita2,
        ..Machine::default()
    };
    let mut printer = Printer::new(&machine);
    let unknown = EncodeOptions {
        begin: None,
        ..EncodeOptions::default()
    };
    let mut at_s = 0.0;
    for (k, c) in "GOOD EVENING & 5£\nOVER\rXX\n\nA\rB\rC\rD"
        .chars()
        .enumerate()
    {
        let codes = match c {
            '\n' => vec![Code::CARRIAGE_RETURN, Code::LINE_FEED],
            c => encode(&c.to_string(), machine.figures, unknown).unwrap(),
        };
        let ink = if (5..9).contains(&k) {
            Ink::Faint
        } else {
            Ink::Sure
        };
        for code in codes {
            printer.receive_in(code, at_s, ink);
        }
        at_s += 1.0;
    }
    printer.tear_off()
}

#[test]
fn text_keeps_overprints_after_a_carriage_return() {
    assert_eq!(
        render::text::text(&page()),
        "GOOD EVENING & 5£\nOVER\rXX\n\nA\rB\rC\rD\n"
    );
}

#[test]
fn html_shows_every_strike() {
    let html = render::html::html(&page(), "a <page>");
    assert!(html.contains("<title>a &lt;page&gt;</title>"));
    assert!(html.contains(
        "<div>GOOD <span class=\"faint\" title=\"doubtful\">EVEN</span>ING &amp; 5£</div\n>"
    ));
    let over = "<span class=\"over\" aria-hidden=\"true\">";
    assert!(
        html.contains(&format!("<div>OVER{over}XX</span></div\n><div></div\n>")),
        "{html}"
    );
    let four = format!("<div>A{over}B</span>{over}C</span>{over}D</span></div\n>");
    // What stands between two lines would be a line itself.
    let sheet = html
        .split("<pre>\n")
        .nth(1)
        .and_then(|rest| rest.split("</pre>").next());
    assert!(sheet.is_some_and(|sheet| !sheet.contains(">\n")), "{html}");
    assert!(html.contains(&four), "{html}");
}

#[test]
fn svg_shows_every_strike() {
    let svg = render::svg::svg(&page(), "page");
    let struck: usize = page().lines.iter().map(|line| line.struck.len()).sum();
    assert_eq!(svg.matches("<use ").count(), struck);
    assert_eq!(svg.matches("opacity=\".32\"").count(), 4);
    assert!(svg.contains("<desc>GOOD EVENING &amp; 5£\nOVER\nXX\n"));
}

#[test]
fn pdf_shows_every_strike() {
    let pdf = render::pdf::pdf(&page(), "page");
    assert!(pdf.starts_with(b"%PDF-1."));
    let text: String = pdf.iter().map(|&byte| char::from(byte)).collect();
    for shown in ["(GOOD ) Tj", "(EVEN) Tj", "(OVER) Tj", "(XX) Tj", "(D) Tj"] {
        assert!(text.contains(shown), "{shown}");
    }
    assert!(text.contains("0.68 g") && text.contains("/BaseFont /Courier"));
    // 82 columns of 7.2 points, 66 lines of 12.
    assert!(text.contains("/MediaBox [0 0 590.4 792]"), "{text}");
}

#[test]
fn a_long_roll_is_cut_into_sheets() {
    let mut long = Page::new(72);
    long.lines.resize(121, markhold_page::Line::default());
    let pdf = render::pdf::pdf(&long, "roll");
    let text = String::from_utf8_lossy(&pdf);
    assert!(text.contains("/Count 3"));
}

/// Read back with the png crate's decoder: the size, and that each cell that was struck,
/// and no other, holds ink.
#[test]
fn png_holds_ink_where_it_was_struck() {
    let page = page();
    let mut bytes = Vec::new();
    render::png::png(&page, &mut bytes).unwrap();
    let mut reader = png::Decoder::new(std::io::Cursor::new(bytes))
        .read_info()
        .unwrap();
    let mut dots = vec![0; reader.output_buffer_size().unwrap()];
    let info = reader.next_frame(&mut dots).unwrap();
    let (width, height) = (info.width as usize, info.height as usize);
    assert_eq!((width, height), (82 * 12, (page.lines.len() + 6) * 20));
    let darkest = |column: usize, line: usize| {
        let rows = (line + 3) * 20..(line + 4) * 20;
        let dots = &dots;
        rows.flat_map(|y| (0..12).map(move |x| dots[y * width + (column + 5) * 12 + x]))
            .min()
    };
    for (row, line) in page.lines.iter().enumerate() {
        for column in 0..72 {
            let darkest = darkest(column, row).unwrap();
            match line.cell(column as u16).next() {
                None => assert_eq!(darkest, 250, "{row} {column}"),
                Some(strike) if strike.ink == Ink::Sure => assert!(darkest < 60, "{darkest}"),
                Some(_) => assert!((140..200).contains(&darkest), "{darkest}"),
            }
        }
    }
}

#[test]
fn the_same_page_gives_the_same_bytes() {
    let all = || {
        let page = page();
        let mut png = Vec::new();
        render::png::png(&page, &mut png).unwrap();
        let svg = render::svg::svg(&page, "t").into_bytes();
        [
            png,
            svg,
            render::pdf::pdf(&page, "t"),
            render::html::html(&page, "t").into_bytes(),
        ]
    };
    assert_eq!(all(), all());
}
