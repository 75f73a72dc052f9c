//! What is sent, and the habits of the machine.

use super::Make;
use crate::evenings::alphabet::Row;
use crate::evenings::text::Matter;

pub const KINDS: [(&str, Make); 13] = [
    ("figures, shift not repeated", |e, _| {
        e.sender.matter = Matter::Figures;
        e.sender.repeat_shift = false;
    }),
    ("figures, shift repeated", |e, _| {
        e.sender.matter = Matter::Figures;
        e.sender.repeat_shift = true;
    }),
    ("figures, space returns to letters", |e, d| {
        e.sender.matter = Matter::Figures;
        e.sender.row = d.pick(&[Row::Ita2, Row::American]);
        e.sender.unshift = true;
    }),
    ("weather, space returns to letters", |e, _| {
        e.sender.matter = Matter::Weather;
        e.sender.unshift = true;
    }),
    ("weather groups", |e, _| e.sender.matter = Matter::Weather),
    ("American figures row", |e, _| {
        e.sender.matter = Matter::Signs;
        e.sender.row = Row::American;
    }),
    ("calls", |e, _| e.sender.matter = Matter::Calls),
    ("letters at random", |e, _| {
        e.sender.matter = Matter::Letters;
    }),
    ("rows of letters", |e, _| e.sender.matter = Matter::Rows),
    ("German", |e, _| e.sender.matter = Matter::German),
    ("Spanish", |e, _| e.sender.matter = Matter::Spanish),
    ("Polish", |e, _| e.sender.matter = Matter::Polish),
    ("other line ends", |e, d| {
        e.sender.line_end = d.pick(&["\r\r\n", "\n\r", " ", "\n", "\r\n\n"]);
    }),
];
