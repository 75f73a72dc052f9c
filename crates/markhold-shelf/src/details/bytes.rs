//! Numbers in bytes: times, odds.

use markhold_event::Codes;

/// Steps of the odds.
const ODDS: f64 = 1024.0;

pub(super) fn put_time(bytes: &mut Vec<u8>, step: i64) {
    let mut left = ((step << 1) ^ (step >> 63)) as u64;
    while left >= 0x80 {
        bytes.push(left as u8 | 0x80);
        left >>= 7;
    }
    bytes.push(left as u8);
}

pub(super) fn put_odds(bytes: &mut Vec<u8>, probability: f32) {
    let p = f64::from(probability).clamp(0.0, 1.0);
    // A cast of what is too large gives the ends; of what is no number, 0: even odds.
    let odds = ((p / (1.0 - p)).ln() * ODDS).round() as i16;
    bytes.extend(odds.to_le_bytes());
}

/// A share, 0 to 1, in a byte.
pub(super) fn put_share(bytes: &mut Vec<u8>, share: f32) {
    bytes.push((share * 255.0).round() as u8);
}

/// Bytes that are read one after the other; `None` where they end too early.
pub(super) struct Bytes<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Bytes<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Self {
        Bytes { bytes, at: 0 }
    }

    /// How many were read.
    pub(super) fn at(&self) -> usize {
        self.at
    }

    pub(super) fn byte(&mut self) -> Option<u8> {
        let byte = *self.bytes.get(self.at)?;
        self.at += 1;
        Some(byte)
    }

    pub(super) fn time(&mut self) -> Option<i64> {
        let mut zigzag = 0u64;
        for shift in (0..64).step_by(7) {
            let byte = self.byte()?;
            zigzag |= u64::from(byte & 0x7F) << shift;
            if byte < 0x80 {
                return Some((zigzag >> 1) as i64 ^ -((zigzag & 1) as i64));
            }
        }
        None
    }

    pub(super) fn odds(&mut self) -> Option<f32> {
        match i16::from_le_bytes([self.byte()?, self.byte()?]) {
            i16::MIN => Some(0.0),
            i16::MAX => Some(1.0),
            odds => Some((1.0 / (1.0 + (-f64::from(odds) / ODDS).exp())) as f32),
        }
    }

    pub(super) fn codes(&mut self) -> Option<Codes> {
        let mut rest = &self.bytes[self.at..];
        let codes = Codes::take(&mut rest)?;
        self.at = self.bytes.len() - rest.len();
        Some(codes)
    }

    pub(super) fn share(&mut self) -> Option<f32> {
        Some(f32::from(self.byte()?) / 255.0)
    }
}
