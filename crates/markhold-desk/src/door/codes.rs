//! One-time codes, shown on the terminal and told at the page.

use super::NoSecrets;
use std::net::{IpAddr, Ipv6Addr};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use subtle::ConstantTimeEq;

/// Letters and figures that cannot be taken for each other.
const SIGNS: &[u8; 32] = b"ABCDEFGHJKLMNPQRSTUVWXYZ23456789";
/// Signs of a code: eight of 32 are 40 bits, of which one address may try [`TRIES`] a
/// minute. All addresses of a network of 254 would need 500 years to try half of them.
const LENGTH: usize = 8;
/// Wrong codes of one address that are listened to before it must pause.
const TRIES: u32 = 8;
/// The pause after that.
const PAUSE: Duration = Duration::from_secs(60);
/// How long a code opens after it was shown: time to fetch a phone from the next room.
const LIFE: Duration = Duration::from_secs(15 * 60);
/// Most addresses whose wrong codes are remembered; a local network has some 250.
const MOST: usize = 256;

/// What came of a code that was told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Knock {
    /// Right; it is used up now.
    Right,
    /// Wrong.
    Wrong,
    /// Too many wrong ones from there: none is listened to for a while.
    Pause,
}

/// Somebody who told wrong codes.
struct Guesser {
    from: Option<IpAddr>,
    wrong: u32,
    last: Instant,
}

struct State {
    code: String,
    shown: Instant,
    /// In order of their last wrong code.
    guessers: Vec<Guesser>,
}

impl State {
    fn new(now: Instant) -> Result<Self, NoSecrets> {
        Ok(State {
            code: fresh()?,
            shown: now,
            guessers: Vec::new(),
        })
    }

    fn is_old(&self, now: Instant) -> bool {
        now.saturating_duration_since(self.shown) >= LIFE
    }

    fn pauses(&mut self, from: Option<IpAddr>, now: Instant) -> bool {
        self.guessers
            .retain(|g| now.saturating_duration_since(g.last) < PAUSE);
        let mut known = self.guessers.iter();
        known.any(|g| g.from == from && g.wrong >= TRIES)
    }

    fn note_wrong(&mut self, from: Option<IpAddr>, now: Instant) {
        let known = self.guessers.iter().position(|g| g.from == from);
        let wrong = known.map_or(0, |k| self.guessers.remove(k).wrong) + 1;
        if self.guessers.len() == MOST {
            self.guessers.remove(0);
        }
        self.guessers.push(Guesser {
            from,
            wrong,
            last: now,
        });
    }
}

/// The code of the moment, and who guessed at it how often.
pub struct Codes {
    // Configured.
    show: Box<dyn Fn(&str) + Send + Sync>,
    // State; `None` where no code opens.
    state: Mutex<Option<State>>,
}

impl Codes {
    /// No code opens.
    pub fn none() -> Self {
        Self {
            show: Box::new(|_| {}),
            state: Mutex::new(None),
        }
    }

    /// A first code; `show` is called with it and with each that follows.
    ///
    /// # Errors
    ///
    /// The system has no random numbers.
    pub fn new(show: impl Fn(&str) + Send + Sync + 'static) -> Result<Self, NoSecrets> {
        let state = State::new(Instant::now())?;
        show(&state.code);
        Ok(Self {
            show: Box::new(show),
            state: Mutex::new(Some(state)),
        })
    }

    /// The code of the moment; `None` where none opens, or the last one is too old.
    pub fn now(&self, now: Instant) -> Option<String> {
        let state = self.state();
        let good = state.as_ref().filter(|s| !s.is_old(now));
        good.map(|s| s.code.clone())
    }

    /// Somebody stands at the entrance: a code that is too old gives way to another, which is
    /// shown. That is at most one in [`LIFE`], however many come.
    ///
    /// # Errors
    ///
    /// The system has no random numbers.
    pub fn renew(&self, now: Instant) -> Result<(), NoSecrets> {
        match self.state().as_mut() {
            Some(state) if state.is_old(now) => self.next(state, now),
            _ => Ok(()),
        }
    }

    /// Takes a code that was told by somebody from there: capitals or not, spaces and hyphens
    /// do not matter. Only who told wrong ones must pause, and they change no code: nobody can
    /// keep others out.
    ///
    /// # Errors
    ///
    /// The system has no random numbers for the next code.
    pub fn try_code(
        &self,
        told: &str,
        from: Option<IpAddr>,
        now: Instant,
    ) -> Result<Knock, NoSecrets> {
        let mut guard = self.state();
        let Some(state) = guard.as_mut() else {
            return Ok(Knock::Wrong);
        };
        let from = from.map(network);
        if state.pauses(from, now) {
            return Ok(Knock::Pause);
        }
        // The length is no secret, so a comparison that looks at it first tells nothing.
        let right = bool::from(plain(told).as_bytes().ct_eq(state.code.as_bytes()));
        if !right || state.is_old(now) {
            state.note_wrong(from, now);
            return Ok(Knock::Wrong);
        }
        self.next(state, now)?;
        Ok(Knock::Right)
    }

    fn next(&self, state: &mut State, now: Instant) -> Result<(), NoSecrets> {
        (state.code, state.shown) = (fresh()?, now);
        (self.show)(&state.code);
        Ok(())
    }

    fn state(&self) -> MutexGuard<'_, Option<State>> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Whom an address stands for: one machine may have any address of an IPv6 network of 64
/// bits, and an IPv4 one may come in IPv6's clothes.
pub(super) fn network(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V6(six) => Ipv6Addr::from_bits(six.to_bits() >> 64 << 64).into(),
        four => four,
    }
}

fn plain(told: &str) -> String {
    let signs = told
        .chars()
        .filter(char::is_ascii_alphanumeric)
        .take(LENGTH + 1);
    signs.map(|c| c.to_ascii_uppercase()).collect()
}

/// A new code; 32 signs divide 256, so each is as likely as any other.
fn fresh() -> Result<String, NoSecrets> {
    let mut bytes = [0_u8; LENGTH];
    getrandom::fill(&mut bytes)?;
    Ok(bytes
        .iter()
        .map(|b| char::from(SIGNS[usize::from(b % 32)]))
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;

    fn at(last: u8) -> Option<IpAddr> {
        Some(IpAddr::from([192, 0, 2, last]))
    }

    #[test]
    fn codes_are_long_new_and_plain() {
        let a = fresh().expect("random");
        assert_eq!(a.len(), LENGTH);
        assert!(a.bytes().all(|b| SIGNS.contains(&b)));
        assert_ne!(a, fresh().expect("random"));
        assert_eq!(plain(" abcd-efgh "), "ABCDEFGH");
        assert_eq!(plain("abcdefghijk").len(), LENGTH + 1);
    }

    #[test]
    fn a_code_opens_once_and_the_next_is_shown() {
        let shown = Arc::new(Mutex::new(Vec::new()));
        let list = Arc::clone(&shown);
        let codes = Codes::new(move |c| list.lock().expect("whole").push(c.to_string()));
        let (codes, now) = (codes.expect("random"), Instant::now());
        let first = codes.now(now).expect("a code");
        let told = format!("{}-{}", &first[..4].to_lowercase(), &first[4..]);
        let tell = |code: &str| codes.try_code(code, at(1), now).expect("random");
        assert_eq!(tell(&told), Knock::Right);
        assert_eq!(tell(&first), Knock::Wrong);
        let shown = shown.lock().expect("whole").clone();
        assert_eq!(shown, [first, codes.now(now).expect("a code")]);
    }

    #[test]
    fn who_guesses_pauses_alone_and_changes_nothing_for_others() {
        let (codes, now) = (Codes::new(|_| {}).expect("random"), Instant::now());
        let code = codes.now(now).expect("a code");
        let tell = |code: &str, from, at| codes.try_code(code, from, at).expect("random");
        for _ in 0..TRIES {
            assert_eq!(tell("2", at(66), now), Knock::Wrong);
        }
        assert_eq!(tell(&code, at(66), now), Knock::Pause);
        assert_eq!(codes.now(now).as_ref(), Some(&code));
        assert_eq!(tell(&code, at(7), now), Knock::Right);
        let next = codes.now(now).expect("a code");
        assert_eq!(tell(&next, at(66), now + PAUSE), Knock::Right);
    }

    #[test]
    fn a_network_of_guessers_takes_no_memory_and_keeps_nobody_out() {
        let (codes, now) = (Codes::new(|_| {}).expect("random"), Instant::now());
        for k in 0..10_000_u32 {
            let from = IpAddr::from((0xc000_0200_u32 + k % 3000).to_be_bytes());
            codes.try_code("2", Some(from), now).expect("random");
        }
        assert!(
            codes
                .state()
                .as_ref()
                .is_some_and(|s| s.guessers.len() <= MOST)
        );
        let code = codes.now(now).expect("a code");
        let mine = codes.try_code(&code, Some(IpAddr::from([10, 0, 0, 1])), now);
        assert_eq!(mine.expect("random"), Knock::Right);
    }

    #[test]
    fn an_old_code_opens_nothing_and_gives_way_to_who_comes() {
        let (codes, begin) = (Codes::new(|_| {}).expect("random"), Instant::now());
        let first = codes.now(begin).expect("a code");
        codes.renew(begin).expect("random");
        assert_eq!(codes.now(begin).as_ref(), Some(&first));
        let late = begin + LIFE + PAUSE;
        assert_eq!(codes.now(late), None);
        let told = codes.try_code(&first, at(1), late).expect("random");
        assert_eq!(told, Knock::Wrong);
        codes.renew(late).expect("random");
        let second = codes.now(late).expect("a code");
        assert_ne!(first, second);
        let told = codes.try_code(&second, at(1), late).expect("random");
        assert_eq!(told, Knock::Right);
    }

    #[test]
    fn one_network_of_ipv6_is_one_guesser() {
        let ip = |text: &str| network(text.parse().expect("an address"));
        assert_eq!(ip("2001:db8::1"), ip("2001:db8::ffff:1"));
        assert_ne!(ip("2001:db8::1"), ip("2001:db8:0:1::1"));
        assert_eq!(ip("::ffff:192.0.2.1"), ip("192.0.2.1"));
    }
}
