//! The received sound on its way to a browser.
//!
//! | at | what |
//! |---|---|
//! | 0 | `S`, then the version of this layout: 1 |
//! | 4 | u32 samples a second, little endian |
//! | 8 | i16 per sample, little endian |

use markhold_station::{Block, Ear};

/// Version of the layout.
pub const VERSION: u8 = 1;
/// Bytes before the samples.
pub const HEADER: usize = 8;
/// More samples a second than this are not needed to hear what a voice filter lets through, Hz;
/// they are averaged.
const ENOUGH: u32 = 12_000;

/// One message with a block of sound.
pub fn sound(block: &Block) -> Vec<u8> {
    let each = (block.rate / 8_000).max(1) as usize;
    let each = if block.rate > ENOUGH { each } else { 1 };
    let mut out = Vec::with_capacity(HEADER + 2 * (block.samples.len() / each + 1));
    out.extend([b'S', VERSION, 0, 0]);
    out.extend((block.rate / each as u32).to_le_bytes());
    for few in block.samples.chunks(each) {
        let mean = few.iter().sum::<f32>() / few.len() as f32;
        let full = f32::from(i16::MAX);
        out.extend(((mean * full).clamp(-full, full) as i16).to_le_bytes());
    }
    out
}

/// The next block for who listens; never for who does not, or when there will be no more.
pub async fn next(ear: &mut Option<Ear>) -> Block {
    if let Some(ear) = ear
        && let Some(block) = ear.next().await
    {
        return block;
    }
    std::future::pending().await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn samples_are_halved_until_they_are_few_enough() {
        for (rate, each) in [(8_000, 1), (11_025, 1), (44_100, 5), (48_000, 6)] {
            let samples: Vec<f32> = (0..600).map(|k| if k < 300 { 0.5 } else { -1.5 }).collect();
            let block = Block {
                rate,
                samples: samples.into(),
            };
            let bytes = sound(&block);
            assert_eq!(bytes.len(), HEADER + 2 * (600_usize.div_ceil(each)));
            let said = u32::from_le_bytes(bytes[4..8].try_into().expect("four"));
            assert_eq!(said, rate / each as u32);
            let at =
                |k: usize| i16::from_le_bytes([bytes[HEADER + 2 * k], bytes[HEADER + 2 * k + 1]]);
            assert_eq!(
                (at(0), at((bytes.len() - HEADER) / 2 - 1)),
                (16383, -i16::MAX)
            );
        }
    }
}
