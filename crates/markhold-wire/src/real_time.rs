//! What the system gives a thread that must not be late: a place before other programs, and
//! memory that stays where it is.

#[cfg(target_os = "linux")]
use std::time::Duration;
use thread_priority::ThreadPriority;

/// Asks for the highest real-time priority for the thread that calls; whether it was
/// given.
///
/// On Linux that is SCHED_DEADLINE, with 4.5 ms in each 10 ms for the watch of
/// [`SystemClock`](crate::SystemClock) (at most 35 % of an element), else SCHED_FIFO. Newer kernels keep a share of
/// the processor for ordinary programs, which goes before FIFO and not before DEADLINE. In the
/// few minutes in which both were measured on one busy virtual machine, FIFO had the later
/// edges; that is no more than a hint.
pub fn ask_for_real_time() -> bool {
    #[cfg(unix)]
    {
        #[cfg(target_os = "linux")]
        if ask_for_deadline() {
            return true;
        }
        first_in_first_out(ThreadPriority::Max)
    }
    #[cfg(not(unix))]
    {
        ThreadPriority::Max.set_for_current().is_ok()
    }
}

/// Asks for the lowest real-time priority for the thread that calls: it goes before all
/// ordinary programs and after the line's thread. Whether it was given.
pub(crate) fn ask_for_low_real_time() -> bool {
    #[cfg(unix)]
    return first_in_first_out(ThreadPriority::Min);
    #[cfg(not(unix))]
    return false;
}

#[cfg(unix)]
fn first_in_first_out(priority: ThreadPriority) -> bool {
    use thread_priority::{
        RealtimeThreadSchedulePolicy, ThreadSchedulePolicy, set_thread_priority_and_policy,
        thread_native_id,
    };
    let fifo = ThreadSchedulePolicy::Realtime(RealtimeThreadSchedulePolicy::Fifo);
    set_thread_priority_and_policy(thread_native_id(), priority, fifo).is_ok()
}

#[cfg(target_os = "linux")]
fn ask_for_deadline() -> bool {
    use thread_priority::unix::DeadlineFlags;
    use thread_priority::{
        RealtimeThreadSchedulePolicy, ThreadSchedulePolicy, set_thread_priority_and_policy,
    };
    let policy = ThreadSchedulePolicy::Realtime(RealtimeThreadSchedulePolicy::Deadline);
    let priority = ThreadPriority::Deadline {
        runtime: Duration::from_micros(4500),
        deadline: Duration::from_millis(10),
        period: Duration::from_millis(10),
        flags: DeadlineFlags::RESET_ON_FORK,
    };
    // 0 is the thread that calls.
    set_thread_priority_and_policy(0, priority, policy).is_ok()
}

/// Keeps what the program has in memory there: a page that must be fetched from the disk
/// first makes an edge milliseconds late. Without the permission nothing changes.
pub(crate) fn keep_in_memory() {
    #[cfg(target_os = "linux")]
    {
        use rustix::mm::{MlockAllFlags, mlockall};
        let _ = mlockall(MlockAllFlags::CURRENT | MlockAllFlags::ONFAULT);
    }
}
