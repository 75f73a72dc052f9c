//! The way to the copying thread: sound waits there, events come back.

use super::copyist::Copyist;
use super::job::{Job, Progress};
use crate::board::Board;
use crate::settings::InUse;
use markhold_event::Event;
use markhold_language::Learned;
use std::sync::Arc;
use std::sync::atomic::Ordering::Release;
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, channel, sync_channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Blocks that may wait: twenty seconds of sound, for the moments in which a find is copied
/// from its beginning.
const WAITING: usize = 1000;
/// How long the end of a copy is waited for when another source begins.
const FLUSH: Duration = Duration::from_secs(3);

/// The sound thread's end of the queue.
pub(super) struct CopyQueue {
    jobs: Option<SyncSender<Job>>,
    events: Receiver<Event>,
    progress: Arc<Progress>,
    /// Samples left out since the queue was full.
    left_out: u64,
}

/// Starts the copying thread.
pub(super) fn start(
    board: Board,
    in_use: InUse,
    learned: Option<Arc<Learned>>,
) -> (CopyQueue, JoinHandle<()>) {
    let (jobs, taken) = sync_channel(WAITING);
    let (tell, events) = channel();
    let progress = Arc::new(Progress::default());
    let told = progress.clone();
    let thread = std::thread::Builder::new()
        .name("copying".into())
        .spawn(move || Copyist::new(board, tell, in_use, learned).run(&taken, &told))
        .expect("the system gives a thread");
    let copying = CopyQueue {
        jobs: Some(jobs),
        events,
        progress,
        left_out: 0,
    };
    (copying, thread)
}

impl CopyQueue {
    /// A queue with so many places that nobody works through.
    #[cfg(test)]
    pub(super) fn stuck(places: usize) -> (Self, Receiver<Job>) {
        let (jobs, taken) = sync_channel(places);
        let (_, events) = channel();
        let queue = CopyQueue {
            jobs: Some(jobs),
            events,
            progress: Arc::default(),
            left_out: 0,
        };
        (queue, taken)
    }

    /// Hands a job over, waiting for a place if `wait`; whether it was taken.
    pub(super) fn send(&mut self, job: Job, wait: bool) -> bool {
        let Some(jobs) = &self.jobs else {
            return false;
        };
        if wait {
            return jobs.send(job).is_ok();
        }
        jobs.try_send(job).is_ok()
    }

    /// Hands sound over. Live sound does not wait: where there is no place it is left out
    /// of the copy. Returns how many samples were left out, once there is a place again.
    pub(super) fn sound(&mut self, block: &[f32], wait: bool) -> Option<u64> {
        let before = self.left_out;
        if before > 0 && self.send(Job::Lost { samples: before }, wait) {
            self.left_out = 0;
        }
        if self.left_out > 0 || !self.send(Job::Sound(block.to_vec()), wait) {
            self.left_out += block.len() as u64;
        }
        (before > 0 && self.left_out < before).then_some(before)
    }

    /// The next event that the keeper has not seen.
    pub(super) fn event(&mut self) -> Option<Event> {
        self.events.try_recv().ok()
    }

    /// Waits until what was handed over is copied to its end, but not for longer than a
    /// ring of a device lasts.
    pub(super) fn flush(&mut self) {
        let (answer, answered) = channel();
        if self.send(Job::Finish(answer), true) {
            // Without an answer the rest of the copy comes late.
            let _ = answered.recv_timeout(FLUSH);
        }
    }

    /// Whether sound is being left out of the copy.
    pub(super) fn is_behind(&self) -> bool {
        self.left_out > 0
    }

    /// Until where the sound was copied, live time, s. Events of it that [`Copying::event`] did
    /// not give yet are there when this is asked before.
    pub(super) fn copied_s(&self) -> f64 {
        self.progress.whole_s()
    }

    /// Everything is handed over; waits until it is copied, but no longer than `patience`. What
    /// is not copied by then is left. Whether all was copied.
    pub(super) fn finish(&mut self, patience: Duration) -> bool {
        self.jobs = None;
        let until = Instant::now() + patience;
        let mut rest = Vec::new();
        let whole = loop {
            match self.events.recv_timeout(until - Instant::now().min(until)) {
                Ok(event) => rest.push(event),
                // The thread drops its sender when it is done.
                Err(error) => break error == RecvTimeoutError::Disconnected,
            }
        };
        self.progress.stop.store(true, Release);
        let (tell, events) = channel();
        // What came between the last look and the stop.
        for event in rest.into_iter().chain(self.events.try_iter()) {
            // The receiver is right here.
            let _ = tell.send(event);
        }
        self.events = events;
        whole
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::InputReport;
    use markhold_air::{Air, Noise, Scene, Sender as OnAir};
    use markhold_code::FiguresRow;

    const RATE: u32 = 8000;

    fn sound(text: &str) -> Vec<f32> {
        let scene = Scene {
            senders: vec![OnAir::of_text(text, FiguresRow::Ita2).expect("can be sent")],
            noise: Noise::EsN0Db(20.0),
            silence_after_s: 1.0,
            ..Scene::default()
        };
        Air::new(scene, RATE).expect("a scene").render()
    }

    /// Faults in a receiver end neither the copying nor the evening; the copy counts as whole no
    /// further than the first of them.
    #[test]
    fn a_fault_of_the_program_costs_some_copy_and_is_told() {
        let board = Board::default();
        let (mut queue, thread) = start(board.clone(), InUse::default(), None);
        assert!(queue.send(
            Job::Begin {
                rate: RATE,
                at_s: 0.0
            },
            true
        ));
        let hear = |queue: &mut CopyQueue, text: &str| {
            let sound = sound(text);
            for block in sound.chunks(160) {
                queue.sound(block, true);
            }
            sound.len() as f64 / f64::from(RATE)
        };
        let first_s = hear(
            &mut queue,
            &"NW NW NW THE FIRST OF TWO MESSAGES OF THE MARSH CLUB ".repeat(3),
        );
        queue.send(Job::Fault, true);
        queue.send(Job::Fault, true);
        hear(
            &mut queue,
            "NW NW NW THE ROPEWALK OPENS AT NINE IN THE MORNING",
        );
        let (answer, answered) = channel();
        queue.send(Job::Finish(answer), true);
        answered
            .recv_timeout(Duration::from_secs(120))
            .expect("copied");
        let whole_s = queue.copied_s();
        assert!(whole_s <= first_s - 15.9, "{whole_s} of {first_s}");
        let (text, told) = board.look(|sum| {
            let text: String = sum.sheet.iter().filter_map(|c| c.symbol.text()).collect();
            (text, sum.inputs.clone())
        });
        assert!(text.contains("ROPEWALK OPENS"), "{text:?}");
        let faults = told
            .iter()
            .filter(|told| matches!(told, InputReport::Kept { .. }));
        assert_eq!(faults.count(), 1, "{told:?}");
        assert!(queue.finish(Duration::from_secs(60)));
        thread.join().expect("it ended well");
    }
}
