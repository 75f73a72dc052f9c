//! Leaves a case behind for a closer look.

use crate::evenings::evening::{Evening, Recording};
use crate::glyphs::Printed;
use std::fs;
use std::io;
use std::path::Path;

/// Writes NAME.wav, NAME.txt (sent), NAME.floor.txt, NAME.markhold.txt (doubtful runs in
/// brackets) and NAME.evening (everything drawn).
pub fn write(
    folder: &Path,
    name: &str,
    evening: &Evening,
    recording: &Recording,
    by_floor: &str,
    by_markhold: &[Printed],
) {
    let put = |end: &str, bytes: &[u8]| -> io::Result<()> {
        fs::create_dir_all(folder)?;
        fs::write(folder.join(format!("{name}.{end}")), bytes)
    };
    let done = put("wav", &wav(recording))
        .and_then(|()| put("txt", recording.glyphs.as_bytes()))
        .and_then(|()| put("floor.txt", by_floor.as_bytes()))
        .and_then(|()| put("markhold.txt", marked(by_markhold).as_bytes()))
        .and_then(|()| put("evening", format!("{evening:#?}\n").as_bytes()));
    if let Err(error) = done {
        eprintln!("{}: {error}", folder.display());
    }
}

fn marked(page: &[Printed]) -> String {
    let mut text = String::new();
    let mut sure = true;
    for printed in page {
        if printed.sure != sure {
            text.push(if printed.sure { ']' } else { '[' });
            sure = printed.sure;
        }
        text.push(printed.glyph);
    }
    text + if sure { "\n" } else { "]\n" }
}

/// One channel of 32 bit float: format tag 3 of the RIFF WAVE format (IBM and Microsoft, 1991, and its
/// registry of format tags).
fn wav(recording: &Recording) -> Vec<u8> {
    let (rate, length) = (recording.rate as u32, 4 * recording.sound.len() as u32);
    let mut bytes = b"RIFF".to_vec();
    bytes.extend((36 + length).to_le_bytes());
    bytes.extend(b"WAVEfmt ");
    bytes.extend(16_u32.to_le_bytes());
    bytes.extend([3, 0, 1, 0]);
    bytes.extend(rate.to_le_bytes());
    bytes.extend((4 * rate).to_le_bytes());
    bytes.extend([4, 0, 32, 0]);
    bytes.extend(b"data");
    bytes.extend(length.to_le_bytes());
    bytes.extend(recording.sound.iter().flat_map(|s| s.to_le_bytes()));
    bytes
}
