//! Signals, times and numbers in words, for people.

use jiff::SignedDuration;
use jiff::civil::DateTime;
use markhold_event::{Sense, Signal};

/// A time from the beginning of the sound: `4:07.3`, or `1:04:07.3` past an hour.
pub fn time(seconds: f64) -> String {
    let tenths = (seconds.max(0.0) * 10.0).round() as u64;
    let (hours, rest) = (tenths / 36_000, tenths % 36_000);
    let (minutes, seconds) = (rest / 600, rest % 600);
    let seconds = format!("{:02}.{}", seconds / 10, seconds % 10);
    match hours {
        0 => format!("{minutes}:{seconds}"),
        _ => format!("{hours}:{minutes:02}:{seconds}"),
    }
}

/// What the recorder's clock showed behind a time of the sound, where that is known:
/// `, 19:30:05 on the clock`. Files do not say in which time zone.
pub fn clock(begin: Option<DateTime>, seconds: f64) -> String {
    let span = SignedDuration::try_from_secs_f64(seconds).ok();
    let at = begin
        .zip(span)
        .and_then(|(begin, span)| begin.checked_add(span).ok());
    at.map_or_else(String::new, |at| {
        at.strftime(", %H:%M:%S on the clock").to_string()
    })
}

/// The pair and its rate: `mark 2125.0 Hz, space 2295.2 Hz (shift 170), 45.45 baud`.
pub fn pair(signal: &Signal) -> String {
    let shift = signal.usual_shift_hz.unwrap_or(signal.shift_hz);
    let rate = signal.usual_rate_baud.unwrap_or(signal.rate_baud);
    format!(
        "mark {:.1} Hz, space {:.1} Hz (shift {shift:.0}), {} baud",
        signal.mark_hz,
        signal.space_hz,
        trimmed(rate)
    )
}

/// Which tone is mark, with what usually is the reason where it is the higher one.
pub fn sense(sense: Sense) -> &'static str {
    match sense {
        Sense::LowerTone => "mark is the lower tone",
        Sense::HigherTone => "mark is the higher tone (the other sideband?)",
    }
}

/// A line for a signal just found.
pub fn found(signal: &Signal) -> String {
    format!(
        "{}  signal {}: {}, {}, {:.0} dB in 3 kHz",
        time(signal.begin_s),
        signal.id.0,
        pair(signal),
        sense(signal.sense),
        signal.snr_3khz_db
    )
}

/// A line for a signal that ended after `characters` characters.
pub fn ended(signal: &Signal, characters: u64, doubtful: u64) -> String {
    let share = match characters {
        0 => String::new(),
        n => format!(" ({:.0} % doubtful)", 100.0 * doubtful as f64 / n as f64),
    };
    format!(
        "{}  signal {} ended: {characters} characters{share}, {:.0} dB in 3 kHz, drifted {:+.1} Hz",
        time(signal.until_s),
        signal.id.0,
        signal.snr_3khz_db,
        signal.drift_hz
    )
}

fn trimmed(number: f64) -> String {
    let text = format!("{number:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_and_numbers() {
        assert_eq!(time(0.0), "0:00.0");
        assert_eq!(time(59.96), "1:00.0");
        assert_eq!(time(247.3), "4:07.3");
        assert_eq!(time(3_847.25), "1:04:07.3");
        assert_eq!(time(-1.0), "0:00.0");
        assert_eq!(
            (trimmed(45.4545), trimmed(50.0)),
            ("45.45".into(), "50".into())
        );
    }
}
