//! Any bytes whatever as the details of a kept line: characters or an error, and what was
//! unpacked makes sense.
//!
//! `cargo fuzz run -s none fuzz_details fuzz/corpus/fuzz_details fuzz/seeds/fuzz_details --
//! -timeout=5`, from the repository root; the seeds are lines of both layouts.
#![no_main]

use libfuzzer_sys::fuzz_target;
use markhold_receive::event::SignalId;
use markhold_shelf::unpack;

fuzz_target!(|bytes: &[u8]| {
    let Ok(characters) = unpack(bytes, SignalId(1)) else {
        return;
    };
    // A character takes four bytes at least, and one byte says how they are laid out.
    assert!(4 * characters.len() < bytes.len());
    for character in &characters {
        let others = character.alternatives.map(|other| other.probability);
        let witnesses = character.witnesses.map(|both| {
            let each = [both.signal.probability, both.both.probability];
            [each[0], each[1], both.from_signal, both.prose]
        });
        let own = [character.probability, others[0], others[1]];
        for probability in own.into_iter().chain(witnesses.into_iter().flatten()) {
            assert!((0.0..=1.0).contains(&probability), "{character:?}");
        }
        assert!(character.start_s.is_finite(), "{character:?}");
    }
});
