//! What is remembered of earlier characters for weighing the doubt about later ones.
//!
//! * A strong signal beside makes the receiver's AGC turn everything down, the noise of the
//!   band with it. The highest level that the noise has had of late is that of an open
//!   receiver.
//! * A sender whose transitions come at wrong times sends all characters so, the sure ones
//!   too.

use crate::pair::conditions::Conditions;

/// How fast the highest level of the noise is forgotten, dB/s: noise that falls by itself
/// does so within minutes, AGC acts within a second.
const FORGOTTEN_DB_PER_S: f32 = 0.1;
/// Characters over which the misfit of transitions is averaged.
const EDGES_CHARACTERS: f32 = 10.0;

/// What is remembered of earlier characters.
#[derive(Clone, Debug, Default)]
pub struct Memory {
    /// Instant, s, and highest level of the noise, dB.
    highest: Option<(f64, f32)>,
    /// Mean misfit of transitions, and by how much they make marks longer.
    edges: Option<[f32; 2]>,
}

impl Memory {
    /// Completes the conditions of a character that starts at an instant by what earlier
    /// ones tell, and remembers them.
    pub fn complete(&mut self, start_s: f64, conditions: &mut Conditions) {
        conditions.turned_down_db = self.turned_down_db(start_s, conditions.floor_db);
        let now = [conditions.edges, conditions.longer_marks];
        let usual = self.edges.get_or_insert(now);
        for (usual, now) in usual.iter_mut().zip(now) {
            *usual += (now - *usual) / EDGES_CHARACTERS;
        }
        [conditions.edges_usual, conditions.longer_marks] = *usual;
    }

    /// How far the noise, at `floor_db` at an instant, lies below the highest level, dB.
    fn turned_down_db(&mut self, at_s: f64, floor_db: f32) -> f32 {
        let (then_s, highest_db) = self.highest.unwrap_or((at_s, floor_db));
        let forgotten = (at_s - then_s).max(0.0) as f32 * FORGOTTEN_DB_PER_S;
        let highest_db = floor_db.max(highest_db - forgotten);
        self.highest = Some((at_s, highest_db));
        highest_db - floor_db
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn falls_of_the_noise_are_told_until_they_are_forgotten() {
        let mut memory = Memory::default();
        assert_eq!(memory.turned_down_db(0.0, -40.0), 0.0);
        let down = memory.turned_down_db(1.0, -65.0);
        assert!((down - 24.9).abs() < 1e-3, "{down}");
        let later = memory.turned_down_db(101.0, -65.0);
        assert!((later - 14.9).abs() < 1e-3, "{later}");
        assert_eq!(memory.turned_down_db(1000.0, -65.0), 0.0);
        assert_eq!(memory.turned_down_db(1001.0, -50.0), 0.0);
    }

    #[test]
    fn misfit_that_lasts_becomes_usual() {
        let mut memory = Memory::default();
        let mut usual = |edges: f32| {
            let mut conditions = Conditions {
                edges,
                longer_marks: -0.1 * edges,
                ..Conditions::default()
            };
            memory.complete(0.0, &mut conditions);
            let longer = conditions.longer_marks;
            assert!((longer + 0.1 * conditions.edges_usual).abs() < 1e-6);
            conditions.edges_usual
        };
        assert_eq!(usual(0.5), 0.5);
        assert!(usual(5.0) < 1.0);
        let last = (0..60).map(|_| usual(5.0)).last();
        assert!(last.is_some_and(|l| (l - 5.0).abs() < 0.05), "{last:?}");
    }
}
