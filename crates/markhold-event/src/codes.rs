//! How likely each of the codes is, packed: two bytes where one is certain, ten where eight
//! are possible.
//!
//! The best code is kept by name, every other one by how far it lies behind it: the natural
//! logarithm of the ratio of their shares, in steps of [`Codes::STEP`]. The best one's own
//! share is what makes all of them 1, so it is exact where it matters, near certainty.
//!
//! ```text
//! bits, lowest first:
//!   5  best code | 5  how many others
//!   up to six others:  for each  5 code | 6 steps behind the best   (in order of code)
//!   more:              32 mask of the others | for each  6 steps    (in order of code)
//!   zeros up to a whole byte
//! ```

use markhold_code::Code;

/// Bits of a code, of a count of codes, of steps.
const CODE_BITS: u32 = Code::UNITS as u32;
const STEP_BITS: u32 = 6;
const MOST_STEPS: u8 = (1 << STEP_BITS) - 1;
/// Up to so many others are listed; for more a mask of all codes is shorter.
const LISTED: usize = 6;
/// Steps of a code that is left out.
const LEFT_OUT: u8 = u8::MAX;

/// The shares of all codes, given that one of them was sent.
///
/// Codes with a share up to [`Codes::NEGLIGIBLE`] are left out. Of those held, the logarithm
/// of a share is right within [`Codes::STEP`] and [`Codes::NEGLIGIBLE`] of each code left out, the logarithm of
/// the ratio to the best within half a step, the order is kept but where two are within a
/// step of each other, and the best one stays the best.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Codes {
    best: Code,
    /// Steps that each code lies behind the best, or [`LEFT_OUT`].
    behind: [u8; Code::COUNT],
}

impl Codes {
    /// Codes with shares up to this are left out.
    pub const NEGLIGIBLE: f32 = 1e-4;

    /// One step, in natural logarithms: 63 of them reach from 1 to [`Codes::NEGLIGIBLE`],
    /// whose logarithm is -9.21.
    pub const STEP: f32 = 0.15;

    /// Packs shares, by value of the code. They need not add up to 1; what is below 0 or no
    /// number counts as 0, and where all do, every code is as likely as the others.
    pub fn new(shares: &[f32; Code::COUNT]) -> Self {
        let clean = shares.map(|s| if s > 0.0 { s.min(f32::MAX) } else { 0.0 });
        let best = (0..Code::COUNT).fold(0, |best, c| match clean[c] > clean[best] {
            true => c,
            false => best,
        });
        match clean[best] > 0.0 {
            true => Self::behind(Code::ALL[best], &clean, Self::NEGLIGIBLE),
            false => Self::behind(Code::BLANK, &[1.0; Code::COUNT], 0.0),
        }
    }

    /// Packs shares above `least` of their sum, of which `best` is the greatest.
    fn behind(best: Code, shares: &[f32; Code::COUNT], least: f32) -> Self {
        let most = f64::from(shares[usize::from(best.value())]);
        let sum: f64 = shares.iter().map(|s| f64::from(*s)).sum();
        let steps = |ratio: f64| (-ratio.ln() / f64::from(Self::STEP)).round() as u8;
        let behind = shares.map(|s| match f64::from(s) > f64::from(least) * sum {
            true => steps(f64::from(s) / most).min(MOST_STEPS),
            false => LEFT_OUT,
        });
        let mut codes = Self { best, behind };
        codes.behind[usize::from(best.value())] = 0;
        codes
    }

    /// Only this code.
    pub fn only(code: Code) -> Self {
        let mut behind = [LEFT_OUT; Code::COUNT];
        behind[usize::from(code.value())] = 0;
        Self { best: code, behind }
    }

    /// The likeliest code.
    pub fn best(&self) -> Code {
        self.best
    }

    /// The shares by value of the code; those held add up to 1, the others are 0.
    pub fn shares(&self) -> [f32; Code::COUNT] {
        let ratios = self.behind.map(|steps| match steps {
            LEFT_OUT => 0.0,
            steps => (-Self::STEP * f32::from(steps)).exp(),
        });
        let sum: f32 = ratios.iter().sum();
        ratios.map(|ratio| ratio / sum)
    }

    /// The share of a code; 0 where it is left out.
    pub fn share(&self, code: Code) -> f32 {
        self.shares()[usize::from(code.value())]
    }

    /// The codes held and their shares, the likeliest first.
    pub fn held(&self) -> Vec<(Code, f32)> {
        let shares = self.shares();
        let mut held = self.others();
        held.sort_by_key(|code| self.behind[usize::from(code.value())]);
        held.insert(0, self.best);
        let share = |code: Code| (code, shares[usize::from(code.value())]);
        held.into_iter().map(share).collect()
    }

    /// Codes from what [`Codes::held`] gave; `None` if there is none or its share is 0.
    pub fn of_held(held: &[(Code, f32)]) -> Option<Self> {
        let (best, _) = *held.first().filter(|(_, share)| *share > 0.0)?;
        let mut shares = [0.0; Code::COUNT];
        for (code, share) in held {
            shares[usize::from(code.value())] = share.clamp(0.0, held[0].1);
        }
        Some(Self::behind(best, &shares, 0.0))
    }

    /// The codes held but the best, in order of value.
    fn others(&self) -> Vec<Code> {
        let other =
            |code: &Code| *code != self.best && self.behind[usize::from(code.value())] != LEFT_OUT;
        Code::ALL.into_iter().filter(other).collect()
    }

    /// Adds them to bytes: two for one code alone, two to four with one or two others, 29 at
    /// most.
    pub fn put(&self, bytes: &mut Vec<u8>) {
        let others = self.others();
        let steps = |code: &Code| u32::from(self.behind[usize::from(code.value())]);
        let mut bits = Bits::default();
        bits.put(u32::from(self.best.value()), CODE_BITS);
        bits.put(others.len() as u32, CODE_BITS);
        if others.len() > LISTED {
            let mask = |mask: u32, code: &Code| mask | 1 << code.value();
            bits.put(others.iter().fold(0, mask), u32::BITS);
        }
        for code in &others {
            if others.len() <= LISTED {
                bits.put(u32::from(code.value()), CODE_BITS);
            }
            bits.put(steps(code), STEP_BITS);
        }
        bits.finish(bytes);
    }

    /// Takes them off the front of `bytes`; `None` for damage.
    pub fn take(bytes: &mut &[u8]) -> Option<Self> {
        let mut bits = Taken::new(bytes);
        let mut codes = Self::only(bits.code()?);
        let count = bits.take(CODE_BITS)? as usize;
        let mask = match count > LISTED {
            true => bits.take(u32::BITS)?,
            false => 0,
        };
        let mut masked = Code::ALL
            .iter()
            .filter(|code| mask >> code.value() & 1 == 1);
        for _ in 0..count {
            let code = match count > LISTED {
                true => *masked.next()?,
                false => bits.code()?,
            };
            let steps = bits.take(STEP_BITS)? as u8;
            let place = &mut codes.behind[usize::from(code.value())];
            if *place != LEFT_OUT {
                return None;
            }
            *place = steps;
        }
        *bytes = masked.next().is_none().then(|| bits.rest())?;
        Some(codes)
    }
}

/// Bits on their way into bytes, lowest first.
#[derive(Default)]
struct Bits {
    bytes: Vec<u8>,
    left: u64,
    count: u32,
}

impl Bits {
    fn put(&mut self, value: u32, bits: u32) {
        self.left |= u64::from(value) << self.count;
        self.count += bits;
        while self.count >= 8 {
            self.bytes.push(self.left as u8);
            self.left >>= 8;
            self.count -= 8;
        }
    }

    fn finish(mut self, bytes: &mut Vec<u8>) {
        if self.count > 0 {
            self.bytes.push(self.left as u8);
        }
        bytes.append(&mut self.bytes);
    }
}

/// Bits on their way out of bytes.
struct Taken<'a> {
    bytes: &'a [u8],
    left: u64,
    count: u32,
}

impl<'a> Taken<'a> {
    fn new(bytes: &'a [u8]) -> Self {
        Self {
            bytes,
            left: 0,
            count: 0,
        }
    }

    fn take(&mut self, bits: u32) -> Option<u32> {
        while self.count < bits {
            let (first, rest) = self.bytes.split_first()?;
            self.left |= u64::from(*first) << self.count;
            self.count += 8;
            self.bytes = rest;
        }
        let value = self.left & ((1 << bits) - 1);
        self.left >>= bits;
        self.count -= bits;
        Some(value as u32)
    }

    fn code(&mut self) -> Option<Code> {
        Code::new(self.take(CODE_BITS)? as u8)
    }

    /// What follows the last byte that was begun.
    fn rest(self) -> &'a [u8] {
        self.bytes
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Shares from nearly even to nearly certain.
    fn shares() -> impl Strategy<Value = [f32; Code::COUNT]> {
        (proptest::collection::vec(1e-6..1.0f32, 32), 0.2..40.0f32).prop_map(|(raw, sharp)| {
            let powers: Vec<f32> = raw.iter().map(|r| r.powf(sharp)).collect();
            let sum: f32 = powers.iter().sum();
            std::array::from_fn(|c| powers[c] / sum)
        })
    }

    fn packed(codes: &Codes) -> Vec<u8> {
        let mut bytes = Vec::new();
        codes.put(&mut bytes);
        bytes
    }

    proptest! {
        #[test]
        fn logarithms_of_shares_are_kept_within_their_bounds(shares in shares()) {
            let codes = Codes::new(&shares);
            let back = codes.shares();
            prop_assert!((back.iter().sum::<f32>() - 1.0).abs() < 1e-5);
            let best = usize::from(codes.best().value());
            let sum: f32 = shares.iter().sum();
            for c in 0..32 {
                prop_assert!(shares[c] <= shares[best] && back[c] <= back[best]);
                // Where one stands on the border, the last bits decide.
                if (shares[c] / sum / Codes::NEGLIGIBLE - 1.0).abs() < 1e-5 {
                    continue;
                }
                if shares[c] / sum <= Codes::NEGLIGIBLE {
                    prop_assert_eq!(back[c], 0.0);
                    continue;
                }
                let off = (back[c] / (shares[c] / sum)).ln().abs();
                prop_assert!(off < Codes::STEP + 31.0 * Codes::NEGLIGIBLE, "{c}: {off}");
                let ratio = (back[c] / back[best]) / (shares[c] / shares[best]);
                prop_assert!(ratio.ln().abs() < Codes::STEP / 2.0 + 1e-4, "{c}: {ratio}");
            }
        }

        #[test]
        fn the_order_of_the_best_is_kept(shares in shares()) {
            let codes = Codes::new(&shares);
            let back = codes.shares();
            for a in 0..32 {
                for b in 0..32 {
                    prop_assert!(shares[a] < shares[b] || back[a] >= back[b]);
                }
            }
            let held = codes.held();
            prop_assert_eq!(held[0].0, codes.best());
            prop_assert!(held.windows(2).all(|two| two[0].1 >= two[1].1));
            prop_assert_eq!(Codes::of_held(&held), Some(codes));
        }

        #[test]
        fn bytes_give_the_same_back_and_what_follows(shares in shares(), after in any::<[u8; 2]>()) {
            let codes = Codes::new(&shares);
            let mut bytes = packed(&codes);
            prop_assert!(bytes.len() <= 29);
            // Near certainty, as most characters are.
            prop_assert!(codes.others().len() > 3 || bytes.len() <= 6);
            bytes.extend(after);
            let mut from = &bytes[..];
            prop_assert_eq!(Codes::take(&mut from), Some(codes));
            prop_assert_eq!(from, after);
        }

        #[test]
        fn any_bytes_give_codes_or_nothing(bytes in proptest::collection::vec(any::<u8>(), 0..40)) {
            let mut from = &bytes[..];
            if let Some(codes) = Codes::take(&mut from) {
                let sum: f32 = codes.shares().iter().sum();
                prop_assert!((sum - 1.0).abs() < 1e-5);
                prop_assert!(from.len() < bytes.len());
            }
        }
    }

    #[test]
    fn what_is_no_likelihood_says_nothing() {
        for strange in [[0.0; 32], [f32::NAN; 32], [-1.0; 32]] {
            let codes = Codes::new(&strange);
            assert!(codes.shares().iter().all(|s| (s - 1.0 / 32.0).abs() < 1e-6));
        }
        let mut certain = [0.0; 32];
        certain[20] = f32::INFINITY;
        assert_eq!(Codes::new(&certain), Codes::only(Code::ALL[20]));
        assert_eq!(Codes::of_held(&[]), None);
    }

    /// A known answer: best 3; 19 behind by ln 9 = 2.197, which is 14.6 steps.
    #[test]
    fn a_known_answer_in_bytes() {
        let mut shares = [0.0; 32];
        (shares[3], shares[19]) = (0.9, 0.1);
        let bytes = packed(&Codes::new(&shares));
        let bits: u32 = 3 | 1 << 5 | 19 << 10 | 15 << 15;
        assert_eq!(bytes, bits.to_le_bytes()[..3]);
        let nearly = Codes::new(&shares).share(Code::ALL[3]);
        assert!((nearly - 1.0 / (1.0 + (-2.25f32).exp())).abs() < 1e-6);
    }
}
