//! What will be sent, known before anything is.

use crate::words;
use anyhow::bail;
use markhold_page::{Order, Ordered};
use markhold_wire::transmit::{Piece, Script, TransmitterPlan, Typed, Writer};
use std::time::Duration;

/// Longest text that is looked through, s: nobody sends for a day.
const LONGEST_S: f64 = 86_400.0;

/// An over that has not begun.
pub struct Planned {
    // Configured.
    plan: TransmitterPlan,
    text: Typed,
    // Derived.
    /// What a printer at the other end is sent.
    pub orders: Vec<Ordered>,
    lasts_s: f64,
}

impl Planned {
    /// A text, at once or as so many words a minute are typed.
    pub fn new(plan: &TransmitterPlan, text: &str, typed: Option<f64>) -> anyhow::Result<Self> {
        let text = match typed {
            Some(wpm) => Typed::at_words_per_minute(text, wpm),
            None => Typed::at_once(text),
        };
        let fixed_s = plan.wait_on_s + plan.mark_on_s + plan.mark_off_s + plan.wait_off_s;
        let mut planned = Planned {
            plan: plan.clone(),
            text,
            orders: Vec::new(),
            lasts_s: fixed_s,
        };
        planned.reckon(fixed_s)?;
        Ok(planned)
    }

    /// Runs through it.
    fn reckon(&mut self, fixed_s: f64) -> anyhow::Result<()> {
        let mut script = self.script()?;
        let character_s = self.plan.speed().character_s();
        loop {
            let (order, seconds) = match script.next(self.lasts_s - fixed_s) {
                Piece::End => return Ok(()),
                Piece::Code(code) => (Some(Order::Send(code)), character_s),
                Piece::Mark(seconds) => (Some(Order::Hold(seconds)), seconds),
                Piece::Line(parts) => (None, parts.iter().map(|part| part.length_s).sum()),
            };
            let ordered = order.map(|order| Ordered {
                order,
                source: None,
            });
            self.orders.extend(ordered);
            self.lasts_s += seconds;
            if self.lasts_s > LONGEST_S {
                bail!("it takes more than a day; give the part that is meant");
            }
        }
    }

    /// From the beginning.
    pub fn script(&self) -> anyhow::Result<Writer<Typed>> {
        Ok(Writer::new(&self.plan, self.text.clone())?)
    }

    /// From key to key.
    pub fn lasts(&self) -> Duration {
        Duration::from_secs_f64(self.lasts_s)
    }

    /// Errors: it is longer than the longest over.
    pub fn check_length(&self, plan: &TransmitterPlan) -> anyhow::Result<()> {
        if self.lasts_s <= plan.longest_over_s {
            return Ok(());
        }
        bail!(
            "it takes {}, and the longest over is {}: send less at a time, or raise \
             longest_over_s (--longest) if your transmitter and your rules allow it",
            words::time(self.lasts_s),
            words::time(plan.longest_over_s)
        )
    }

    /// In a few words.
    pub fn told(&self) -> String {
        let codes = |ordered: &&Ordered| matches!(ordered.order, Order::Send(_));
        let count = self.orders.iter().filter(codes).count();
        format!("{count} characters, {}", words::time(self.lasts_s))
    }
}

/// What identifies and ends an over.
pub fn given(plan: &TransmitterPlan) -> String {
    let morse = match plan.morse_every_s {
        Some(_) => format!(", in Morse at {} words a minute as well", plan.morse_wpm),
        None => String::new(),
    };
    format!(
        "the call at its end and every {}{morse}; longest over {}",
        words::time(plan.identify_every_s),
        words::time(plan.longest_over_s)
    )
}

/// The line and the tones in words.
pub fn tones(plan: &TransmitterPlan) -> String {
    let tones = plan.tones();
    format!(
        "{:.2} baud, {} stop units; with tones mark {:.0} Hz, space {:.0} Hz, level {}",
        plan.rate_baud, plan.stop_units, tones.mark_hz, tones.space_hz, plan.level
    )
}
