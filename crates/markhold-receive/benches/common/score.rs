//! Character errors by edit distance.

/// The least number of wrong, missing and extra entries that turn `sent` into `copied`:
/// the edit distance of V. I. Levenshtein (1966), by the usual table of R. A. Wagner and
/// M. J. Fischer (1974), of which two rows are kept.
pub fn errors<T: PartialEq>(sent: &[T], copied: &[T]) -> usize {
    let mut above: Vec<usize> = (0..=copied.len()).collect();
    let mut row = above.clone();
    for (i, a) in sent.iter().enumerate() {
        row[0] = i + 1;
        for (j, b) in copied.iter().enumerate() {
            let wrong = above[j] + usize::from(a != b);
            row[j + 1] = wrong.min(above[j + 1] + 1).min(row[j] + 1);
        }
        std::mem::swap(&mut above, &mut row);
    }
    above[copied.len()]
}
