//! Tells from the first bytes what a source holds.

/// What a source holds, as far as reading it goes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// RIFF, RF64 or BW64 with WAVE inside.
    Wav,
    /// Native FLAC.
    Flac,
    /// Ogg, whatever is inside.
    Ogg,
    /// MP3, with or without a tag before it.
    Mp3,
    /// Something else; holds what it looks like, for the message.
    Other(String),
}

/// First bytes, where they stand, and what they give away. From the formats' public
/// specifications, from memory.
const MARKS: [(usize, &[u8], &str); 16] = [
    (8, b"AVI ", "an AVI film"),
    (0, b"RIFX", "big-endian WAV (RIFX)"),
    (0, b"FORM", "AIFF sound"),
    (0, b"caff", "Core Audio (CAF) sound"),
    (0, b".snd", "AU sound"),
    (4, b"ftyp", "MP4 or M4A"),
    (0, b"wvpk", "WavPack sound"),
    (0, b"MAC ", "Monkey's Audio sound"),
    (0, b"\x1A\x45\xDF\xA3", "Matroska or WebM"),
    (0, b"\x30\x26\xB2\x75", "ASF or WMA"),
    (0, b"\x89PNG", "a PNG picture"),
    (0, b"\xFF\xD8\xFF", "a JPEG picture"),
    (0, b"%PDF", "a PDF document"),
    (0, b"PK\x03\x04", "a ZIP archive"),
    (0, b"\x1F\x8B", "a gzip archive"),
    (0, b"\x7FELF", "a program"),
];

/// Tells the kind from the first bytes (up to 256 of them are of use).
pub(super) fn detect(head: &[u8]) -> Kind {
    let riff = [&b"RIFF"[..], b"RF64", b"BW64"];
    if riff.iter().any(|id| head.starts_with(id)) && at(head, 8, b"WAVE") {
        return Kind::Wav;
    }
    if head.starts_with(b"fLaC") {
        return Kind::Flac;
    }
    if head.starts_with(b"OggS") {
        return Kind::Ogg;
    }
    if head.starts_with(b"ID3") || is_mp3(head) {
        return Kind::Mp3;
    }
    Kind::Other(describe(head))
}

/// A frame of MPEG audio begins with eleven set bits; this is one of layer III whose rate and bit
/// rate are none of the reserved ones (ISO 11172-3, 2.4.2.3).
fn is_mp3(head: &[u8]) -> bool {
    let [0xFF, second, third, ..] = *head else {
        return false;
    };
    let (version, layer) = (second >> 3 & 0b11, second >> 1 & 0b11);
    let (bit_rate, rate) = (third >> 4, third >> 2 & 0b11);
    second & 0xE0 == 0xE0
        && version != 0b01
        && layer == 0b01
        && !matches!(bit_rate, 0 | 0b1111)
        && rate != 0b11
}

fn at(head: &[u8], offset: usize, mark: &[u8]) -> bool {
    head.get(offset..)
        .is_some_and(|rest| rest.starts_with(mark))
}

fn describe(head: &[u8]) -> String {
    if let Some((_, _, what)) = MARKS.iter().find(|(o, mark, _)| at(head, *o, mark)) {
        return (*what).to_string();
    }
    // Eleven set bits begin every MPEG audio frame.
    if head.len() > 1 && head[0] == 0xFF && head[1] & 0xE0 == 0xE0 {
        return "MPEG sound".to_string();
    }
    if is_text(head) {
        return format!("text, beginning \"{}\"", first_words(head));
    }
    let bytes: Vec<String> = head.iter().take(8).map(|b| format!("{b:02X}")).collect();
    format!("unknown data, beginning with the bytes {}", bytes.join(" "))
}

fn is_text(head: &[u8]) -> bool {
    let text = match std::str::from_utf8(head) {
        Ok(text) => text,
        // The look ahead may end inside a character.
        Err(e) if e.valid_up_to() + 4 > head.len() => {
            std::str::from_utf8(&head[..e.valid_up_to()]).unwrap_or("")
        }
        Err(_) => return false,
    };
    !text.is_empty()
        && text
            .chars()
            .all(|c| !c.is_control() || c.is_ascii_whitespace())
}

fn first_words(head: &[u8]) -> String {
    let text = String::from_utf8_lossy(head);
    let line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    line.chars().take(24).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_beginnings() {
        assert_eq!(detect(b"RIFF\x24\0\0\0WAVEfmt "), Kind::Wav);
        assert_eq!(detect(b"RF64\xFF\xFF\xFF\xFFWAVEds64"), Kind::Wav);
        assert_eq!(detect(b"fLaC\0\0\0\x22"), Kind::Flac);
        assert_eq!(detect(b"OggS\0\x02"), Kind::Ogg);
        assert_eq!(detect(b"ID3\x04"), Kind::Mp3);
        assert_eq!(detect(b"\xFF\xFB\x90\x00"), Kind::Mp3);
        assert_eq!(detect(b"\xFF\xF3\x44\xC0"), Kind::Mp3);
    }

    #[test]
    fn others_are_named() {
        let cases: [(&[u8], &str); 5] = [
            // Layer II.
            (b"\xFF\xFD\x90\x00", "MPEG"),
            (b"RIFF\0\0\0\0AVI LIST", "AVI"),
            (b"\x89PNG\r\n", "PNG"),
            (
                b"Dear Q1ABC,\nthe net moves",
                "text, beginning \"Dear Q1ABC, the net move",
            ),
            (b"\x01\x02\xFE", "bytes 01 02 FE"),
        ];
        for (head, expected) in cases {
            match detect(head) {
                Kind::Other(text) => assert!(text.contains(expected), "{text}"),
                kind => panic!("{kind:?}"),
            }
        }
    }

    #[test]
    fn a_character_cut_by_the_look_ahead_is_still_text() {
        assert!(is_text(&"gr\u{fc}n".as_bytes()[..3]));
        assert!(!is_text(b"\xFC\xFC\xFC\xFC\xFC"));
        assert!(!is_text(b""));
    }
}
