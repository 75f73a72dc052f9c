//! The other end of a practice contact: hears an over through the whole road and answers.

use super::key::Keyed;
use super::operator::{Heard, Operator};
use super::over_there::{Path, Sent, heard};
use markhold_air::Channel;
use markhold_code::Code;
use std::sync::mpsc::{Receiver, TryRecvError, channel};

/// From the end of an over to the answer, s: a person reads, thinks and keys.
const THINKS_S: f64 = 4.0;
/// Silence after which a contact is over, s.
const LEAVES_S: f64 = 180.0;
/// Weakest and strongest path, Es/N0, dB: the weakest is read with many doubts.
const ES_N0_DB: (f64, f64) = (6.0, 24.0);
/// What the ionosphere may do.
const CHANNELS: [Channel; 3] = [
    Channel::MID_LATITUDE_QUIET,
    Channel::LOW_LATITUDE_QUIET,
    Channel::MID_LATITUDE_MODERATE,
];

/// Somebody who may answer.
pub(super) struct Partner {
    // Configured.
    seed: u64,
    // State.
    operator: Operator,
    contacts: usize,
    overs: u64,
    /// What came through, once it is worked out, and for how long it has been thought over, s.
    reading: Option<(Receiver<Heard>, f64)>,
    quiet_s: f64,
}

impl Partner {
    pub(super) fn new(seed: u64) -> Self {
        Partner {
            seed,
            operator: Operator::new(seed as usize),
            contacts: seed as usize,
            overs: 0,
            reading: None,
            quiet_s: 0.0,
        }
    }

    /// The band goes on by so many seconds while this happens on the line; what is answered now.
    pub(super) fn pass(&mut self, seconds: f64, keyed: Keyed) -> Option<String> {
        match keyed {
            // Who is spoken to does not speak.
            Keyed::Yes => (self.reading, self.quiet_s) = (None, 0.0),
            Keyed::Ended { codes, sent } => self.listen(codes, sent),
            Keyed::No => self.quiet_s += seconds,
        }
        if self.quiet_s > LEAVES_S && self.operator.is_busy() {
            self.operator.leave();
        }
        let (reading, thought_s) = self.reading.as_mut()?;
        *thought_s += seconds;
        if *thought_s < THINKS_S {
            return None;
        }
        let heard = match reading.try_recv() {
            Ok(heard) => heard,
            Err(TryRecvError::Empty) => return None,
            Err(TryRecvError::Disconnected) => Heard::default(),
        };
        (self.reading, self.quiet_s) = (None, 0.0);
        self.answer(&heard)
    }

    /// Each contact is with another one.
    pub(super) fn answer(&mut self, heard: &Heard) -> Option<String> {
        let was_busy = self.operator.is_busy();
        let answer = self.operator.answer(heard);
        if was_busy && !self.operator.is_busy() {
            self.contacts += 1;
            self.operator = Operator::new(self.contacts);
        }
        answer
    }

    /// The path of the next over.
    pub(super) fn path(&mut self) -> Path {
        self.overs += 1;
        let draw = mixed(self.seed.wrapping_mul(0x9e37_79b9).wrapping_add(self.overs));
        let share = (draw >> 11) as f64 / (1_u64 << 53) as f64;
        let (least, most) = ES_N0_DB;
        Path {
            es_n0_db: least + (most - least) * share,
            channel: CHANNELS[(draw % 3) as usize],
            seed: draw,
        }
    }

    /// Works out beside the band what comes through: a receiver takes its time.
    fn listen(&mut self, codes: Vec<Code>, sent: Sent) {
        let path = self.path();
        let (tell, told) = channel();
        let work = move || drop(tell.send(heard(&codes, sent, path)));
        let thread = std::thread::Builder::new().name("other end".into());
        self.reading = thread.spawn(work).ok().map(|_| (told, 0.0));
    }
}

/// Any number to one that looks drawn (the finalizer of splitmix64: Steele, Lea and Flood 2014).
fn mixed(mut z: u64) -> u64 {
    z = z.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_code::{EncodeOptions, FiguresRow, StartStop, encode};

    const SENT: Sent = Sent {
        speed: StartStop::new(1.0 / 0.022, 1.5),
        shift_hz: 170.0,
        lower_hz: 2125.0,
        reversed: false,
    };

    fn codes(text: &str) -> Vec<Code> {
        encode(text, FiguresRow::Us, EncodeOptions::default()).unwrap()
    }

    fn path(es_n0_db: f64) -> Path {
        Path {
            es_n0_db,
            channel: Channel::MID_LATITUDE_QUIET,
            seed: 5,
        }
    }

    /// Through sound, path and receiver: a call is understood, a report is doubted, asked for
    /// again and understood.
    #[test]
    fn an_over_arrives_is_doubted_and_is_repeated() {
        let mut partner = Partner::new(0);
        let mut over = |text: &str, es_n0_db| {
            partner
                .answer(&heard(&codes(text), SENT, path(es_n0_db)))
                .unwrap_or_default()
        };
        let call = "\r\nCQ CQ CQ DE Q1ABC Q1ABC Q1ABC\r\nCQ CQ CQ DE Q1ABC Q1ABC PSE K\r\n";
        let report =
            "\r\nQ5EFG DE Q1ABC\r\nTNX FER CALL UR RST 579 579 579\r\nQ5EFG DE Q1ABC K\r\n";
        assert!(over(call, 20.0).starts_with("Q1ABC Q1ABC DE Q5EFG"));
        let doubted = over(report, -3.0);
        assert!(doubted.contains("AGN PSE"), "{doubted}");
        assert!(over(report, 20.0).contains("R R  TNX FER 579"));
        let end = "\r\nQ5EFG DE Q1ABC\r\nR R TNX QSO 73 73\r\nQ5EFG DE Q1ABC SK\r\n";
        assert!(over(end, 20.0).contains("73 73\nQ1ABC DE Q5EFG SK"));
    }

    #[test]
    fn the_same_over_on_the_same_path_is_heard_the_same() {
        let call = codes("CQ CQ DE Q1ABC Q1ABC K");
        assert_eq!(heard(&call, SENT, path(4.0)), heard(&call, SENT, path(4.0)));
        let (mut one, mut other) = (Partner::new(3), Partner::new(3));
        for _ in 0..20 {
            let path = one.path();
            assert_eq!(path, other.path());
            assert!((ES_N0_DB.0..ES_N0_DB.1).contains(&path.es_n0_db));
        }
    }

    /// The clock of the band alone decides when: some seconds after the over, unless somebody
    /// keys again.
    #[test]
    fn it_answers_after_thinking_and_not_into_an_over() {
        let mut partner = Partner::new(0);
        let ended = || Keyed::Ended {
            codes: codes("\r\nCQ CQ DE Q1ABC Q1ABC K\r\n"),
            sent: SENT,
        };
        assert_eq!(partner.pass(0.02, ended()), None);
        assert_eq!(partner.pass(0.02, Keyed::Yes), None);
        assert!(partner.reading.is_none());
        assert_eq!(partner.pass(0.02, ended()), None);
        assert_eq!(partner.pass(THINKS_S - 0.1, Keyed::No), None);
        let answer = (0..3000).find_map(|_| {
            std::thread::sleep(std::time::Duration::from_millis(10));
            partner.pass(0.2, Keyed::No)
        });
        assert!(answer.is_some());
        partner.operator.answer(&Heard::clearly("CQ DE Q1ABC"));
        partner.pass(LEAVES_S + 1.0, Keyed::No);
        assert!(!partner.operator.is_busy());
    }
}
