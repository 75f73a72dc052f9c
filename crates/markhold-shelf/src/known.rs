//! What a sked sends, as far as it is known: made anew by itself when one more of its runs was
//! kept.
//!
//! Skeds of one station and name are repeats of each other. Of what was kept of them in the last
//! two weeks, the copies that repeat the latest count; those of an earlier week's bulletin, which
//! have a head or a greeting in common with it, do not.

use super::joined::{Joined, KeptCopy, Missing, Which};
use super::{Shelf, ShelfError};
use jiff::{SignedDuration, Timestamp};
use markhold_join::Joint;
use markhold_skeds::Sked;
use rusqlite::{OptionalExtension, params};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// How far back runs are looked for.
const BACK: SignedDuration = SignedDuration::from_hours(14 * 24);
/// Least share of the shorter of two copies that both have, from which on one repeats the other.
const SAME: f64 = 0.5;

/// What a sked sends, as far as it is known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Known {
    /// When it was put together.
    #[serde(with = "time")]
    pub made: Timestamp,
    /// The copies that say it, in order of time.
    pub copies: Vec<KnownCopy>,
    /// Characters that are shown.
    pub characters: u64,
    /// How many of them are doubtful.
    pub doubtful: u64,
    /// Places where copies are sure and differ.
    pub variants: u64,
    /// The text: doubtful between [ and ], variants as <117|118>.
    pub lines: Vec<String>,
    /// What no copy tells.
    pub missing: Vec<KnownMissing>,
}

/// A copy that says it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KnownCopy {
    /// The evening.
    pub evening: i64,
    /// The signal.
    pub signal: u32,
    /// When its first character was heard.
    #[serde(with = "time")]
    pub begin: Timestamp,
}

/// Something that no copy tells.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KnownMissing {
    /// The line in which it begins, counted from 1; `None` where nothing of it is shown.
    pub line: Option<usize>,
    /// `doubtful`, `uncrossed` or `silent`.
    pub why: String,
    /// Doubtful characters.
    pub doubtful: usize,
    /// For how long nothing was read, s.
    pub silent_s: Option<f64>,
}

impl Shelf {
    /// Puts together anew what any sked sends, where runs were kept since it was last; returns
    /// the skeds of which that is so, each by the first of those that repeat it.
    ///
    /// Sound is heard again where copies do not go together, so it may take a while. Errors: the
    /// archive.
    pub fn make_known(&mut self, now: Timestamp) -> Result<Vec<i64>, ShelfError> {
        let mut made = Vec::new();
        for skeds in repeats(&self.skeds()?) {
            let kept = self.kept_of_skeds(&skeds, now.saturating_sub(BACK).unwrap_or(now))?;
            let made_of = named(&kept);
            if kept.is_empty() || self.is_made_of(skeds[0], &made_of)? {
                continue;
            }
            if let Some(known) = self.put_together(&kept, now)? {
                let known = serde_json::json!(known).to_string();
                self.archive().execute(
                    "INSERT OR REPLACE INTO known (sked, made_of, known) VALUES (?1, ?2, ?3)",
                    params![skeds[0], made_of, known],
                )?;
                made.push(skeds[0]);
            }
        }
        Ok(made)
    }

    /// What a sked sends as far as it was known when that was last put together; `None` where
    /// nothing of it was kept yet.
    ///
    /// Errors: no such sked; the archive.
    pub fn known(&self, sked: i64) -> Result<Option<Known>, ShelfError> {
        self.sked(sked)?;
        let first = self.repeats_of(sked)?[0];
        let mut query = self
            .archive()
            .prepare_cached("SELECT known FROM known WHERE sked = ?1")?;
        let known: Option<String> = query.query_row([first], |row| row.get(0)).optional()?;
        // What a later version wrote is put together anew.
        Ok(known.and_then(|text| serde_json::from_str(&text).ok()))
    }

    /// What a sked sends by all that is kept by now, on a shelf that may only be read: it is put
    /// together anew where that was not done since, and not kept.
    ///
    /// Errors: no such sked; the archive.
    pub fn known_by_now(&self, sked: i64, now: Timestamp) -> Result<Option<Known>, ShelfError> {
        let skeds = self.repeats_of(sked)?;
        let kept = self.kept_of_skeds(&skeds, now.saturating_sub(BACK).unwrap_or(now))?;
        match kept.is_empty() || self.is_made_of(skeds[0], &named(&kept))? {
            true => self.known(sked),
            false => self.put_together(&kept, now),
        }
    }

    /// The skeds that repeat this one, itself among them, in order.
    ///
    /// Errors: one that cannot be read.
    pub fn repeats_of(&self, sked: i64) -> Result<Vec<i64>, ShelfError> {
        let all = repeats(&self.skeds()?);
        let found = all.into_iter().find(|ids| ids.contains(&sked));
        Ok(found.unwrap_or_else(|| vec![sked]))
    }

    fn is_made_of(&self, sked: i64, made_of: &str) -> Result<bool, ShelfError> {
        let mut query = self
            .archive()
            .prepare_cached("SELECT made_of FROM known WHERE sked = ?1")?;
        let found: Option<String> = query.query_row([sked], |row| row.get(0)).optional()?;
        Ok(found.as_deref() == Some(made_of))
    }

    fn put_together(&self, kept: &[Which], now: Timestamp) -> Result<Option<Known>, ShelfError> {
        let all = self.join(kept)?;
        let Some(latest) = all.copies.len().checked_sub(1) else {
            return Ok(None);
        };
        let same: Vec<Which> = match all.joints.iter().find(|j| j.copies.contains(&latest)) {
            None => vec![all.copies[latest].which()],
            Some(joint) => {
                let same = joint
                    .copies
                    .iter()
                    .filter(|k| repeats_it(joint, **k, latest));
                same.map(|k| all.copies[*k].which()).collect()
            }
        };
        let joined = self.join_again(&same, &mut |_, _, _| {})?;
        Ok(Some(match joined.joints.first() {
            Some(joint) => of_joint(&joined, joint, now),
            None => of_copy(&joined.copies[joined.copies.len() - 1], now),
        }))
    }
}

/// Times as RFC 3339.
mod time {
    use jiff::Timestamp;
    use serde::{Deserialize, Deserializer, Serializer, de::Error};

    pub fn serialize<S: Serializer>(time: &Timestamp, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(time)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Timestamp, D::Error> {
        String::deserialize(from)?.parse().map_err(D::Error::custom)
    }
}

/// Skeds of one station and name together, in order of their numbers.
fn repeats(skeds: &BTreeMap<i64, Sked>) -> Vec<Vec<i64>> {
    let mut all: BTreeMap<(&str, &str), Vec<i64>> = BTreeMap::new();
    for (id, sked) in skeds {
        let named = (sked.station.trim(), sked.title().trim());
        all.entry(named).or_default().push(*id);
    }
    all.into_values().collect()
}

fn named(kept: &[Which]) -> String {
    let all: Vec<_> = kept.iter().map(|w| (w.evening, w.signal)).collect();
    serde_json::json!(all).to_string()
}

/// Whether one copy of a joint copy says what another says.
fn repeats_it(joint: &Joint, k: usize, latest: usize) -> bool {
    let borne = |k: usize| {
        joint
            .characters
            .iter()
            .filter(|c| c.slots[k].is_some())
            .count()
    };
    let both =
        |c: &&markhold_join::JointCharacter| c.slots[k].is_some() && c.slots[latest].is_some();
    let shared = joint.characters.iter().filter(both).count();
    shared as f64 >= SAME * borne(k).min(borne(latest)) as f64
}

fn of_joint(joined: &Joined, joint: &Joint, made: Timestamp) -> Known {
    let (characters, doubtful) = joined.counted(joint);
    let lines = joined.lines(joint);
    let missing = |m: &Missing| KnownMissing {
        line: m.line(&lines).map(|at| at + 1),
        why: m.why.word().to_string(),
        doubtful: m.doubtful(),
        silent_s: m.silent_s(),
    };
    let mut copies: Vec<usize> = joint.copies.clone();
    copies.sort_unstable();
    Known {
        made,
        copies: copies
            .iter()
            .map(|k| known_copy(&joined.copies[*k]))
            .collect(),
        characters: characters as u64,
        doubtful: doubtful as u64,
        variants: joint.variants.len() as u64,
        lines: joined.texts(joint),
        missing: joined.missing(joint).iter().map(missing).collect(),
    }
}

fn of_copy(copy: &KeptCopy, made: Timestamp) -> Known {
    let doubtful = copy.doubtful();
    let missing = KnownMissing {
        line: None,
        why: "doubtful".into(),
        doubtful,
        silent_s: None,
    };
    Known {
        made,
        copies: vec![known_copy(copy)],
        characters: copy.characters.len() as u64,
        doubtful: doubtful as u64,
        variants: 0,
        lines: copy.texts(),
        missing: Some(missing)
            .filter(|m| m.doubtful > 0)
            .into_iter()
            .collect(),
    }
}

fn known_copy(copy: &KeptCopy) -> KnownCopy {
    KnownCopy {
        evening: copy.evening,
        signal: copy.signal,
        begin: copy.begin.timestamp(),
    }
}
