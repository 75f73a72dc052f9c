//! What is drawn by seed, for tries that must come again as they were.

/// Numbers that seem random (a linear congruential generator, Knuth's MMIX constants).
pub struct Random(pub u64);

impl Random {
    pub fn below(&mut self, most: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % most
    }
}
