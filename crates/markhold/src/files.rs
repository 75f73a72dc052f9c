//! Text out of files of others: nothing hangs and nothing swells.

use anyhow::{Context, bail};
use markhold_sound::open_file;
use std::io::Read;
use std::path::Path;

/// The longest text that is read whole, bytes: a book has a million signs.
const LONGEST: u64 = 16 << 20;

/// A text in UTF-8, whole.
///
/// Errors: with the name of the file, what the system says, or that it is no text.
pub fn read_text(file: &Path) -> anyhow::Result<String> {
    let name = || file.display().to_string();
    text_of(open_file(file).with_context(name)?).with_context(name)
}

/// A file of others, whole.
///
/// Errors: with the name of the file, what the system says, or that it is too long.
pub fn read_bytes(file: &Path) -> anyhow::Result<Vec<u8>> {
    let name = || file.display().to_string();
    bytes_of(open_file(file).with_context(name)?).with_context(name)
}

fn bytes_of(input: impl Read) -> anyhow::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    input.take(LONGEST + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > LONGEST {
        bail!(
            "more than {} MB of text; give the part that is meant",
            LONGEST >> 20
        );
    }
    Ok(bytes)
}

/// The same of anything that gives bytes.
pub fn text_of(input: impl Read) -> anyhow::Result<String> {
    let bytes = bytes_of(input)?;
    String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        let byte = error.as_bytes()[at];
        anyhow::anyhow!(
            "byte {at} is {byte:02X}, which is no UTF-8; save the text as UTF-8 (sound is for \
             markhold copy)"
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_read_and_what_is_none_is_told() {
        assert_eq!(text_of(&b"harbour"[..]).expect("text"), "harbour");
        let bad = text_of(&b"ab\xffc"[..]).expect_err("no text").to_string();
        assert!(bad.starts_with("byte 2 is FF"), "{bad}");
        let endless = text_of(std::io::repeat(b'x')).expect_err("endless");
        assert!(endless.to_string().contains("more than 16 MB"));
    }
}
