//! Anything typed into a search of the shelf: lines, or that there is no word in it; never
//! an error of the database.
//!
//! `cargo fuzz run -s none fuzz_search -- -max_len=256 -timeout=5`, from the repository
//! root.
#![no_main]

use libfuzzer_sys::fuzz_target;
use markhold_shelf::{Filter, Shelf, ShelfError};
use std::cell::OnceCell;

thread_local! {
    static SHELF: OnceCell<Shelf> = const { OnceCell::new() };
}

fuzz_target!(|typed: &str| {
    SHELF.with(|shelf| {
        let shelf = shelf.get_or_init(|| {
            let folder = format!("markhold-fuzz-{}", std::process::id());
            Shelf::make(&std::env::temp_dir().join(folder)).expect("a shelf")
        });
        match shelf.search(typed, &Filter::default()) {
            Ok(_) | Err(ShelfError::NothingToSearch { .. }) => {}
            Err(error) => panic!("{typed:?}: {error}"),
        }
    });
});
