//! Overs on a line that only writes down what it is told.

use super::super::piece::Typed;
use super::super::writer::Writer;
use super::*;
use markhold_code::{Code, Stretch, Tones};
use markhold_signal::TonePlan;
use std::sync::{Arc, Mutex};

type Told = Arc<Mutex<Vec<String>>>;

/// Writes down what it is told; may fail at a character.
struct Trace(Told, Option<u64>);

impl Trace {
    fn told(&self, words: String) {
        self.0.lock().unwrap().push(words);
    }
}

impl Keyer for Trace {
    fn send(&mut self, code: Code) -> Result<(), KeyerError> {
        match &mut self.1 {
            Some(0) => {
                return Err(KeyerError::PulledOut {
                    what: "port".into(),
                });
            }
            Some(left) => *left -= 1,
            None => {}
        }
        self.told(format!("code {}", code.value()));
        Ok(())
    }

    fn hold(&mut self, seconds: f64) -> Result<(), KeyerError> {
        self.told(format!("mark {seconds:.3}"));
        Ok(())
    }

    fn motor(&mut self, on: bool) -> Result<(), KeyerError> {
        self.told(format!("sound {on}"));
        Ok(())
    }

    fn finish(&mut self) -> Result<(), KeyerError> {
        self.told("finish".into());
        Ok(())
    }

    fn cancel(&mut self) -> Result<(), KeyerError> {
        self.told("cancel".into());
        Ok(())
    }

    fn line(&mut self, stretches: &[Stretch]) -> Result<(), KeyerError> {
        self.told(format!("line {}", stretches.len()));
        Ok(())
    }

    fn tones(&mut self, plan: TonePlan) -> Result<(), KeyerError> {
        self.told(format!("tones {} {}", plan.mark_hz, plan.space_hz));
        Ok(())
    }
}

fn plan(keys: &str) -> TransmitterPlan {
    let settings = format!(
        "[transmitter]\ncall = \"Q1ABC\"\nrate_baud = 100\nwait_on_s = 0\nmark_on_s = 0.1\n\
         mark_off_s = 0.05\nwait_off_s = 0\n{keys}"
    );
    TransmitterPlan::of_settings(&settings, Default::default()).unwrap()
}

fn open(plan: &TransmitterPlan, fails: Option<u64>) -> (Transmitter, Told) {
    let told = Told::default();
    let transmitter = Transmitter {
        plan: plan.clone(),
        clocked: true,
        sounds: true,
        cable: Cable::default(),
        key: Key::none(),
        keyer: Box::new(Trace(told.clone(), fails)),
    };
    (transmitter, told)
}

fn armed(seconds: u64) -> Arming {
    let arming = Arming::new();
    arming.arm(Duration::from_secs(seconds));
    arming
}

fn sent(transmitter: &mut Transmitter, text: &str, arming: &Arming) -> Over {
    let plan = transmitter.plan.clone();
    let mut writer = Writer::new(&plan, Typed::at_once(text)).unwrap();
    transmitter.over(&mut writer, arming)
}

#[test]
fn an_over_from_key_to_key() {
    let (mut transmitter, told) = open(&plan(""), None);
    let over = sent(&mut transmitter, "E Q1ABC", &armed(60));
    assert!(matches!(over.ended, Ended::Whole) && over.unkeyed.is_ok());
    let told = told.lock().unwrap();
    // The tones sound, mark, a new line, E and so on; mark, and the tones are off.
    assert_eq!(told[..3], ["sound true", "mark 0.100", "code 8"]);
    let end = told.len() - 3;
    assert_eq!(told[end..], ["mark 0.050", "finish", "sound false"]);
    let codes = told
        .iter()
        .filter(|words| words.starts_with("code"))
        .count();
    assert_eq!(codes as u64, over.codes);
    assert!((over.lasted_s - (0.15 + codes as f64 * 0.075)).abs() < 1e-9);
}

#[test]
fn nothing_is_sent_that_nobody_armed() {
    let (mut transmitter, told) = open(&plan(""), None);
    for arming in [Arming::new(), armed(0)] {
        let over = sent(&mut transmitter, "E", &arming);
        assert!(matches!(over.ended, Ended::Disarmed) && over.codes == 0);
    }
    let sounded = told
        .lock()
        .unwrap()
        .iter()
        .any(|words| words == "sound true");
    assert!(!sounded);
}

#[test]
fn an_over_ends_with_its_leave_its_time_its_way_or_at_once() {
    let over = |keys: &str, fails, arming: &Arming, text: &str| {
        sent(&mut open(&plan(keys), fails).0, text, arming).ended
    };
    assert!(matches!(
        over("", Some(3), &armed(60), "ABC"),
        Ended::Failed(_)
    ));
    // Its leave is taken back by the text itself.
    struct Takes(Arming, u32);
    impl Script for Takes {
        fn next(&mut self, _at_s: f64) -> Piece {
            self.1 += 1;
            if self.1 == 3 {
                self.0.disarm();
            }
            Piece::Code(Code::LETTERS)
        }
    }
    let arming = armed(60);
    let (mut transmitter, _) = open(&plan(""), None);
    let ended = transmitter.over(&mut Takes(arming.clone(), 0), &arming);
    assert!(matches!(ended.ended, Ended::Disarmed) && ended.codes == 2);
    let (mut transmitter, told) = open(&plan(""), None);
    transmitter.off_switch().off().unwrap();
    assert!(matches!(
        sent(&mut transmitter, "E", &armed(60)).ended,
        Ended::TurnedOff
    ));
    assert_eq!(
        told.lock().unwrap().last().map(String::as_str),
        Some("sound false")
    );
}

/// A file goes by its own time.
#[test]
fn an_over_is_no_longer_than_the_longest() {
    let (mut transmitter, _) = open(&plan("longest_over_s = 6"), None);
    transmitter.clocked = false;
    let over = sent(&mut transmitter, &"E".repeat(200), &Arming::new());
    assert!(matches!(over.ended, Ended::TooLong));
    assert!((6.0..6.2).contains(&over.lasted_s), "{}", over.lasted_s);
}

#[test]
fn without_call_way_or_key_nothing_is_opened() {
    let none = |keys: &str| {
        let settings = format!("[transmitter]\n{keys}");
        let plan = TransmitterPlan::of_settings(&settings, Default::default()).unwrap();
        Transmitter::open(&plan).err().unwrap().to_string()
    };
    assert!(none("way = \"tones\"\nkey = \"by-hand\"").contains("the call"));
    assert!(none("call = \"Q1ABC\"\nkey = \"by-hand\"").contains("a transmitter"));
    assert!(none("call = \"Q1ABC\"\nway = \"tones\"").contains("the key"));
}

/// They are told to the line before the over, once.
#[test]
fn other_tones_are_set_between_overs() {
    let plan = plan("sideband = \"upper\"");
    let (mut transmitter, told) = open(&plan, None);
    let tones = |mark_hz, space_hz| Tones { mark_hz, space_hz };
    transmitter.set_tones(&plan).unwrap();
    assert!(told.lock().unwrap().is_empty(), "they are its own");
    for _ in 0..2 {
        let aimed = plan.on(tones(1500.0, 1670.0));
        transmitter.set_tones(&aimed).unwrap();
    }
    assert_eq!(*told.lock().unwrap(), ["tones 1500 1670"]);
    let over = sent(&mut transmitter, "E", &armed(60));
    assert!(matches!(over.ended, Ended::Whole) && over.codes > 0);
    transmitter.set_tones(&plan).unwrap();
    assert_eq!(told.lock().unwrap().last().unwrap(), "tones 2295 2125");
}
