//! Edges at their times: the bit clock of a line that is keyed by software.
//!
//! Every edge has its instant in the line's own time, counted from the start edge of the
//! character and, in an unbroken run of characters, from that of the first. A late edge
//! therefore moves no other edge, and errors do not add up.

use super::timing::Timing;
use super::{Keyer, KeyerError};
use markhold_code::{Code, StartStop, Stretch};
use std::time::{Duration, Instant};

/// An edge later than this part of an element breaks the character off: a receiver need
/// not take more than 35 % in all (ITU-T S.3, from memory), and other causes need their
/// share.
pub const BREAK_OFF: f64 = 0.2;

/// What switches the line and, where there is a wire for it, the motor.
pub trait Contact: Send {
    /// Puts the line to mark or to space.
    fn key(&mut self, mark: bool) -> Result<(), KeyerError>;
    /// Switches the motor; does nothing where there is no wire for it.
    fn motor(&mut self, on: bool) -> Result<(), KeyerError>;
}

/// Time as the line has it, s from an origin of its own.
pub trait Clock: Send {
    /// Now.
    fn now_s(&self) -> f64;
    /// Waits until then and not much longer; returns at once if it is past.
    fn wait_until(&mut self, at_s: f64);
}

/// The computer's monotonic clock.
///
/// The last part of a wait is spent looking at the clock, for the scheduler wakes nobody to
/// the microsecond, and on a busy computer now and then milliseconds late. How late it wakes
/// is learned on the way: at first the longest watch is kept, on a computer at ease 0.25 ms
/// after some minutes.
pub struct SystemClock {
    // Configured.
    origin: Instant,
    /// Longest watch.
    most: Duration,
    // State.
    /// About how late waking was at worst in the last minutes.
    late: Duration,
}

/// Least that is watched, on top of the lateness learned: half of all wakes were 0.03 to
/// 0.07 ms late where that was measured, nearly all within 0.1 ms.
const LEAST_WATCH: Duration = Duration::from_micros(200);
/// Most that is watched: on a busy virtual machine of two processors about one wake in a
/// thousand was 1 to 6 ms late, and few later than 4 ms (docs/paper.md).
const MOST_WATCH: Duration = Duration::from_millis(4);
/// Most that is watched of an element, so that most of the processor is left to others.
const WATCH_OF_ELEMENT: f64 = 0.35;
/// What is forgotten of the lateness with every wait: half of it in some 3500 waits, two
/// minutes at 45 baud.
const FORGET: f64 = 1.0 / 5000.0;

impl SystemClock {
    /// A clock for elements of this length, s.
    pub fn new(element_s: f64) -> Self {
        let part = Duration::try_from_secs_f64(WATCH_OF_ELEMENT * element_s);
        let most = part.map_or(MOST_WATCH, |part| part.min(MOST_WATCH));
        SystemClock {
            origin: Instant::now(),
            most,
            // The first late wake should find the clock watched already.
            late: most,
        }
    }

    fn watch(&self) -> Duration {
        (LEAST_WATCH + self.late).min(self.most.max(LEAST_WATCH))
    }

    /// Waking was so late.
    fn learn(&mut self, late: Duration) {
        self.late = late.max(self.late.mul_f64(1.0 - FORGET));
    }
}

impl Clock for SystemClock {
    fn now_s(&self) -> f64 {
        self.origin.elapsed().as_secs_f64()
    }

    fn wait_until(&mut self, at_s: f64) {
        let until = self.origin + Duration::from_secs_f64(at_s.max(0.0));
        let wake = until.checked_sub(self.watch()).unwrap_or(until);
        let left = wake.saturating_duration_since(Instant::now());
        if !left.is_zero() {
            std::thread::sleep(left);
            self.learn(Instant::now().saturating_duration_since(wake));
        }
        while Instant::now() < until {
            std::hint::spin_loop();
        }
    }
}

/// Keys a contact by a clock. Its own thread is what calls it: see
/// [`TimedKeyer`](super::TimedKeyer).
pub struct LineClock<K, C> {
    // Configured.
    speed: StartStop,
    contact: K,
    clock: C,
    // State.
    /// How the contact stands.
    mark: bool,
    /// When the line is free again, s.
    free_s: f64,
    timing: Timing,
}

impl<K: Contact, C: Clock> LineClock<K, C> {
    /// Puts the line to mark.
    pub fn new(speed: StartStop, mut contact: K, clock: C) -> Result<Self, KeyerError> {
        contact.key(true)?;
        Ok(LineClock {
            free_s: clock.now_s(),
            speed,
            contact,
            clock,
            mark: true,
            timing: Timing::default(),
        })
    }

    /// Adds how late edges were since this was last asked. The start edge of a character
    /// that nothing preceded is late only by the time it takes to switch.
    pub fn move_timing(&mut self, to: &mut Timing) {
        to.add(&self.timing);
        self.timing.clear();
    }

    /// Waits for an edge's time and sets it; how late it was, s.
    fn edge(&mut self, at_s: f64, mark: bool) -> Result<f64, KeyerError> {
        self.clock.wait_until(at_s);
        self.contact.key(mark)?;
        self.mark = mark;
        // Looked at after the contact was set: what counts is when the line changed.
        let late_s = self.clock.now_s() - at_s;
        self.timing.count(late_s);
        Ok(late_s)
    }

    /// Leaves the machine the time to end its cycle at rest.
    fn break_off(&mut self, late_s: f64) -> KeyerError {
        let _ = self.contact.key(true);
        self.mark = true;
        self.free_s = self.clock.now_s() + self.speed.character_s();
        KeyerError::TooLate {
            late_ms: late_s * 1e3,
            limit_ms: BREAK_OFF * self.speed.element_s() * 1e3,
        }
    }
}

impl<K: Contact, C: Clock> Keyer for LineClock<K, C> {
    fn send(&mut self, code: Code) -> Result<(), KeyerError> {
        self.line(&self.speed.stretches(code))
    }

    fn line(&mut self, stretches: &[Stretch]) -> Result<(), KeyerError> {
        let mut at_s = self.free_s.max(self.clock.now_s());
        let mut last_s = at_s;
        for stretch in stretches {
            if stretch.mark != self.mark {
                let late_s = self.edge(at_s, stretch.mark)?;
                if late_s > BREAK_OFF * self.speed.element_s() {
                    return Err(self.break_off(late_s));
                }
            }
            last_s = at_s;
            at_s += stretch.length_s;
        }
        self.free_s = at_s;
        // The last edge may be long past: letters shift has none after the start element.
        self.clock.wait_until(last_s);
        Ok(())
    }

    fn hold(&mut self, seconds: f64) -> Result<(), KeyerError> {
        let seconds = super::keyer::duration(seconds)?.as_secs_f64();
        self.free_s = self.free_s.max(self.clock.now_s()) + seconds;
        self.finish()
    }

    fn motor(&mut self, on: bool) -> Result<(), KeyerError> {
        self.contact.motor(on)
    }

    fn finish(&mut self) -> Result<(), KeyerError> {
        self.clock.wait_until(self.free_s);
        self.cancel()
    }

    fn cancel(&mut self) -> Result<(), KeyerError> {
        self.mark = true;
        self.contact.key(true)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::{Arc, Mutex};

    const SPEED: StartStop = StartStop::new(50.0, 1.5);

    /// A clock that only waiting moves; every wait ends `late_s[n]` late.
    #[derive(Clone, Default)]
    struct Fake(Arc<Mutex<(f64, Vec<f64>)>>);

    impl Clock for Fake {
        fn now_s(&self) -> f64 {
            self.0.lock().unwrap().0
        }

        fn wait_until(&mut self, at_s: f64) {
            let mut state = self.0.lock().unwrap();
            let late = state.1.pop().unwrap_or(0.0);
            state.0 = state.0.max(at_s + late);
        }
    }

    /// Writes down when it was set.
    struct Trace(Fake, Arc<Mutex<Vec<(f64, bool)>>>);

    impl Contact for Trace {
        fn key(&mut self, mark: bool) -> Result<(), KeyerError> {
            self.1.lock().unwrap().push((self.0.now_s(), mark));
            Ok(())
        }

        fn motor(&mut self, _on: bool) -> Result<(), KeyerError> {
            Ok(())
        }
    }

    type Written = Arc<Mutex<Vec<(f64, bool)>>>;

    fn line(late_s: &[f64]) -> (LineClock<Trace, Fake>, Written) {
        let clock = Fake::default();
        clock.0.lock().unwrap().1 = late_s.iter().rev().copied().collect();
        let written = Written::default();
        let contact = Trace(clock.clone(), written.clone());
        (LineClock::new(SPEED, contact, clock).unwrap(), written)
    }

    /// The edges of the same characters, written out the slow way.
    fn expected(codes: &[Code]) -> Vec<(f64, bool)> {
        let mut edges = vec![(0.0, true)];
        let mut at = 0.0;
        for stretch in codes.iter().flat_map(|code| SPEED.stretches(*code)) {
            if stretch.mark != edges.last().unwrap().1 {
                edges.push((at, stretch.mark));
            }
            at += stretch.length_s;
        }
        edges
    }

    /// Waking late is watched for from then on, and forgotten slowly.
    #[test]
    fn the_watch_follows_how_late_waking_is() {
        let ms = Duration::from_millis;
        let mut clock = SystemClock::new(0.022);
        assert_eq!(clock.watch(), MOST_WATCH);
        (0..100_000).for_each(|_| clock.learn(Duration::from_micros(50)));
        let calm = clock.watch();
        assert!(calm < Duration::from_micros(260), "{calm:?}");
        clock.learn(ms(2));
        (0..1000).for_each(|_| clock.learn(Duration::ZERO));
        assert!(
            clock.watch() > Duration::from_micros(1800),
            "{:?}",
            clock.watch()
        );
        clock.learn(ms(50));
        assert_eq!(clock.watch(), MOST_WATCH);
        // A third of an element at most.
        assert_eq!(SystemClock::new(0.004).watch(), Duration::from_micros(1400));
        assert_eq!(SystemClock::new(1e-4).watch(), LEAST_WATCH);
    }

    #[test]
    fn every_edge_of_every_code_at_its_time() {
        let (mut line, written) = line(&[]);
        for code in Code::ALL {
            line.send(code).unwrap();
        }
        let written = written.lock().unwrap();
        let expected = expected(&Code::ALL);
        assert_eq!(written.len(), expected.len());
        for (found, wanted) in written.iter().zip(&expected) {
            assert!((found.0 - wanted.0).abs() < 1e-9 && found.1 == wanted.1);
        }
        drop(written);
        let mut timing = Timing::default();
        line.move_timing(&mut timing);
        assert_eq!(
            (timing.most_s(), timing.edges()),
            (0.0, expected.len() as u64 - 1)
        );
        line.move_timing(&mut timing);
        assert_eq!(timing.edges(), expected.len() as u64 - 1);
    }

    /// Late edges stay single: the next ones stand where they belong.
    #[test]
    fn late_edges_do_not_add_up() {
        let late = [0.001, 0.0, 0.003, 0.0, 0.0005];
        let (mut line, written) = line(&late);
        let r = Code::from_elements([false, true, false, true, false]);
        line.send(r).unwrap();
        let found: Vec<f64> = written.lock().unwrap()[1..].iter().map(|e| e.0).collect();
        // Edges of start and 01010 at 0, 2, 3, 4, 5 and 6 elements of 20 ms.
        let wanted = [0.001, 0.040, 0.063, 0.080, 0.1005, 0.120];
        for (a, b) in found.iter().zip(wanted) {
            assert!((a - b).abs() < 1e-9, "{found:?}");
        }
        let mut timing = Timing::default();
        line.move_timing(&mut timing);
        assert!((timing.most_s() - 0.003).abs() < 1e-9);
    }

    #[test]
    fn far_too_late_breaks_off_in_mark_and_waits_a_character() {
        let (mut line, written) = line(&[0.0, 0.005]);
        let y = Code::from_elements([true, false, true, false, true]);
        let error = line.send(y).unwrap_err();
        assert!(matches!(error, KeyerError::TooLate { .. }) && error.may_reopen());
        assert_eq!(written.lock().unwrap().last(), Some(&(0.025, true)));
        line.send(y).unwrap();
        assert!((written.lock().unwrap()[4].0 - (0.025 + 0.15)).abs() < 1e-9);
    }

    #[test]
    fn hold_and_finish_are_mark() {
        let (mut line, written) = line(&[]);
        line.hold(0.5).unwrap();
        line.send(Code::LETTERS).unwrap();
        line.finish().unwrap();
        let (at_s, mark) = *written.lock().unwrap().last().unwrap();
        assert!((at_s - 0.65).abs() < 1e-9 && mark);
        assert!(line.hold(-1.0).is_err());
    }
}
