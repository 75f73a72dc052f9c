//! Pictures as bytes for the browser.
//!
//! One binary message holds what the instruments showed since the one before. All numbers
//! are little endian.
//!
//! | at | what |
//! |---|---|
//! | 0 | `M`, then the version of this layout: 1 |
//! | 2 | u16 rows of the passband, 4: u16 bins of a row |
//! | 6 | u16 points of the figure |
//! | 8 | u16 traces of the eye, 10: u16 points of a trace |
//! | 12 | u32 number of this message, counting up |
//! | 16 | f64 live time up to which the sound is taken in, s |
//! | 24 | f32 peak, 28: f32 rms, dB over full scale; 32: u32 samples at full scale |
//! | 36 | u8 state of the level: 0 good, 1 clipping, 2 too little, 3 silent; 37: u8 1 if tones follow |
//! | 40 | f32 mark, 44: f32 space, Hz |
//! | 48 | rows: f32 time after the live time above (below 0), s; i8 per bin, dB over full scale |
//! | | figure: i8 mark, i8 space per point |
//! | | eye: u8 element, i8 per point |

use markhold_station::instruments::{EYE_POINTS, Instruments, LevelState, ROW_BINS, Row};

/// Version of the layout.
pub const VERSION: u8 = 1;
/// Bytes before the rows.
pub const HEADER: usize = 48;

/// One message from the rows and the other instruments; rows and traces of a wrong length
/// are left out.
pub fn frame<'a>(
    number: u32,
    rows: impl IntoIterator<Item = &'a Row>,
    instruments: &Instruments,
) -> Vec<u8> {
    let rows: Vec<&Row> = fitting(rows, |row| row.db.len() == ROW_BINS);
    let eye: Vec<_> = fitting(&instruments.eye, |trace| trace.points.len() == EYE_POINTS);
    let figure = &instruments.figure[..instruments.figure.len().min(usize::from(u16::MAX))];
    let mut out = Vec::with_capacity(HEADER + rows.len() * (4 + ROW_BINS) + figure.len() * 2);
    out.extend([b'M', VERSION]);
    for count in [rows.len(), ROW_BINS, figure.len(), eye.len(), EYE_POINTS] {
        out.extend((count as u16).to_le_bytes());
    }
    out.extend(number.to_le_bytes());
    out.extend(instruments.until_s.to_le_bytes());
    out.extend(instruments.level.peak_db.to_le_bytes());
    out.extend(instruments.level.rms_db.to_le_bytes());
    out.extend(instruments.level.clipped.to_le_bytes());
    let tones = instruments.tones_hz;
    out.extend([
        state(instruments.level.state),
        u8::from(tones.is_some()),
        0,
        0,
    ]);
    for hz in tones.unwrap_or_default() {
        out.extend((hz as f32).to_le_bytes());
    }
    for row in rows {
        out.extend(((row.at_s - instruments.until_s) as f32).to_le_bytes());
        out.extend(bytes(&row.db));
    }
    figure.iter().for_each(|point| out.extend(bytes(point)));
    for trace in eye {
        out.push(trace.element);
        out.extend(bytes(&trace.points));
    }
    out
}

fn fitting<'a, T>(all: impl IntoIterator<Item = &'a T>, fits: impl Fn(&T) -> bool) -> Vec<&'a T> {
    let fitting = all.into_iter().filter(|item| fits(item));
    fitting.take(usize::from(u16::MAX)).collect()
}

fn bytes(signed: &[i8]) -> impl Iterator<Item = u8> {
    signed.iter().map(|&b| b as u8)
}

fn state(state: LevelState) -> u8 {
    match state {
        LevelState::Good => 0,
        LevelState::Clipping => 1,
        LevelState::TooLittle => 2,
        LevelState::Silent => 3,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_station::instruments::{EyeTrace, Level};

    #[test]
    fn a_frame_is_laid_out_as_told() {
        let row = Row {
            at_s: 9.5,
            db: vec![-40; ROW_BINS],
        };
        let short = Row {
            at_s: 9.5,
            db: vec![0; 3],
        };
        let instruments = Instruments {
            until_s: 10.0,
            level: Level {
                peak_db: -3.0,
                rms_db: -12.5,
                clipped: 7,
                state: LevelState::Clipping,
            },
            figure: vec![[1, -1], [127, -127]],
            tones_hz: Some([2125.0, 2295.0]),
            eye: vec![EyeTrace {
                element: 6,
                points: vec![-127; EYE_POINTS],
            }],
            ..Instruments::default()
        };
        let bytes = frame(99, [&row, &short], &instruments);
        let u16_at = |at: usize| u16::from_le_bytes([bytes[at], bytes[at + 1]]);
        let f32_at = |at: usize| f32::from_le_bytes(bytes[at..at + 4].try_into().expect("four"));
        assert_eq!(&bytes[..2], b"M\x01");
        let counts = [2, 4, 6, 8, 10].map(u16_at);
        assert_eq!(counts, [1, 256, 2, 1, 32]);
        assert_eq!(bytes[12..16], 99_u32.to_le_bytes());
        assert_eq!(bytes[16..24], 10.0_f64.to_le_bytes());
        assert_eq!([24, 28, 40, 44].map(f32_at), [-3.0, -12.5, 2125.0, 2295.0]);
        assert_eq!((bytes[32], bytes[36], bytes[37]), (7, 1, 1));
        assert_eq!((f32_at(48), bytes[52] as i8), (-0.5, -40));
        let figure = HEADER + 4 + ROW_BINS;
        assert_eq!(bytes[figure..figure + 4], [1, 255, 127, 129]);
        assert_eq!((bytes[figure + 4], bytes[figure + 5] as i8), (6, -127));
        assert_eq!(bytes.len(), figure + 4 + 1 + EYE_POINTS);
    }

    #[test]
    fn no_instruments_are_a_header() {
        assert_eq!(frame(0, [], &Instruments::default()).len(), HEADER);
    }
}
