//! Amateur bands as ADIF names them.

/// Name, lowest and highest frequency, MHz. ADIF 3.1.7, band enumeration: 80 to 20 m read in its
/// resource files, the others from memory of the same table.
const BANDS: [(&str, f64, f64); 13] = [
    ("160m", 1.8, 2.0),
    ("80m", 3.5, 4.0),
    ("60m", 5.06, 5.45),
    ("40m", 7.0, 7.3),
    ("30m", 10.1, 10.15),
    ("20m", 14.0, 14.35),
    ("17m", 18.068, 18.168),
    ("15m", 21.0, 21.45),
    ("12m", 24.89, 24.99),
    ("10m", 28.0, 29.7),
    ("6m", 50.0, 54.0),
    ("2m", 144.0, 148.0),
    ("70cm", 420.0, 450.0),
];

/// The band of a frequency, Hz, by its name in ADIF; `None` outside all of them.
pub fn band(hz: f64) -> Option<&'static str> {
    let mhz = hz / 1e6;
    let inside = |(_, low, high): &&(&str, f64, f64)| (*low..=*high).contains(&mhz);
    BANDS.iter().find(inside).map(|(name, ..)| *name)
}

#[cfg(test)]
mod tests {
    use super::band;

    #[test]
    fn edges_belong_to_the_band() {
        assert_eq!(band(3_500_000.0), Some("80m"));
        assert_eq!(band(7_300_000.0), Some("40m"));
        assert_eq!((band(4_000_001.0), band(f64::NAN)), (None, None));
    }
}
