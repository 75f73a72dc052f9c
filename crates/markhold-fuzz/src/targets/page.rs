//! Codes on their way to paper.

use super::{refused, seeds, size, went};
use crate::{Target, Went};
use markhold_code::{Code, Symbol};
use markhold_page::render::{html, pdf, png, svg, text};
use markhold_page::{Copied, Discipline, Ink, Machine, Order, Page, Printer, kinds};

pub const CODES: Target = Target {
    name: "codes",
    try_bytes: codes,
    seeds: || {
        vec![
            vec![0, 31, 4, 10, 21, 8, 2, 27, 5, 31],
            (0..=255).collect(),
            vec![3; 400],
        ]
    },
    words: &["\u{8}\u{2}", "\u{1b}", "\u{1f}", "\u{4}\u{4}\u{4}\u{4}"],
    longest: 2000,
};

/// Any codes with any times, as a machine receives them: a page that holds, in five pictures.
fn codes(bytes: &[u8]) -> Went {
    let Some((first, content)) = bytes.split_first() else {
        return went(0);
    };
    let machine = machine(*first);
    let mut printer = Printer::new(machine);
    let mut at_s = 0.0;
    for byte in content {
        // Three bits say how long after the one before it comes, or that time goes back.
        at_s += [0.165, 0.0, 0.165, 1.0, 0.02, 60.0, -5.0, 1e9][usize::from(byte >> 5)];
        let code = Code::new(byte & 31).expect("five bits");
        let ink = Ink::of(f32::from(*byte) / 255.0, byte & 64 != 0);
        printer.receive_in(code, at_s, ink);
        let carriage = printer.carriage();
        assert!(
            (0.0..=f64::from(machine.columns)).contains(&carriage),
            "{carriage}"
        );
    }
    look_at(printer.page(), machine, *first)
}

pub const COPIED: Target = Target {
    name: "copied",
    try_bytes: copied,
    seeds: || {
        let mut all = seeds(&["\u{0}CQ CQ DE Q1ABC Q1ABC K\r\nRST 599 = QTH HARBOUR?\u{7}\u{7}"]);
        all.push(b"\x03QRM \xc3\xa9 50% \xe2\x82\xac <>{}[] tab\there".to_vec());
        all.push([b"\x05".to_vec(), vec![b'X'; 300]].concat());
        all
    },
    words: &[
        "\r\n", "\u{7}", "\u{5}", " ", "%", "\u{e9}", "599", "'", "\u{202e}", "WWWWWWWW",
    ],
    longest: 2000,
};

/// Any copy through the line discipline: the machine can print every code of it, nothing is
/// struck while the carriage returns, and no line is too long.
fn copied(bytes: &[u8]) -> Went {
    let Some((first, content)) = bytes.split_first() else {
        return went(0);
    };
    let machine = machine(*first);
    let mut discipline = match Discipline::new(machine) {
        Ok(discipline) => discipline,
        Err(error) => return refused(error),
    };
    let (mut orders, mut at_s) = (Vec::new(), 0.0);
    for mut copied in Copied::of_text(&String::from_utf8_lossy(content), 0.0) {
        let value = u32::from(symbol_char(copied.symbol));
        at_s += [0.165, 0.165, 0.165, 30.0][value as usize % 4];
        copied.at_s = at_s;
        // Doubt comes and goes with the text, and runs on where signs are.
        copied.doubtful = value % 7 == 0 || !(32..127).contains(&value);
        copied.probability = if copied.doubtful { 0.3 } else { 0.99 };
        discipline.take(&copied, &mut orders);
        if value % 11 == 0 {
            discipline.pass(at_s + 5.0, &mut orders);
        }
    }
    discipline.finish(&mut orders);
    for ordered in &orders {
        if let Order::Hold(seconds) = ordered.order {
            assert!((0.0..86_400.0).contains(&seconds), "{seconds}");
        }
    }
    let page = markhold_page::print(machine, &orders);
    assert_eq!(page.struck_in_return(), 0);
    look_at(&page, machine, *first)
}

fn symbol_char(symbol: Symbol) -> char {
    match symbol {
        Symbol::Print(c) => c,
        Symbol::Bell => '\u{7}',
        Symbol::LineFeed => '\n',
        _ => ' ',
    }
}

fn machine(byte: u8) -> &'static Machine {
    &kinds()[usize::from(byte) % kinds().len()].machine
}

/// A page that holds, as one of its pictures.
fn look_at(page: &Page, machine: &Machine, which: u8) -> Went {
    let most = usize::from(machine.columns);
    assert!(page.lines.iter().all(|line| line.width() <= most));
    let title = "<title> & \"quotes\"";
    let length = match which / 16 % 8 {
        0 => {
            let html = html::html(page, title);
            assert!(!html.contains(title));
            html.len()
        }
        1 => svg::svg(page, title).len(),
        2 => pdf::pdf(page, title).len(),
        3 => {
            let mut out = Vec::new();
            // A page may be too long for one picture.
            png::png(page, &mut out).map_or(0, |()| out.len())
        }
        _ => text::text(page).len(),
    };
    went((
        which / 16 % 8,
        page.lines.len().min(9),
        size(length),
        page.bells.len().min(3),
    ))
}
