//! What was printed held against what was sent.

/// The least number of wrong, missing and extra glyphs, and where each printed one that is
/// right was sent (V. I. Levenshtein, 1966; R. A. Wagner and M. J. Fischer, 1974).
pub fn align<T: PartialEq>(sent: &[T], printed: &[T]) -> (usize, Vec<Option<usize>>) {
    let width = printed.len() + 1;
    let mut least: Vec<u32> = (0..width as u32).collect();
    least.resize(width * (sent.len() + 1), 0);
    let wrong = |i: usize, j: usize| u32::from(sent[i] != printed[j]);
    for i in 1..=sent.len() {
        least[i * width] = i as u32;
        for j in 1..width {
            let (above, here) = ((i - 1) * width + j, i * width + j);
            let replaced = least[above - 1] + wrong(i - 1, j - 1);
            least[here] = replaced.min(least[above] + 1).min(least[here - 1] + 1);
        }
    }
    let mut matches = vec![None; printed.len()];
    let (mut i, mut j) = (sent.len(), printed.len());
    while i > 0 && j > 0 {
        let (above, here) = ((i - 1) * width + j, least[i * width + j]);
        if here == least[above - 1] + wrong(i - 1, j - 1) {
            (i, j) = (i - 1, j - 1);
            matches[j] = (wrong(i, j) == 0).then_some(i);
        } else if here == least[above] + 1 {
            i -= 1;
        } else {
            j -= 1;
        }
    }
    (least[width * sent.len() + printed.len()] as usize, matches)
}
