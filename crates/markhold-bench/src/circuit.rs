//! Arithmetic of the local loop: series resistor, its power, and how fast the magnet pulls.
//!
//! ```text
//!    +  ----[ series resistor ]----( contact )----( selector magnet: L, R )----  -
//!                       supply V, current I when closed (mark)
//! ```
//!
//! Neutral working: current for mark, none for space (US Army and Navy training texts).

/// Recommended rating over the power turned into heat (common practice, references 10.3).
const RATING: f64 = 2.0;
/// Ratings that wire-wound resistors are sold in, W (common practice).
const RATINGS_W: [f64; 11] = [
    1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 25.0, 50.0, 100.0, 200.0,
];
/// The 24 steps of a decade of the preferred values E24 (IEC 60063, from memory).
const E24: [f64; 24] = [
    1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6,
    6.2, 6.8, 7.5, 8.2, 9.1,
];

/// A loop as planned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Loop {
    /// Supply, V; above 0.
    pub supply_v: f64,
    /// Current when closed, A; above 0. 0.060 and 0.020 are usual, 0.040 in parts of
    /// Europe (common practice).
    pub current_a: f64,
    /// Resistance of all magnets in the loop together, ohm; 0 or more.
    pub coil_ohm: f64,
    /// Resistance of the line, ohm; 0 or more.
    pub line_ohm: f64,
    /// Inductance of all magnets together, H; 0 or more.
    pub coil_h: f64,
}

/// What follows from a [`Loop`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoopFigures {
    /// Resistance of the whole loop, ohm: V / I.
    pub total_ohm: f64,
    /// Power from the supply, W: V I.
    pub total_w: f64,
    /// The resistor to put in, ohm: what coil and line leave over.
    pub series_ohm: f64,
    /// Heat in that resistor, W.
    pub series_w: f64,
    /// Rating to buy, W: at least twice the heat; `None` above 200 W.
    pub rating_w: Option<f64>,
    /// Nearest preferred value of E24, ohm; `None` if no resistor is needed.
    pub preferred_ohm: Option<f64>,
    /// Current with the preferred value, A.
    pub preferred_a: f64,
    /// Time constant of the rise, s: L / R of the whole loop.
    pub rise_s: f64,
    /// Time from closing to 90 % of the current, s: 2.30 time constants.
    pub rise_90_s: f64,
    /// Energy kept in the coils, J: L I^2 / 2, which the switch must get rid of.
    pub stored_j: f64,
    /// Time constant of the fall with a bare diode across the coil, s: L / R of the coil;
    /// infinite for a coil without resistance.
    pub diode_fall_s: f64,
}

/// A loop that cannot be.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LoopError {
    /// A value out of place.
    #[error("{what} is {found} {unit}; give {expected}")]
    Value {
        /// Which value.
        what: &'static str,
        /// What was found, in `unit`.
        found: f64,
        /// Its unit.
        unit: &'static str,
        /// What was expected.
        expected: &'static str,
    },
    /// The coil and line alone need more voltage than there is.
    #[error(
        "coil and line have {load_ohm:.0} ohm, which takes {needed_v:.1} V at {:.0} mA; the \
         supply has {supply_v:.1} V: raise it, or put the magnets in parallel", 1000.0 * .current_a
    )]
    TooLittle {
        /// Resistance of coil and line, ohm.
        load_ohm: f64,
        /// Voltage needed, V.
        needed_v: f64,
        /// Supply, V.
        supply_v: f64,
        /// Current wanted, A.
        current_a: f64,
    },
}

impl Loop {
    /// Works the loop out.
    ///
    /// # Errors
    ///
    /// A value that cannot be, or a supply too weak for coil and line.
    pub fn figures(self) -> Result<LoopFigures, LoopError> {
        self.check()?;
        let Loop {
            supply_v,
            current_a,
            coil_ohm,
            line_ohm,
            coil_h,
        } = self;
        let load_ohm = coil_ohm + line_ohm;
        let total_ohm = supply_v / current_a;
        let series_ohm = total_ohm - load_ohm;
        if series_ohm < 0.0 {
            return Err(LoopError::TooLittle {
                load_ohm,
                needed_v: load_ohm * current_a,
                supply_v,
                current_a,
            });
        }
        let preferred_ohm = preferred(series_ohm);
        let preferred_a = supply_v / (load_ohm + preferred_ohm.unwrap_or(series_ohm));
        let series_w = current_a * current_a * series_ohm;
        let rise_s = coil_h / total_ohm;
        Ok(LoopFigures {
            total_ohm,
            total_w: supply_v * current_a,
            series_ohm,
            series_w,
            rating_w: RATINGS_W.into_iter().find(|r| *r >= RATING * series_w),
            preferred_ohm,
            preferred_a,
            rise_s,
            rise_90_s: rise_s * std::f64::consts::LN_10,
            stored_j: coil_h * current_a * current_a / 2.0,
            diode_fall_s: if coil_h == 0.0 {
                0.0
            } else {
                coil_h / coil_ohm
            },
        })
    }

    fn check(self) -> Result<(), LoopError> {
        let values = [
            ("the supply", self.supply_v, "V", true),
            ("the current", self.current_a, "A", true),
            ("the coil's resistance", self.coil_ohm, "ohm", false),
            ("the line's resistance", self.line_ohm, "ohm", false),
            ("the inductance", self.coil_h, "H", false),
        ];
        for (what, found, unit, above) in values {
            let good = found.is_finite() && if above { found > 0.0 } else { found >= 0.0 };
            if !good {
                let expected = if above {
                    "a number above 0"
                } else {
                    "0 or more"
                };
                return Err(LoopError::Value {
                    what,
                    found,
                    unit,
                    expected,
                });
            }
        }
        Ok(())
    }
}

/// The preferred value nearest in proportion; `None` below 1 ohm, where none is needed.
fn preferred(ohm: f64) -> Option<f64> {
    if ohm < 1.0 {
        return None;
    }
    let decade = 10f64.powf(ohm.log10().floor());
    E24.into_iter()
        .chain([10.0])
        .map(|step| step * decade)
        .min_by(|a, b| (a / ohm).ln().abs().total_cmp(&(b / ohm).ln().abs()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plain(supply_v: f64, current_a: f64) -> Loop {
        Loop {
            supply_v,
            current_a,
            coil_ohm: 0.0,
            line_ohm: 0.0,
            coil_h: 0.0,
        }
    }

    /// References 10.3: V/I and V I, common practice, arithmetic.
    #[test]
    fn table_of_loops() {
        let table = [
            (120.0, 0.060, 2000.0, 7.2),
            (120.0, 0.020, 6000.0, 2.4),
            (120.0, 0.040, 3000.0, 4.8),
            (130.0, 0.060, 2167.0, 7.8),
            (48.0, 0.060, 800.0, 2.9),
            (60.0, 0.040, 1500.0, 2.4),
        ];
        for (supply, current, ohm, watt) in table {
            let figures = plain(supply, current).figures().expect("possible");
            assert!((figures.total_ohm - ohm).abs() < 0.5, "{figures:?}");
            assert!((figures.total_w - watt).abs() < 0.051, "{figures:?}");
            assert!(figures.rating_w.expect("below 200 W") >= 2.0 * figures.series_w);
        }
    }

    /// References 10.4: 4 H assumed; 120 V 60 mA: 2.0 ms (9 % of 22 ms), 12 V 60 mA: 20 ms
    /// (91 %).
    #[test]
    fn high_voltage_pulls_fast() {
        for (supply, ms, share) in [(120.0, 2.0, 9.0), (12.0, 20.0, 91.0)] {
            let figures = Loop {
                coil_h: 4.0,
                ..plain(supply, 0.060)
            }
            .figures()
            .expect("possible");
            assert!((1e3 * figures.rise_s - ms).abs() < 1e-9);
            assert!((100.0 * figures.rise_s / 0.022 - share).abs() < 0.5);
        }
    }

    #[test]
    fn coil_and_line_are_taken_off() {
        let figures = Loop {
            coil_ohm: 200.0,
            line_ohm: 50.0,
            coil_h: 4.0,
            ..plain(120.0, 0.060)
        }
        .figures()
        .expect("possible");
        assert!((figures.series_ohm - 1750.0).abs() < 1e-9);
        assert!((figures.series_w - 6.3).abs() < 1e-9);
        assert_eq!(figures.rating_w, Some(15.0));
        assert_eq!(figures.preferred_ohm, Some(1800.0));
        assert!((figures.preferred_a - 120.0 / 2050.0).abs() < 1e-12);
        assert!((figures.stored_j - 0.0072).abs() < 1e-12);
        assert!((figures.diode_fall_s - 0.02).abs() < 1e-12);
    }

    #[test]
    fn the_impossible_is_told() {
        let weak = Loop {
            coil_ohm: 250.0,
            ..plain(12.0, 0.060)
        };
        let told = weak.figures().unwrap_err().to_string();
        assert!(told.contains("15.0 V") && told.contains("12.0 V"), "{told}");
        for bad in [plain(0.0, 0.06), plain(120.0, f64::NAN), plain(-1.0, 0.06)] {
            assert!(matches!(bad.figures(), Err(LoopError::Value { .. })));
        }
    }

    #[test]
    fn preferred_values_are_near() {
        let near = [(2000.0, 2000.0), (2167.0, 2200.0), (990.0, 1000.0)];
        for (ohm, expected) in near {
            let found = preferred(ohm).expect("above 1 ohm");
            assert!((found - expected).abs() < 1e-9, "{ohm}: {found}");
        }
        assert_eq!(preferred(0.0), None);
    }
}
