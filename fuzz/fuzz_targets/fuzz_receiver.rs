//! The target `receiver` of markhold-fuzz, which says what it tries, under a fuzzer that looks into the code.
//!
//! `cargo run -p markhold-fuzz -- seeds fuzz/seeds`, then `cargo fuzz run -s none fuzz_receiver
//! fuzz/corpus/fuzz_receiver fuzz/seeds/fuzz_receiver -- -max_len=65536 -timeout=60`, from the repository root.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let target = markhold_fuzz::targets::named("receiver").expect("it is listed");
    (target.try_bytes)(bytes);
});
