//! A sound device as a live source, with a watchdog.

use super::arrears::Arrears;
use super::open::{OpenInput, Opened, Trouble};
use super::ring::{Found, Pool, RING_S, ring};
use crate::source::{Source, Taken};
use std::sync::Arc;
use std::sync::mpsc::{self, Receiver, TryRecvError};
use std::time::{Duration, Instant};

/// A device whose callback has not come for so long is dead, whatever it says: fifty times
/// the longest block that is asked for.
const DEAD_AFTER: Duration = Duration::from_secs(2);
/// Time between two attempts to take it up again.
const RETRY: Duration = Duration::from_millis(500);
/// Time until one that gave sound faster than time passes is tried again.
const RETRY_HASTY: Duration = Duration::from_secs(60);
/// Sound may be ahead of the clock by what the ring holds, and by a tenth: no clock of a sound
/// card is so wrong (common practice: 100 millionths), but a device that is none gives sound
/// as fast as it is taken.
const AHEAD: (f64, f64) = (RING_S, 1.1);
/// How long the sound thread waits for samples.
const PATIENCE: Duration = Duration::from_millis(40);
/// How often it looks.
const LOOK: Duration = Duration::from_millis(4);
/// Samples in a block, as a share of a second.
const BLOCKS_PER_S: u32 = 50;

/// An attempt's outcome: the opened input, its ring's other end and what it will complain of.
type Attempt = Result<(Opened, Pool, Receiver<Trouble>), String>;

/// A device that sounds.
struct Sounding {
    pool: Pool,
    trouble: Receiver<Trouble>,
    /// Holds it open.
    stream: Box<dyn Send>,
    /// When it was opened.
    since: Instant,
    /// Samples that it gave since then, those that were lost too.
    given: u64,
    arrears: Arrears,
}

impl Sounding {
    fn new(pool: Pool, trouble: Receiver<Trouble>, stream: Box<dyn Send>) -> Self {
        Sounding {
            pool,
            trouble,
            stream,
            since: Instant::now(),
            given: 0,
            arrears: Arrears::default(),
        }
    }

    /// Samples that it lost without a word, once the clock tells.
    fn missing(&mut self, rate: u32) -> Option<u64> {
        let rate = f64::from(rate);
        let come = self.given + self.pool.waiting() as u64;
        let time_s = self.since.elapsed().as_secs_f64();
        let lost_s = self.arrears.lost(time_s, come as f64 / rate)?;
        Some((lost_s * rate).round() as u64)
    }

    /// By how much it gave more than time has passed, if by too much: seconds of sound, and
    /// of time.
    fn hasty(&self, rate: u32) -> Option<(f64, f64)> {
        let (slack_s, most) = AHEAD;
        let sound_s = self.given as f64 / f64::from(rate);
        let time_s = self.since.elapsed().as_secs_f64();
        (sound_s > most * time_s + slack_s).then_some((sound_s, time_s))
    }
}

/// A device that is waited for.
struct Waiting {
    /// When sound was last heard.
    since: Instant,
    /// The attempt that is going on.
    attempt: Option<Receiver<Attempt>>,
    /// When the next one may begin.
    next: Instant,
}

enum State {
    Sounding(Sounding),
    /// Opened again, but no sound has come yet.
    Opened(Sounding, Instant),
    Waiting(Waiting),
}

/// Listens to a sound device for as long as it is there, and again when it is back.
pub struct DeviceSource {
    // configured
    opener: Arc<dyn OpenInput>,
    channel: usize,
    // state
    name: String,
    rate: u32,
    /// The rate at which sound was heard last, Hz.
    heard_rate: u32,
    state: State,
}

impl DeviceSource {
    /// Opens an input; `channel` is counted from 1.
    ///
    /// # Errors
    ///
    /// Why it cannot be opened, in words for the person.
    pub fn open(opener: impl OpenInput + 'static, channel: u16) -> Result<Self, String> {
        let opener: Arc<dyn OpenInput> = Arc::new(opener);
        let channel = usize::from(channel.saturating_sub(1));
        let (opened, pool, trouble) = attempt(opener.as_ref(), channel)?;
        Ok(DeviceSource {
            opener,
            channel,
            name: opened.name,
            rate: opened.rate,
            heard_rate: opened.rate,
            state: State::Sounding(Sounding::new(pool, trouble, opened.stream)),
        })
    }

    fn most(&self) -> usize {
        (self.rate / BLOCKS_PER_S) as usize
    }

    /// Takes sound; `Some` once there is something to tell.
    fn listen(&mut self, block: &mut Vec<f32>) -> Option<Taken> {
        let (most, rate) = (self.most(), self.rate);
        let State::Sounding(device) = &mut self.state else {
            return None;
        };
        if let Some((sound_s, time_s)) = device.hasty(rate) {
            let why = format!(
                "it gave {sound_s:.0} s of sound in {time_s:.0} s, which no receiver does; choose another input"
            );
            return Some(self.give_up(Duration::ZERO, RETRY_HASTY, &why));
        }
        if let Some(lost) = device.missing(rate) {
            device.given += lost;
            return Some(Taken::Gap { lost });
        }
        match device.pool.take(block, most) {
            Found::Samples => {
                device.given += block.len() as u64;
                return Some(Taken::Sound);
            }
            Found::Lost(lost) => {
                device.given += u64::from(lost);
                return Some(Taken::Gap { lost: lost.into() });
            }
            Found::Nothing => {}
        }
        let age = device.pool.age();
        match device.trouble.try_recv() {
            Ok(Trouble::Lost) => Some(Taken::Lost),
            Ok(Trouble::Ended(why)) => Some(self.give_up(age, Duration::ZERO, &why)),
            Err(_) if age > DEAD_AFTER => {
                let why = format!("no sound for {:.0} s", age.as_secs_f64());
                Some(self.give_up(age, Duration::ZERO, &why))
            }
            Err(_) => None,
        }
    }

    /// The device is gone: it is waited for, and tried again after `rest`.
    fn give_up(&mut self, age: Duration, rest: Duration, why: &str) -> Taken {
        let now = Instant::now();
        let waiting = State::Waiting(Waiting {
            since: now.checked_sub(age).unwrap_or(now),
            attempt: None,
            next: now + rest,
        });
        if let State::Sounding(dead) | State::Opened(dead, _) =
            std::mem::replace(&mut self.state, waiting)
        {
            close(dead);
        }
        Taken::Gone {
            why: format!("{} is gone ({why}); waiting for it", self.name),
        }
    }

    /// Tries to take the device up again.
    fn wait(&mut self) {
        let (opener, channel) = (self.opener.clone(), self.channel);
        let State::Waiting(waiting) = &mut self.state else {
            return;
        };
        let now = Instant::now();
        let Some(running) = &waiting.attempt else {
            if now >= waiting.next {
                // Opening may block for seconds: not here.
                let (tell, told) = mpsc::channel();
                std::thread::spawn(move || {
                    // Nobody may be waiting any more.
                    let _ = tell.send(attempt(opener.as_ref(), channel));
                });
                waiting.attempt = Some(told);
            }
            return;
        };
        match running.try_recv() {
            Ok(Ok((opened, pool, trouble))) => {
                let since = waiting.since;
                (self.name, self.rate) = (opened.name, opened.rate);
                let device = Sounding::new(pool, trouble, opened.stream);
                self.state = State::Opened(device, since);
            }
            Ok(Err(_)) | Err(TryRecvError::Disconnected) => {
                waiting.attempt = None;
                waiting.next = now + RETRY;
            }
            Err(TryRecvError::Empty) => {}
        }
    }

    /// A device that was opened again is back when its sound comes.
    fn welcome(&mut self) -> Option<Taken> {
        let State::Opened(device, since) = &self.state else {
            return None;
        };
        let since = *since;
        if !device.pool.has_come() {
            if device.pool.age() > DEAD_AFTER {
                self.wait_longer(since);
            }
            return None;
        }
        let heard_s = device.pool.waiting() as f64 / f64::from(self.rate);
        let lost_s = (since.elapsed().as_secs_f64() - heard_s).max(0.0);
        let rest = Waiting {
            since,
            attempt: None,
            next: since,
        };
        if let State::Opened(device, _) = std::mem::replace(&mut self.state, State::Waiting(rest)) {
            self.state = State::Sounding(device);
        }
        let lost = (lost_s * f64::from(self.heard_rate)).round() as u64;
        self.heard_rate = self.rate;
        Some(Taken::Back { lost })
    }

    /// It was opened but is silent: as if it had not been.
    fn wait_longer(&mut self, since: Instant) {
        let waiting = State::Waiting(Waiting {
            since,
            attempt: None,
            next: Instant::now() + RETRY,
        });
        if let State::Opened(dead, _) = std::mem::replace(&mut self.state, waiting) {
            close(dead);
        }
    }
}

/// Opens a device with a ring for its rate.
fn attempt(opener: &dyn OpenInput, channel: usize) -> Attempt {
    let (tell, trouble) = mpsc::channel();
    let mut pool = None;
    let mut tap = |rate: u32| {
        let (tap, other) = ring((f64::from(rate) * RING_S) as usize, channel);
        pool = Some(other);
        tap
    };
    let opened = opener.open(&mut tap, tell)?;
    let pool = pool.ok_or("the input was opened without a place for its sound")?;
    Ok((opened, pool, trouble))
}

/// Closing a dead device may block for good: not in the sound thread.
fn close(dead: Sounding) {
    std::thread::spawn(move || drop(dead.stream));
}

impl Source for DeviceSource {
    fn name(&self) -> String {
        self.name.clone()
    }

    fn rate(&self) -> u32 {
        self.rate
    }

    fn is_live(&self) -> bool {
        true
    }

    fn take(&mut self, block: &mut Vec<f32>) -> Taken {
        let begun = Instant::now();
        while begun.elapsed() < PATIENCE {
            self.wait();
            if let Some(taken) = self.welcome().or_else(|| self.listen(block)) {
                return taken;
            }
            std::thread::sleep(LOOK);
        }
        Taken::Nothing
    }
}

#[cfg(test)]
mod tests {
    use super::super::ring::Tap;
    use super::*;
    use std::collections::VecDeque;
    use std::sync::Mutex;
    use std::sync::mpsc::Sender;

    /// A device whose callback the test calls, and what it does at each opening.
    #[derive(Clone, Default)]
    struct Devices(Arc<Mutex<Workbench>>);

    #[derive(Default)]
    struct Workbench {
        openings: VecDeque<Result<u32, String>>,
        tap: Option<Tap>,
        trouble: Option<Sender<Trouble>>,
    }

    impl Devices {
        fn new(openings: impl IntoIterator<Item = Result<u32, String>>) -> Self {
            let bench = Devices::default();
            bench.0.lock().unwrap().openings = openings.into_iter().collect();
            bench
        }

        fn sound(&self, samples: &[f32]) {
            let mut bench = self.0.lock().unwrap();
            bench.tap.as_mut().expect("open").put(samples, 1, |s| s);
        }

        fn end(&self) {
            let bench = self.0.lock().unwrap();
            let trouble = bench.trouble.as_ref().expect("open");
            trouble
                .send(Trouble::Ended("the plug was pulled".into()))
                .unwrap();
        }
    }

    impl OpenInput for Devices {
        fn open(
            &self,
            tap: &mut dyn FnMut(u32) -> Tap,
            trouble: Sender<Trouble>,
        ) -> Result<Opened, String> {
            let mut bench = self.0.lock().unwrap();
            let rate = bench.openings.pop_front().unwrap_or(Err("none".into()))?;
            bench.tap = Some(tap(rate));
            bench.trouble = Some(trouble);
            Ok(Opened {
                name: "bench".into(),
                rate,
                stream: Box::new(()),
            })
        }
    }

    /// What comes until something else than nothing does.
    fn next(source: &mut DeviceSource, block: &mut Vec<f32>) -> Taken {
        loop {
            match source.take(block) {
                Taken::Nothing => {}
                taken => return taken,
            }
        }
    }

    #[test]
    fn an_input_that_is_not_there_says_so_at_once() {
        let found = DeviceSource::open(Devices::new([Err("no such input".into())]), 1);
        assert_eq!(found.err().as_deref(), Some("no such input"));
    }

    #[test]
    fn it_is_told_gone_and_taken_up_again_even_at_another_rate() {
        let bench = Devices::new([Ok(8000), Err("not yet".into()), Ok(12_000)]);
        let mut source = DeviceSource::open(bench.clone(), 1).unwrap();
        let mut block = Vec::new();
        bench.sound(&[0.25; 100]);
        assert_eq!(next(&mut source, &mut block), Taken::Sound);
        assert_eq!(block, [0.25; 100]);
        bench.end();
        let Taken::Gone { why } = next(&mut source, &mut block) else {
            panic!("it is gone")
        };
        assert_eq!(why, "bench is gone (the plug was pulled); waiting for it");
        assert_eq!(source.rate(), 8000);
        while source.rate() == 8000 {
            assert_eq!(source.take(&mut block), Taken::Nothing);
        }
        bench.sound(&[0.5; 50]);
        let Taken::Back { lost } = next(&mut source, &mut block) else {
            panic!("it is back")
        };
        // It waits for half a second after an attempt that failed.
        assert!(lost >= 4000, "{lost}");
        assert_eq!(next(&mut source, &mut block), Taken::Sound);
        assert_eq!(block, [0.5; 50]);
    }

    #[test]
    fn sound_that_runs_ahead_of_the_clock_is_refused() {
        let bench = Devices::new([Ok(6000)]);
        let mut source = DeviceSource::open(bench.clone(), 1).unwrap();
        let (mut block, mut heard) = (Vec::new(), 0);
        // A second of sound in far less than one, over and over.
        let why = loop {
            if heard % 6000 == 0 {
                bench.sound(&[0.1; 6000]);
            }
            match next(&mut source, &mut block) {
                Taken::Sound => heard += block.len(),
                Taken::Gone { why } => break why,
                other => panic!("{other:?}"),
            }
        };
        assert!(why.contains("of sound in"), "{why}");
        assert!(heard < 8 * 6000, "{heard}");
        for _ in 0..3 {
            assert_eq!(source.take(&mut block), Taken::Nothing);
        }
    }

    #[test]
    fn sound_that_falls_behind_the_clock_is_told_as_lost() {
        let bench = Devices::new([Ok(6000)]);
        let mut source = DeviceSource::open(bench.clone(), 1).unwrap();
        let (mut block, mut lost, begun) = (Vec::new(), 0, Instant::now());
        // Half of each 40 ms.
        while lost == 0 && begun.elapsed() < Duration::from_secs(20) {
            bench.sound(&[0.1; 120]);
            std::thread::sleep(Duration::from_millis(40));
            if let Taken::Gap { lost: more } = source.take(&mut block) {
                lost += more;
            }
        }
        assert!(lost > 600, "{lost}");
    }

    #[test]
    fn what_the_ring_had_no_room_for_is_told_in_its_place() {
        let bench = Devices::new([Ok(6000)]);
        let mut source = DeviceSource::open(bench.clone(), 1).unwrap();
        let (mut block, mut heard) = (Vec::new(), 0);
        bench.sound(&[0.1; 24_100]);
        while heard < 24_000 {
            assert_eq!(next(&mut source, &mut block), Taken::Sound);
            heard += block.len();
        }
        bench.sound(&[0.1; 10]);
        assert_eq!(next(&mut source, &mut block), Taken::Gap { lost: 100 });
    }
}
