//! How one sample is stored, and its conversion to -1..1.

/// How a sample is stored; little-endian, as in WAV.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Encoding {
    /// 8-bit unsigned, 128 is zero.
    U8,
    /// 16-bit signed.
    S16,
    /// 24-bit signed, three bytes.
    S24,
    /// 32-bit signed.
    S32,
    /// 32-bit floating point.
    F32,
    /// 64-bit floating point.
    F64,
}

impl Encoding {
    /// Bytes of one sample.
    pub fn bytes(self) -> usize {
        match self {
            Encoding::U8 => 1,
            Encoding::S16 => 2,
            Encoding::S24 => 3,
            Encoding::S32 | Encoding::F32 => 4,
            Encoding::F64 => 8,
        }
    }

    /// Magnitude from which a sample counts as being at full scale.
    ///
    /// One step below 1.0 for integers, because the largest positive integer is that.
    pub fn full_scale(self) -> f32 {
        match self {
            Encoding::U8 => 127.0 / 128.0,
            Encoding::S16 => 32_767.0 / 32_768.0,
            Encoding::S24 => 8_388_607.0 / 8_388_608.0,
            Encoding::S32 | Encoding::F32 | Encoding::F64 => 1.0,
        }
    }

    /// The name for people, such as "16-bit".
    pub fn name(self) -> &'static str {
        match self {
            Encoding::U8 => "8-bit",
            Encoding::S16 => "16-bit",
            Encoding::S24 => "24-bit",
            Encoding::S32 => "32-bit",
            Encoding::F32 => "32-bit float",
            Encoding::F64 => "64-bit float",
        }
    }
}

/// Converts one channel of interleaved frames.
///
/// `data` holds frames of `frame_bytes` bytes, the wanted sample at `offset` in each.
/// Fills `out` from its beginning and returns how many frames were converted: as many as
/// both `data` and `out` have room for.
pub(super) fn convert(
    encoding: Encoding,
    data: &[u8],
    frame_bytes: usize,
    offset: usize,
    out: &mut [f32],
) -> usize {
    let frames = Frames {
        data,
        frame_bytes,
        offset,
    };
    match encoding {
        Encoding::U8 => frames.each(out, |[b]| (f32::from(b) - 128.0) / 128.0),
        Encoding::S16 => frames.each(out, |b| f32::from(i16::from_le_bytes(b)) / 32_768.0),
        Encoding::S24 => frames.each(out, |[l, m, h]| {
            (i32::from_le_bytes([0, l, m, h]) >> 8) as f32 / 8_388_608.0
        }),
        Encoding::S32 => frames.each(out, |b| i32::from_le_bytes(b) as f32 / 2_147_483_648.0),
        Encoding::F32 => frames.each(out, f32::from_le_bytes),
        Encoding::F64 => frames.each(out, |b| f64::from_le_bytes(b) as f32),
    }
}

struct Frames<'a> {
    data: &'a [u8],
    frame_bytes: usize,
    offset: usize,
}

impl Frames<'_> {
    fn each<const N: usize>(self, out: &mut [f32], to_f32: impl Fn([u8; N]) -> f32) -> usize {
        let frames = self.data.chunks_exact(self.frame_bytes);
        let mut count = 0;
        for (frame, out) in frames.zip(out.iter_mut()) {
            // A frame too short for its own sample cannot come from a checked header.
            let Some(bytes) = frame[self.offset..].first_chunk::<N>() else {
                break;
            };
            *out = to_f32(*bytes);
            count += 1;
        }
        count
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(encoding: Encoding, bytes: &[u8]) -> f32 {
        let mut out = [9.0];
        assert_eq!(convert(encoding, bytes, bytes.len(), 0, &mut out), 1);
        out[0]
    }

    /// Two's complement and offset binary as RIFF/WAVE states them (from memory).
    #[test]
    fn ends_of_the_scale() {
        assert_eq!(one(Encoding::U8, &[128]), 0.0);
        assert_eq!(one(Encoding::U8, &[0]), -1.0);
        assert_eq!(one(Encoding::S16, &[0x00, 0x80]), -1.0);
        assert_eq!(one(Encoding::S16, &[0xFF, 0x7F]), 32_767.0 / 32_768.0);
        assert_eq!(one(Encoding::S24, &[0x00, 0x00, 0x80]), -1.0);
        assert_eq!(one(Encoding::S24, &[0xFF, 0xFF, 0xFF]), -1.0 / 8_388_608.0);
        assert_eq!(one(Encoding::S32, &[0, 0, 0, 0x80]), -1.0);
        assert_eq!(one(Encoding::S32, &[0, 0, 0, 0x40]), 0.5);
        assert_eq!(one(Encoding::F32, &0.25f32.to_le_bytes()), 0.25);
        assert_eq!(one(Encoding::F64, &(-0.125f64).to_le_bytes()), -0.125);
    }

    #[test]
    fn full_scale_is_reached_by_the_largest_sample() {
        assert!(one(Encoding::U8, &[255]) >= Encoding::U8.full_scale());
        assert!(one(Encoding::S16, &[0xFF, 0x7F]) >= Encoding::S16.full_scale());
        assert!(one(Encoding::S24, &[0xFF, 0xFF, 0x7F]) >= Encoding::S24.full_scale());
        assert!(one(Encoding::S32, &[0xFF, 0xFF, 0xFF, 0x7F]) >= Encoding::S32.full_scale());
        assert!(one(Encoding::S16, &[0xFE, 0x7F]) < Encoding::S16.full_scale());
    }

    #[test]
    fn picks_the_channel_and_stops_at_the_shorter_side() {
        let data: Vec<u8> = [1i16, -1, 2, -2, 3, -3]
            .iter()
            .flat_map(|s| (s * 1024).to_le_bytes())
            .collect();
        let mut out = [0.0; 8];
        assert_eq!(convert(Encoding::S16, &data, 4, 2, &mut out), 3);
        assert_eq!(out[..3], [-1.0 / 32.0, -2.0 / 32.0, -3.0 / 32.0]);
        assert_eq!(convert(Encoding::S16, &data[..7], 4, 0, &mut out), 1);
        assert_eq!(convert(Encoding::S16, &data, 4, 0, &mut out[..2]), 2);
    }
}
