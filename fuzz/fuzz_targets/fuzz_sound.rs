//! Any bytes whatever, read as a sound file: no panic, no endless reading, no swelling.
//!
//! `cargo fuzz run -s none fuzz_sound -- -rss_limit_mb=512 -timeout=10`, from the
//! repository root; the fixtures of markhold-sound are good seeds.
#![no_main]

use libfuzzer_sys::fuzz_target;
use markhold_sound::{ReadOptions, SoundReader};
use std::io::Cursor;

fuzz_target!(|bytes: &[u8]| {
    // The first byte picks the channel, so that a fuzzer reaches all of them.
    let Some((channel, content)) = bytes.split_first() else {
        return;
    };
    let options = ReadOptions {
        channel: Some(u16::from(channel % 3) + 1),
        raw: None,
    };
    let Ok(mut reader) = SoundReader::from_read(Cursor::new(content.to_vec()), &options) else {
        return;
    };
    let mut block = vec![0.0; 4096];
    while let Ok(1..) = reader.read(&mut block) {
        assert!(reader.position() < 200_000_000);
    }
    let _ = (reader.notices(), reader.describe());
});
