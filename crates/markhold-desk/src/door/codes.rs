//! One-time codes, shown on the terminal and told at the page.

use super::NoSecrets;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};
use subtle::ConstantTimeEq;

/// Letters and figures that cannot be taken for each other.
const SIGNS: &[u8; 32] = b"ABCDEFGHJKLMNPQRSTUVWXYZ23456789";
/// Signs of a code: eight of 32 are 40 bits, of which [`TRIES`] may be tried a minute.
const LENGTH: usize = 8;
/// Wrong codes that are listened to before a pause; after them the code is another.
const TRIES: u32 = 8;
/// The pause after that.
const PAUSE: Duration = Duration::from_secs(60);

/// What came of a code that was told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Knock {
    /// Right; it is used up now.
    Right,
    /// Wrong.
    Wrong,
    /// Too many wrong ones: none is listened to for a while.
    Pause,
}

struct State {
    code: String,
    wrong: u32,
    paused: Option<Instant>,
}

/// The code of the moment, and how often it was guessed.
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
        let code = fresh()?;
        show(&code);
        let state = State {
            code,
            wrong: 0,
            paused: None,
        };
        Ok(Self {
            show: Box::new(show),
            state: Mutex::new(Some(state)),
        })
    }

    /// The code of the moment.
    pub fn now(&self) -> Option<String> {
        let state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        state.as_ref().map(|s| s.code.clone())
    }

    /// Takes a code that was told: capitals or not, spaces and hyphens do not matter.
    ///
    /// # Errors
    ///
    /// The system has no random numbers for the next code.
    pub fn try_code(&self, told: &str) -> Result<Knock, NoSecrets> {
        self.try_at(told, Instant::now())
    }

    fn try_at(&self, told: &str, now: Instant) -> Result<Knock, NoSecrets> {
        let mut guard = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        let Some(state) = guard.as_mut() else {
            return Ok(Knock::Wrong);
        };
        if state
            .paused
            .is_some_and(|since| now.duration_since(since) < PAUSE)
        {
            return Ok(Knock::Pause);
        }
        state.paused = None;
        // The length is no secret, so a comparison that looks at it first tells nothing.
        let right = bool::from(plain(told).as_bytes().ct_eq(state.code.as_bytes()));
        if !right {
            state.wrong += 1;
            if state.wrong < TRIES {
                return Ok(Knock::Wrong);
            }
            state.paused = Some(now);
        }
        state.code = fresh()?;
        state.wrong = 0;
        (self.show)(&state.code);
        Ok(if right { Knock::Right } else { Knock::Wrong })
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
    use std::sync::{Arc, Mutex};

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
        let codes = codes.expect("random");
        let first = codes.now().expect("a code");
        let told = format!("{}-{}", &first[..4].to_lowercase(), &first[4..]);
        assert_eq!(codes.try_code(&told).expect("random"), Knock::Right);
        assert_eq!(codes.try_code(&first).expect("random"), Knock::Wrong);
        let shown = shown.lock().expect("whole").clone();
        assert_eq!(shown, [first, codes.now().expect("a code")]);
    }

    #[test]
    fn guessing_is_stopped_and_changes_the_code() {
        let codes = Codes::new(|_| {}).expect("random");
        let first = codes.now().expect("a code");
        let begin = Instant::now();
        for _ in 0..TRIES {
            assert_eq!(codes.try_at("2", begin).expect("random"), Knock::Wrong);
        }
        let second = codes.now().expect("a code");
        assert_ne!(first, second);
        assert_eq!(codes.try_at(&second, begin).expect("random"), Knock::Pause);
        let later = begin + PAUSE;
        assert_eq!(codes.try_at(&second, later).expect("random"), Knock::Right);
    }
}
