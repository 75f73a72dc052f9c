//! Any bytes whatever as the details of a kept line: characters or an error, and what was
//! unpacked makes sense.
//!
//! `cargo fuzz run -s none fuzz_details fuzz/corpus/fuzz_details fuzz/seeds/fuzz_details --
//! -timeout=5`, from the repository root; the seeds are lines of the layouts.
#![no_main]

use libfuzzer_sys::fuzz_target;
use markhold_event::SignalId;
use markhold_shelf::unpack;

fuzz_target!(|bytes: &[u8]| {
    let Ok(entries) = unpack(bytes, SignalId(1)) else {
        return;
    };
    // An entry takes four bytes at least, and one byte says how they are laid out.
    assert!(4 * entries.len() < bytes.len());
    for character in entries.iter().map(|entry| entry.character()) {
        let sum: f32 = character.codes.map_or(1.0, |codes| codes.shares().iter().sum());
        assert!((sum - 1.0).abs() < 1e-4, "{character:?}");
        let others = character.alternatives.map(|other| other.probability);
        let witnesses = character.witnesses.map(|both| {
            let each = [both.signal.probability, both.both.probability];
            [each[0], each[1], both.from_signal, both.prose]
        });
        let own = [character.probability, character.present, others[0], others[1]];
        for probability in own.into_iter().chain(witnesses.into_iter().flatten()) {
            assert!((0.0..=1.0).contains(&probability), "{character:?}");
        }
        assert!(character.start_s.is_finite(), "{character:?}");
    }
});
