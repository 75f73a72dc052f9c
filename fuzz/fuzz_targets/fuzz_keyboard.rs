//! The target `keyboard` of markhold-fuzz, which says what it tries, under a fuzzer that looks into the code.
//!
//! `cargo run -p markhold-fuzz -- seeds fuzz/seeds`, then `cargo fuzz run -s none fuzz_keyboard
//! fuzz/corpus/fuzz_keyboard fuzz/seeds/fuzz_keyboard -- -timeout=10`, from the repository root.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let target = markhold_fuzz::targets::named("keyboard").expect("it is listed");
    (target.try_bytes)(bytes);
});
