//! One contact.

use crate::adif::Record;
use crate::band::band;
use jiff::Timestamp;
use jiff::civil::{Date, Time};
use jiff::tz::Offset;
use serde::{Deserialize, Serialize};

/// The mode of this program's contacts, as ADIF names it (3.1.7, mode enumeration).
const MODE: &str = "RTTY";
/// Longest text of a field that a person gives, characters.
const LONGEST: usize = 200;

/// With whom, when, how well heard.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Contact {
    /// The other station's call.
    pub call: String,
    /// When it began.
    #[serde(with = "one")]
    pub begin: Timestamp,
    /// When it ended.
    #[serde(with = "maybe")]
    pub end: Option<Timestamp>,
    /// Where, Hz, if the dial is known.
    pub frequency_hz: Option<f64>,
    /// How it was made: `RTTY`, or what an imported log says.
    pub mode: String,
    /// The report that was given.
    pub report_sent: String,
    /// The report that was got.
    pub report_received: String,
    /// The name of who was there.
    pub name: String,
    /// The number that was given.
    pub number_sent: Option<u64>,
    /// The number that was got.
    pub number_received: Option<u64>,
    /// This station's call.
    pub own: String,
    /// Anything worth knowing.
    pub note: String,
    /// What an imported log says besides, as it says it.
    pub other: Vec<(String, String)>,
}

/// Why it is no contact.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ContactError {
    /// Nobody is named.
    #[error("a contact needs the other station's call; {found:?} is none")]
    Call {
        /// What was found.
        found: String,
    },
    /// A day or time that is none.
    #[error("{field} is {found:?}; expected {expected}")]
    Time {
        /// Which field.
        field: &'static str,
        /// What was found.
        found: String,
        /// What was expected.
        expected: &'static str,
    },
    /// Too long.
    #[error("{field} has {length} characters, at most 200 may be kept")]
    TooLong {
        /// Which field.
        field: &'static str,
        /// How long it is.
        length: usize,
    },
    /// No frequency.
    #[error("{found} Hz is no frequency; expected 1 kHz to 300 GHz")]
    Frequency {
        /// What was found, Hz.
        found: f64,
    },
}

impl Contact {
    /// In the form in which it is kept: capitals, no blanks around, RTTY unless another mode is
    /// given.
    ///
    /// # Errors
    ///
    /// What makes it no contact.
    pub fn checked(mut self) -> Result<Self, ContactError> {
        self.call = self.call.trim().to_ascii_uppercase();
        self.own = self.own.trim().to_ascii_uppercase();
        if !is_call(&self.call) {
            return Err(ContactError::Call { found: self.call });
        }
        for (field, text) in [
            ("the name", &mut self.name),
            ("the report given", &mut self.report_sent),
            ("the report got", &mut self.report_received),
            ("the note", &mut self.note),
            ("the own call", &mut self.own),
            ("the mode", &mut self.mode),
        ] {
            let plain: String = text.chars().filter(|c| !c.is_control()).collect();
            *text = plain.trim().to_string();
            let length = text.chars().count();
            if length > LONGEST {
                return Err(ContactError::TooLong { field, length });
            }
        }
        // What was nothing but control characters is none either.
        if self.mode.is_empty() {
            self.mode = MODE.into();
        }
        match self.frequency_hz {
            Some(hz) if !(1e3..=3e11).contains(&hz) => Err(ContactError::Frequency { found: hz }),
            _ => Ok(self),
        }
    }

    /// The band, by its name in ADIF.
    pub fn band(&self) -> Option<&'static str> {
        self.frequency_hz.and_then(band)
    }

    /// As ADIF has it: the time of begin and end in UTC, the frequency in MHz.
    pub fn record(&self) -> Record {
        let mut record = Record::default();
        let mut put = |name: &str, value: &str| {
            if !value.is_empty() {
                record.put(name, value);
            }
        };
        put("CALL", &self.call);
        let begin = Offset::UTC.to_datetime(self.begin);
        put("QSO_DATE", &begin.strftime("%Y%m%d").to_string());
        put("TIME_ON", &begin.strftime("%H%M%S").to_string());
        if let Some(end) = self.end {
            let end = Offset::UTC.to_datetime(end);
            put("QSO_DATE_OFF", &end.strftime("%Y%m%d").to_string());
            put("TIME_OFF", &end.strftime("%H%M%S").to_string());
        }
        if let Some(hz) = self.frequency_hz {
            put("FREQ", &format!("{:.6}", hz / 1e6));
        }
        put("BAND", self.band().unwrap_or_default());
        put("MODE", &self.mode);
        put("RST_SENT", &self.report_sent);
        put("RST_RCVD", &self.report_received);
        put("NAME", &self.name);
        let number = |number: Option<u64>| number.map(|n| n.to_string()).unwrap_or_default();
        put("STX", &number(self.number_sent));
        put("SRX", &number(self.number_received));
        put("STATION_CALLSIGN", &self.own);
        put("COMMENT", &self.note);
        // What was read stays, but for what stands above already.
        for (name, value) in &self.other {
            if record.get(name).is_none() {
                record.put(name, value);
            }
        }
        record
    }

    /// From ADIF; what has no place here is kept as it is.
    ///
    /// # Errors
    ///
    /// No call, no day, or a time that is none.
    pub fn of_record(record: &Record) -> Result<Self, ContactError> {
        let text = |name: &str| record.get(name).unwrap_or_default().trim().to_string();
        let begin = moment(
            ("QSO_DATE", &text("QSO_DATE")),
            ("TIME_ON", &text("TIME_ON")),
        )?;
        let number = |name: &str| text(name).parse().ok();
        let mhz: Option<f64> = text("FREQ").parse().ok();
        let hz = mhz.map(|mhz| (mhz * 1e9).round() / 1e3);
        let contact = Contact {
            call: text("CALL"),
            begin,
            end: end(begin, &text("QSO_DATE_OFF"), &text("TIME_OFF"))?,
            frequency_hz: hz.filter(|hz| (1e3..=3e11).contains(hz)),
            mode: text("MODE"),
            report_sent: text("RST_SENT"),
            report_received: text("RST_RCVD"),
            name: text("NAME"),
            number_sent: number("STX"),
            number_received: number("SRX"),
            own: text("STATION_CALLSIGN"),
            note: text("COMMENT"),
            other: Vec::new(),
        };
        let mut contact = contact.checked()?;
        let own = contact.record();
        let is_other = |(name, _): &&(String, String)| {
            own.get(name).is_none() && !OWN.contains(&name.as_str())
        };
        contact.other = record.fields().iter().filter(is_other).cloned().collect();
        Ok(contact)
    }
}

/// Fields that have a place in a contact whatever they say.
const OWN: [&str; 9] = [
    "CALL",
    "MODE",
    "RST_SENT",
    "RST_RCVD",
    "NAME",
    "STATION_CALLSIGN",
    "COMMENT",
    "QSO_DATE_OFF",
    "TIME_OFF",
];

/// Letters, digits and strokes, with a digit and a letter: what a call may look like anywhere.
fn is_call(text: &str) -> bool {
    (3..=20).contains(&text.len())
        && text.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'/')
        && text.bytes().any(|b| b.is_ascii_digit())
        && text.bytes().any(|b| b.is_ascii_alphabetic())
}

/// A day `YYYYMMDD` and a time `HHMM` or `HHMMSS`, UTC (ADIF 3.1.7, data types Date and Time).
fn moment(
    (date_is, date): (&'static str, &str),
    (time_is, time): (&'static str, &str),
) -> Result<Timestamp, ContactError> {
    let day = digits(date, 8).and_then(|()| {
        let (year, rest) = date.split_at(4);
        let (month, day) = rest.split_at(2);
        Date::new(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?).ok()
    });
    let day = day.ok_or_else(|| ContactError::Time {
        field: date_is,
        found: date.into(),
        expected: "a day as 20261114",
    })?;
    let clock = match time.len() {
        // Without a time the day is all that is known.
        0 => Some(Time::midnight()),
        4 | 6 => digits(time, time.len()).and_then(|()| {
            let part = |at: usize| time.get(at..at + 2).map_or(Some(0), |two| two.parse().ok());
            Time::new(part(0)?, part(2)?, part(4)?, 0).ok()
        }),
        _ => None,
    };
    let clock = clock.ok_or_else(|| ContactError::Time {
        field: time_is,
        found: time.into(),
        expected: "a time in UTC as 1930 or 193000",
    })?;
    let at = day.to_datetime(clock);
    Offset::UTC
        .to_timestamp(at)
        .map_err(|_| ContactError::Time {
            field: date_is,
            found: date.into(),
            expected: "a day that can be reckoned with",
        })
}

fn digits(text: &str, count: usize) -> Option<()> {
    (text.len() == count && text.bytes().all(|b| b.is_ascii_digit())).then_some(())
}

/// Without a day of its own the end is within a day of the begin (ADIF 3.1.7, QSO_DATE_OFF).
fn end(begin: Timestamp, date: &str, time: &str) -> Result<Option<Timestamp>, ContactError> {
    if time.is_empty() {
        return Ok(None);
    }
    let time = ("TIME_OFF", time);
    if !date.is_empty() {
        return moment(("QSO_DATE_OFF", date), time).map(Some);
    }
    let day = Offset::UTC
        .to_datetime(begin)
        .strftime("%Y%m%d")
        .to_string();
    let end = moment(("QSO_DATE", &day), time)?;
    let next = jiff::SignedDuration::from_hours(24);
    Ok(match end < begin {
        true => end.checked_add(next).ok(),
        false => Some(end),
    })
}

/// A time as text of RFC 3339.
mod one {
    use jiff::Timestamp;
    use serde::{Deserialize, Deserializer, Serializer, de::Error};

    pub fn serialize<S: Serializer>(at: &Timestamp, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(at)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Timestamp, D::Error> {
        String::deserialize(from)?.parse().map_err(D::Error::custom)
    }
}

/// The same, or none.
mod maybe {
    use jiff::Timestamp;
    use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error};

    pub fn serialize<S: Serializer>(at: &Option<Timestamp>, to: S) -> Result<S::Ok, S::Error> {
        at.map(|at| at.to_string()).serialize(to)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Timestamp>, D::Error> {
        let text: Option<String> = Option::deserialize(from)?;
        text.map(|text| text.parse().map_err(D::Error::custom))
            .transpose()
    }
}
