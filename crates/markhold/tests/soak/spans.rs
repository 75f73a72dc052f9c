//! Stretches of places, as a set.

/// Stretches in order that do not touch.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Spans(Vec<(u64, u64)>);

impl Spans {
    pub fn of(all: impl IntoIterator<Item = (u64, u64)>) -> Self {
        let mut all: Vec<(u64, u64)> = all.into_iter().filter(|(a, b)| a < b).collect();
        all.sort_unstable();
        let mut spans: Vec<(u64, u64)> = Vec::new();
        for (from, until) in all {
            match spans.last_mut() {
                Some(last) if last.1 >= from => last.1 = last.1.max(until),
                _ => spans.push((from, until)),
            }
        }
        Spans(spans)
    }

    /// How much it is.
    pub fn len(&self) -> u64 {
        self.0.iter().map(|(from, until)| until - from).sum()
    }

    pub fn all(&self) -> &[(u64, u64)] {
        &self.0
    }

    /// Without what lies in another.
    pub fn minus(&self, other: &Spans) -> Spans {
        let mut left = Vec::new();
        for &(mut from, until) in &self.0 {
            let first = other.0.partition_point(|span| span.1 <= from);
            for &(a, b) in other.0[first..].iter().take_while(|span| span.0 < until) {
                if a > from {
                    left.push((from, a));
                }
                from = from.max(b);
            }
            if from < until {
                left.push((from, until));
            }
        }
        Spans(left)
    }

    /// What lies in both.
    pub fn common(&self, other: &Spans) -> Spans {
        self.minus(&self.minus(other))
    }

    /// Whether a place lies in it, or no further away than that.
    pub fn near(&self, place: u64, distance: u64) -> bool {
        let first = self.0.partition_point(|span| span.1 + distance < place);
        self.0
            .get(first)
            .is_some_and(|span| span.0 <= place + distance)
    }
}
