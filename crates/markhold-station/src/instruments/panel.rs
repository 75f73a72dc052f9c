//! All instruments together.

use super::Counts;
use super::crashes::CrashCounter;
use super::spectra::{Spectra, Spectrum};
use super::{Eye, Figure, Instruments, LevelMeter, Pair, ToneFilters};

/// Tones may move this far before the filters are set anew, Hz; a new setting rings for an
/// element.
const FOLLOW_HZ: f64 = 5.0;
/// The rate may differ by this part before they are set anew.
const FOLLOW_RATE: f64 = 0.02;

/// The filters and what is drawn from them.
struct Drawn {
    filters: ToneFilters,
    figure: Figure,
    eye: Eye,
}

/// All instruments.
pub struct Panel {
    // configured
    rate: u32,
    // state
    spectra: Spectra,
    level: LevelMeter,
    crashes: CrashCounter,
    drawn: Option<Drawn>,
    next: Instruments,
}

impl Panel {
    /// Instruments for sound of `rate` Hz whose first sample stands at `begin_s`.
    pub fn new(rate: u32, begin_s: f64) -> Self {
        Panel {
            rate,
            spectra: Spectra::new(rate, begin_s),
            level: LevelMeter::new(rate),
            crashes: CrashCounter::default(),
            drawn: None,
            next: Instruments::default(),
        }
    }

    /// Sets figure and eye to these tones, or switches them off.
    pub fn look_at(&mut self, pair: Option<Pair>) {
        let same = match (&self.drawn, pair) {
            (Some(drawn), Some(pair)) => is_near(drawn.filters.pair(), pair),
            (None, None) => true,
            _ => false,
        };
        if !same {
            self.drawn = pair.map(|pair| {
                let filters = ToneFilters::new(self.rate, pair);
                Drawn {
                    figure: Figure::new(filters.rate()),
                    eye: Eye::new(filters.rate(), pair.rate_baud),
                    filters,
                }
            });
        }
    }

    /// Takes samples; hands out each spectrum and what all instruments showed up to it.
    pub fn process(&mut self, samples: &[f32], give: &mut dyn FnMut(&Spectrum, Instruments)) {
        self.level.process(samples);
        if let Some(Drawn {
            filters,
            figure,
            eye,
        }) = &mut self.drawn
        {
            filters.process(samples, &mut |tones| {
                figure.process(tones);
                eye.process(tones);
            });
        }
        let mut spectra = Vec::new();
        self.spectra.process(samples, &mut |s| spectra.push(s));
        for spectrum in spectra {
            self.crashes.process(&spectrum);
            give(&spectrum, self.take(&spectrum));
        }
    }

    fn take(&mut self, spectrum: &Spectrum) -> Instruments {
        let mut shown = std::mem::take(&mut self.next);
        shown.until_s = spectrum.until_s;
        shown.rows.push(spectrum.row());
        shown.level = self.level.take();
        if let Some(Drawn {
            filters,
            figure,
            eye,
        }) = &mut self.drawn
        {
            shown.tones_hz = Some([filters.pair().mark_hz, filters.pair().space_hz]);
            shown.figure = figure.take();
            shown.eye = eye.take();
        }
        shown
    }

    /// Counted things up to now, live time in s.
    pub fn counts(&self, now_s: f64) -> Counts {
        self.crashes.counts(now_s)
    }
}

fn is_near(a: Pair, b: Pair) -> bool {
    let tones = [(a.mark_hz, b.mark_hz), (a.space_hz, b.space_hz)];
    let moved = |(a, b): (f64, f64)| (a - b).abs() > FOLLOW_HZ;
    let another_rate = (a.rate_baud / b.rate_baud - 1.0).abs() > FOLLOW_RATE;
    !tones.into_iter().any(moved) && !another_rate
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAIR: Pair = Pair {
        mark_hz: 2125.0,
        space_hz: 2295.0,
        rate_baud: 45.45,
    };

    fn shown(block: usize, pair: Option<Pair>) -> Vec<Instruments> {
        let mut panel = Panel::new(8000, 0.0);
        panel.look_at(pair);
        let sound: Vec<f32> = (0..8000).map(|n| (1.669 * n as f32).sin()).collect();
        let mut all = Vec::new();
        for part in sound.chunks(block) {
            panel.process(part, &mut |_, shown| all.push(shown));
        }
        all
    }

    #[test]
    fn there_are_25_a_second_with_one_row_each() {
        let all = shown(160, Some(PAIR));
        assert_eq!(all.len(), 24);
        assert!(all.iter().all(|s| s.rows.len() == 1));
        let points: usize = all.iter().map(|s| s.figure.len()).sum();
        assert!((760..=800).contains(&points), "{points}");
    }

    #[test]
    fn without_a_pair_there_is_neither_figure_nor_eye() {
        let all = shown(160, None);
        assert!(
            all.iter()
                .all(|s| s.figure.is_empty() && s.tones_hz.is_none())
        );
    }

    #[test]
    fn small_drift_does_not_set_the_filters_anew() {
        assert!(is_near(
            PAIR,
            Pair {
                mark_hz: 2128.0,
                ..PAIR
            }
        ));
        assert!(!is_near(
            PAIR,
            Pair {
                space_hz: 2310.0,
                ..PAIR
            }
        ));
        assert!(!is_near(
            PAIR,
            Pair {
                rate_baud: 50.0,
                ..PAIR
            }
        ));
    }
}
