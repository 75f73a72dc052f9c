//! The device's callback takes no memory: proved, not promised.

use assert_no_alloc::{AllocDisabler, assert_no_alloc, reset_violation_count, violation_count};
use markhold_sound::device::ring;

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

#[test]
fn the_callback_only_moves_samples() {
    let (mut tap, pool) = ring(10_000, 1);
    let stereo = vec![0.25f32; 2048];
    let words = vec![100i16; 2048];
    reset_violation_count();
    // Also when the ring is full and when it has room again.
    assert_no_alloc(|| {
        for _ in 0..20 {
            tap.put(&stereo, 2, |s| s);
            tap.put(&words, 2, |s| f32::from(s) / 32_768.0);
        }
    });
    assert_eq!(pool.waiting(), 10_000);
    assert_eq!(violation_count(), 0);
    // The proof can fail: it finds a vector.
    assert_no_alloc(|| drop(std::hint::black_box(vec![0u8; 100])));
    assert!(violation_count() > 0);
}
