//! Jobs side by side, results in the order of the jobs.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc;

/// Does every job once, on so many threads.
pub fn each<J: Sync, R: Send>(jobs: &[J], threads: usize, work: impl Fn(&J) -> R + Sync) -> Vec<R> {
    let next = AtomicUsize::new(0);
    let (sender, receiver) = mpsc::channel();
    let mut done: Vec<(usize, R)> = std::thread::scope(|scope| {
        for _ in 0..threads.max(1) {
            let (sender, next, work) = (sender.clone(), &next, &work);
            scope.spawn(move || {
                loop {
                    let index = next.fetch_add(1, Ordering::Relaxed);
                    let Some(job) = jobs.get(index) else { break };
                    // The other end is there until all are done.
                    let _ = sender.send((index, work(job)));
                }
            });
        }
        drop(sender);
        receiver.iter().collect()
    });
    done.sort_by_key(|d| d.0);
    done.into_iter().map(|d| d.1).collect()
}
