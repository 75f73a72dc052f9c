//! Any bytes whatever as the details of a kept line: characters or an error, and what was
//! unpacked makes sense.
//!
//! `cargo fuzz run -s none fuzz_details -- -timeout=5`, from the repository root.
#![no_main]

use libfuzzer_sys::fuzz_target;
use markhold_receive::event::SignalId;
use markhold_station::shelf::unpack;

fuzz_target!(|bytes: &[u8]| {
    let Ok(characters) = unpack(bytes, SignalId(1)) else {
        return;
    };
    // A character takes four bytes at least, and one byte says how they are laid out.
    assert!(4 * characters.len() < bytes.len());
    for character in &characters {
        let others = character.alternatives.map(|other| other.probability);
        for probability in [character.probability, others[0], others[1]] {
            assert!((0.0..=1.0).contains(&probability), "{character:?}");
        }
        assert!(character.start_s.is_finite(), "{character:?}");
    }
});
