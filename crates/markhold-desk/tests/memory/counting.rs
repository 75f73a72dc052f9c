//! Counts the bytes that this thread's objects hold.
#![allow(
    unsafe_code,
    reason = "an allocator is unsafe by its trait; this one hands everything on to the system's"
)]

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

thread_local! {
    static HELD: Cell<usize> = const { Cell::new(0) };
}

/// The system's allocator, with a count for each thread: tests beside each other do not mix.
pub struct Counting(());

pub const COUNTING: Counting = Counting(());

impl Counting {
    /// Bytes taken on this thread and not given back, from any value on: what another thread took may
    /// have been given back on this one.
    pub fn held(&self) -> usize {
        HELD.get()
    }

    /// How many more are held than then.
    pub fn since(&self, then: usize) -> usize {
        self.held().wrapping_sub(then)
    }
}

fn count(taken: usize, given: usize) {
    // A thread that ends has nothing left to count for.
    let _ = HELD.try_with(|held| held.set(held.get().wrapping_add(taken).wrapping_sub(given)));
}

// SAFETY: every call is handed on unchanged to the system's allocator, which keeps the contract;
// counting takes no memory.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        count(layout.size(), 0);
        // SAFETY: as the caller promises.
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, place: *mut u8, layout: Layout) {
        count(0, layout.size());
        // SAFETY: as the caller promises.
        unsafe { System.dealloc(place, layout) }
    }

    unsafe fn realloc(&self, place: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        count(size, layout.size());
        // SAFETY: as the caller promises.
        unsafe { System.realloc(place, layout, size) }
    }
}
