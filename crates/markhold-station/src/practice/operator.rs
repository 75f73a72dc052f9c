//! Who is at the other end in practice: an invented operator, who reads what came through and
//! says what an operator would.
//!
//! ```text
//!   waits --CQ, a sure call--> has called --a sure report--> has reported --73--> waits
//!     |                          |   ^                          |
//!     +--CQ, no sure call: QRZ?  +---+ again please (three times at most)
//! ```
//!
//! The abbreviations are those of the trade: CQ, DE, QRZ?, AGN, PSE, RST, BK, 73, SK.

/// What came through of an over: every character, and whether it is sure.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Heard {
    /// Characters with whether each is sure.
    pub characters: Vec<(char, bool)>,
}

/// A word of it.
#[derive(Clone, Debug, PartialEq)]
struct Word {
    text: String,
    is_sure: bool,
}

impl Heard {
    /// All sure.
    #[cfg(test)]
    pub fn clearly(text: &str) -> Self {
        let characters = text.chars().map(|c| (c, true)).collect();
        Heard { characters }
    }

    fn words(&self) -> Vec<Word> {
        let mut words = vec![Word::empty()];
        for (c, is_sure) in &self.characters {
            match (c.is_whitespace(), words.last_mut()) {
                (false, Some(word)) => {
                    word.text.push(c.to_ascii_uppercase());
                    word.is_sure &= is_sure;
                }
                _ => words.push(Word::empty()),
            }
        }
        words.retain(|word| !word.text.is_empty());
        words
    }

    /// Share of the characters that are doubtful; all of nothing.
    fn doubtful(&self) -> f64 {
        let printed = self.characters.iter().filter(|(c, _)| !c.is_whitespace());
        let (mut count, mut doubtful) = (0.0, 0.0);
        for (_, is_sure) in printed {
            count += 1.0;
            doubtful += f64::from(u8::from(!is_sure));
        }
        if count == 0.0 { 1.0 } else { doubtful / count }
    }
}

impl Word {
    fn empty() -> Self {
        Word {
            text: String::new(),
            is_sure: true,
        }
    }

    /// Letters and digits, both, three to seven of them.
    fn is_call(&self) -> bool {
        (3..=7).contains(&self.text.len())
            && self.text.bytes().all(|b| b.is_ascii_alphanumeric())
            && self.text.bytes().skip(1).any(|b| b.is_ascii_digit())
            && self
                .text
                .bytes()
                .last()
                .is_some_and(|b| b.is_ascii_alphabetic())
    }

    /// Readability 1 to 5, strength and tone 1 to 9, N for nine.
    fn is_report(&self) -> bool {
        let digit = |b: u8| (b'1'..=b'9').contains(&b) || b == b'N';
        match self.text.as_bytes() {
            [r, s, t] => (b'1'..=b'5').contains(r) && digit(*s) && digit(*t),
            _ => false,
        }
    }
}

/// How far the contact is.
#[derive(Clone, Debug, PartialEq)]
enum Stage {
    Waits,
    /// Answered a call whose sender was not sure.
    Asked,
    Called(String),
    Reported(String),
}

/// An invented operator.
#[derive(Clone, Debug, PartialEq)]
pub struct Operator {
    // Configured.
    call: &'static str,
    name: &'static str,
    place: &'static str,
    report: &'static str,
    // State.
    stage: Stage,
    last: String,
    /// How often in a row something was asked for again.
    asked: u32,
}

/// Doubtful characters beyond which nothing of an over is believed.
const TOO_DOUBTFUL: f64 = 0.4;
/// After so many times in vain one gives up.
const MOST_ASKED: u32 = 3;

/// Who may answer: call, name, place, what report they give. Invented, as everybody on the band.
const OPERATORS: [(&str, &str, &str, &str); 4] = [
    ("Q5EFG", "JON", "KESTREL STAITHE", "589"),
    ("Q8RSA", "ADA", "LOW FERRY", "579"),
    ("Q4PQR", "WIM", "GREY HOLM", "599"),
    ("Q6HKN", "INA", "OLD QUAY", "559"),
];

impl Operator {
    /// The `number`th of them.
    pub fn new(number: usize) -> Self {
        let (call, name, place, report) = OPERATORS[number % OPERATORS.len()];
        Operator {
            call,
            name,
            place,
            report,
            stage: Stage::Waits,
            last: String::new(),
            asked: 0,
        }
    }

    /// The operator's call.
    #[cfg(test)]
    pub fn call(&self) -> &'static str {
        self.call
    }

    /// Whether a contact is under way.
    pub fn is_busy(&self) -> bool {
        self.stage != Stage::Waits
    }

    /// Nothing was heard for long: the contact is over.
    pub fn leave(&mut self) {
        (self.stage, self.asked) = (Stage::Waits, 0);
    }

    /// What is answered to an over; `None` = nothing, it was for nobody here.
    pub fn answer(&mut self, heard: &Heard) -> Option<String> {
        let words = heard.words();
        let has = |wanted: &str| words.iter().any(|word| word.is_sure && word.text == wanted);
        let is_bad = heard.doubtful() > TOO_DOUBTFUL;
        let text = match self.stage.clone() {
            _ if has("CQ") => self.called(&words)?,
            Stage::Waits => return None,
            _ if !is_bad && (has("AGN") || has("?")) => self.last.clone(),
            Stage::Asked => self.called(&words)?,
            Stage::Called(other) => match words.iter().find(|w| w.is_sure && w.is_report()) {
                Some(report) if !is_bad => self.reports(other, &report.text.clone()),
                _ => self.again(&other, "UR RST?"),
            },
            Stage::Reported(other) if is_bad => self.again(&other, "ALL"),
            Stage::Reported(other) => self.ends(&other),
        };
        self.last.clone_from(&text);
        Some(text)
    }

    /// Somebody called: by whom, if that is sure.
    fn called(&mut self, words: &[Word]) -> Option<String> {
        let after_de = words
            .windows(2)
            .filter(|two| two[0].text == "DE")
            .map(|two| &two[1]);
        let others = words.iter().filter(|word| word.text != self.call);
        let sure = |word: &&Word| word.is_sure && word.is_call() && word.text != self.call;
        let named = after_de.filter(sure).chain(others.filter(sure)).next();
        let Some(other) = named.map(|word| word.text.clone()) else {
            if self.asked == MOST_ASKED {
                self.leave();
                return None;
            }
            self.asked += 1;
            self.stage = Stage::Asked;
            let me = self.call;
            return Some(format!("QRZ? QRZ? DE {me}\nUR CALL AGN PSE  AGN PSE K\n"));
        };
        (self.stage, self.asked) = (Stage::Called(other.clone()), 0);
        let me = self.call;
        Some(format!("{other} {other} DE {me} {me} {me}\nPSE K\n"))
    }

    fn reports(&mut self, other: String, report: &str) -> String {
        self.asked = 0;
        let Operator {
            call: me,
            name,
            place,
            report: given,
            ..
        } = *self;
        let text = format!(
            "{other} DE {me}\nR R  TNX FER {report}\nUR RST {given} {given}\n\
             NAME {name} {name}  QTH {place}\nHW CPY?  {other} DE {me} K\n"
        );
        self.stage = Stage::Reported(other);
        text
    }

    fn ends(&mut self, other: &str) -> String {
        self.leave();
        let me = self.call;
        format!("{other} DE {me}\nR R  TNX QSO  73 73\n{other} DE {me} SK\n")
    }

    fn again(&mut self, other: &str, what: &str) -> String {
        let me = self.call;
        if self.asked == MOST_ASKED {
            self.leave();
            return format!("{other} DE {me}\nSRI NO CPY  73\n{other} DE {me} SK\n");
        }
        self.asked += 1;
        format!("{other} DE {me}\nSRI QSB  {what}  AGN PSE  AGN PSE\n{other} DE {me} K\n")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(operator: &mut Operator, text: &str) -> String {
        operator.answer(&Heard::clearly(text)).unwrap_or_default()
    }

    /// Every other character doubtful.
    fn badly(text: &str) -> Heard {
        let characters = text.chars().zip([true, false].into_iter().cycle());
        let characters = characters.collect();
        Heard { characters }
    }

    #[test]
    fn a_contact_goes_its_way() {
        let mut jon = Operator::new(0);
        assert_eq!(said(&mut jon, "NOBODY HERE"), "");
        assert!(said(&mut jon, "CQ CQ DE Q1ABC Q1ABC K").starts_with("Q1ABC Q1ABC DE Q5EFG"));
        let report = said(&mut jon, "Q5EFG DE Q1ABC UR RST 57N 57N NAME LEA K");
        assert!(report.contains("TNX FER 57N") && report.contains("RST 589 589"));
        assert!(report.contains("NAME JON JON") && report.lines().all(|line| line.len() <= 69));
        assert_eq!(said(&mut jon, "PSE AGN K"), report);
        assert!(said(&mut jon, "R R 73 DE Q1ABC SK").contains("73 73\nQ1ABC DE Q5EFG SK"));
        assert!(!jon.is_busy());
    }

    #[test]
    fn what_came_badly_is_asked_for_again_and_not_for_ever() {
        let mut jon = Operator::new(0);
        let mut cq = Heard::clearly("CQ CQ DE ");
        cq.characters.extend(badly("Q1ABC Q1ABD K").characters);
        assert!(jon.answer(&cq).unwrap().starts_with("QRZ?"));
        assert!(said(&mut jon, "DE Q1ABC Q1ABC K").starts_with("Q1ABC Q1ABC DE"));
        for _ in 0..MOST_ASKED {
            let again = jon.answer(&badly("UR RST 599 599")).unwrap();
            assert!(
                again.contains("UR RST?") && again.contains("AGN PSE"),
                "{again}"
            );
        }
        assert!(
            jon.answer(&badly("UR RST 599 599"))
                .unwrap()
                .contains("NO CPY")
        );
        assert!(!jon.is_busy());
        // A report that is doubtful is none, also in a good over.
        assert!(said(&mut jon, "CQ DE Q1ABC K").starts_with("Q1ABC"));
        let mut over = Heard::clearly("Q5EFG DE Q1ABC FINE TO MEET YOU, UR RST ");
        over.characters
            .extend([('5', true), ('9', false), ('9', true)]);
        assert!(jon.answer(&over).unwrap().contains("AGN PSE"));
        assert!(said(&mut jon, "UR RST 599").contains("TNX FER 599"));
    }

    #[test]
    fn what_is_answered_is_in_the_alphabet() {
        for number in 0..OPERATORS.len() {
            let mut one = Operator::new(number);
            for over in ["CQ DE Q1ABC K", "UR RST 599", "AGN", "73", "CQ K"] {
                let text = said(&mut one, over);
                let row = markhold_code::FiguresRow::Us;
                let codes = markhold_code::encode(&text, row, Default::default());
                assert!(
                    codes.is_ok() && text.starts_with(|c: char| c != ' '),
                    "{text:?}"
                );
            }
            assert!(one.call().starts_with('Q'));
        }
    }
}
