//! Vectors: sums and products over lists, a machine register at a time.
//!
//! The compiler would do it by itself for long lists, but not for rows of sixteen.

use pulp::Simd;

use super::log_sum::{EXP_SERIES, NEVER, ROUND, exp_fast};

/// Multiplies all of a list by a number.
#[inline(always)]
pub fn scale<S: Simd>(simd: S, list: &mut [f32], by: f32) {
    let (head, tail) = S::as_mut_simd_f32s(list);
    let many = simd.splat_f32s(by);
    // Loops, here and below: in a closure the machine's instructions would be calls.
    for x in head {
        *x = simd.mul_f32s(*x, many);
    }
    for x in tail {
        *x *= by;
    }
}

/// Multiplies a list by another of the same length, place by place.
#[inline(always)]
pub fn times<S: Simd>(simd: S, list: &mut [f32], by: &[f32]) {
    let (head, tail) = S::as_mut_simd_f32s(list);
    let (by_head, by_tail) = S::as_simd_f32s(by);
    for (x, by) in head.iter_mut().zip(by_head) {
        *x = simd.mul_f32s(*x, *by);
    }
    for (x, by) in tail.iter_mut().zip(by_tail) {
        *x *= by;
    }
}

/// `list * keep + other * take`, place by place.
#[inline(always)]
pub fn blend<S: Simd>(simd: S, list: &mut [f32], keep: f32, other: &[f32], take: f32) {
    let (head, tail) = S::as_mut_simd_f32s(list);
    let (other_head, other_tail) = S::as_simd_f32s(other);
    let (keeps, takes) = (simd.splat_f32s(keep), simd.splat_f32s(take));
    for (x, y) in head.iter_mut().zip(other_head) {
        *x = simd.add_f32s(simd.mul_f32s(*x, keeps), simd.mul_f32s(*y, takes));
    }
    for (x, y) in tail.iter_mut().zip(other_tail) {
        *x = *x * keep + *y * take;
    }
}

/// Sum of a list.
#[inline(always)]
pub fn sum<S: Simd>(simd: S, list: &[f32]) -> f32 {
    let (head, tail) = S::as_simd_f32s(list);
    // Four sums at once, for each addition waits for the one before.
    let (fours, rest) = head.as_chunks::<4>();
    let mut sums = [simd.splat_f32s(0.0); 4];
    for four in fours {
        for (sum, x) in sums.iter_mut().zip(four) {
            *sum = simd.add_f32s(*sum, *x);
        }
    }
    for x in rest {
        sums[0] = simd.add_f32s(sums[0], *x);
    }
    together(simd, sums) + tail.iter().sum::<f32>()
}

/// Sum of the products of two lists of the same length.
#[inline(always)]
pub fn dot<S: Simd>(simd: S, a: &[f32], b: &[f32]) -> f32 {
    let ((a, a_tail), (b, b_tail)) = (S::as_simd_f32s(a), S::as_simd_f32s(b));
    let ((fours, rest), (b_fours, b_rest)) = (a.as_chunks::<4>(), b.as_chunks::<4>());
    let mut sums = [simd.splat_f32s(0.0); 4];
    for (a, b) in fours.iter().zip(b_fours) {
        for (sum, (x, y)) in sums.iter_mut().zip(a.iter().zip(b)) {
            *sum = simd.add_f32s(*sum, simd.mul_f32s(*x, *y));
        }
    }
    for (x, y) in rest.iter().zip(b_rest) {
        sums[0] = simd.add_f32s(sums[0], simd.mul_f32s(*x, *y));
    }
    let tail: f32 = a_tail.iter().zip(b_tail).map(|(x, y)| x * y).sum();
    together(simd, sums) + tail
}

#[inline(always)]
fn together<S: Simd>(simd: S, [a, b, c, d]: [S::f32s; 4]) -> f32 {
    simd.reduce_sum_f32s(simd.add_f32s(simd.add_f32s(a, b), simd.add_f32s(c, d)))
}

/// `exp(a + b)` place by place into `out`, in units of the exponential of the greatest sum,
/// which is given; all three of the same length. As exact as `exp_fast`.
#[inline(always)]
pub fn exps_of_sums<S: Simd>(simd: S, a: &[f32], b: &[f32], out: &mut [f32]) -> f32 {
    let ((a, a_tail), (b, b_tail)) = (S::as_simd_f32s(a), S::as_simd_f32s(b));
    let (out, out_tail) = S::as_mut_simd_f32s(out);
    let mut highest = simd.splat_f32s(NEVER);
    for (out, (a, b)) in out.iter_mut().zip(a.iter().zip(b)) {
        *out = simd.add_f32s(*a, *b);
        highest = simd.max_f32s(highest, *out);
    }
    let mut most = simd.reduce_max_f32s(highest);
    for (out, (a, b)) in out_tail.iter_mut().zip(a_tail.iter().zip(b_tail)) {
        *out = a + b;
        most = most.max(*out);
    }
    let highest = simd.splat_f32s(most);
    for x in out {
        *x = exp(simd, simd.sub_f32s(*x, highest));
    }
    out_tail.iter_mut().for_each(|x| *x = exp_fast(*x - most));
    most
}

/// [`exp_fast`] of many.
#[inline(always)]
fn exp<S: Simd>(simd: S, x: S::f32s) -> S::f32s {
    let of = |v: f32| simd.splat_f32s(v);
    let y = simd.mul_f32s(x, of(std::f32::consts::LOG2_E));
    let y = simd.max_f32s(y, of(-126.0));
    let shifted = simd.add_f32s(y, of(ROUND));
    let whole = simd.sub_f32s(shifted, of(ROUND));
    let h = simd.mul_f32s(simd.sub_f32s(y, whole), of(std::f32::consts::LN_2));
    let mut series = of(EXP_SERIES[0]);
    for c in &EXP_SERIES[1..] {
        series = simd.add_f32s(of(*c), simd.mul_f32s(h, series));
    }
    let bits = simd.add_u32s(simd.transmute_u32s_f32s(shifted), simd.splat_u32s(127));
    let scale = simd.wrapping_dyn_shl_u32s(bits, simd.splat_u32s(23));
    simd.mul_f32s(series, simd.transmute_f32s_u32s(scale))
}

/// Sum over all places and all of several triples of lists of `x * a * b`.
#[inline(always)]
pub fn dot_of_products<S: Simd, const M: usize>(
    simd: S,
    x: &[f32],
    pairs: [(&[f32], &[f32]); M],
) -> f32 {
    let (x, x_tail) = S::as_simd_f32s(x);
    let mut sum = simd.splat_f32s(0.0);
    let mut rest = 0.0;
    for (a, b) in pairs {
        let ((a, a_tail), (b, b_tail)) = (S::as_simd_f32s(a), S::as_simd_f32s(b));
        for (x, (a, b)) in x.iter().zip(a.iter().zip(b)) {
            sum = simd.add_f32s(sum, simd.mul_f32s(*x, simd.mul_f32s(*a, *b)));
        }
        for (x, (a, b)) in x_tail.iter().zip(a_tail.iter().zip(b_tail)) {
            rest += x * a * b;
        }
    }
    simd.reduce_sum_f32s(sum) + rest
}

/// Moments of weighted values around `t`, under a bell of standard deviation `1 / scale`: sums over
/// all places of `weight * bell * d^k` for `k` from 0 to 4, and for `k` from 0 to 2 of those times the
/// value, with `d` the distance from `t` in standard deviations. Lists of places, weights and values,
/// of the same length.
#[inline(always)]
pub fn bell_moments<S: Simd>(
    simd: S,
    [at, weight, value]: [&[f32]; 3],
    t: f32,
    scale: f32,
) -> [[f32; 5]; 2] {
    let ((at, at_rest), (weight, weight_rest), (value, value_rest)) = (
        S::as_simd_f32s(at),
        S::as_simd_f32s(weight),
        S::as_simd_f32s(value),
    );
    let (ts, scales) = (simd.splat_f32s(t), simd.splat_f32s(scale));
    let mut sums = [[simd.splat_f32s(0.0); 5]; 2];
    for (at, (weight, value)) in at.iter().zip(weight.iter().zip(value)) {
        let d = simd.mul_f32s(simd.sub_f32s(*at, ts), scales);
        let half = simd.mul_f32s(simd.splat_f32s(-0.5), d);
        let mut w = simd.mul_f32s(*weight, exp(simd, simd.mul_f32s(half, d)));
        let [of, with] = &mut sums;
        for (k, (of, with)) in of.iter_mut().zip(with).enumerate() {
            *of = simd.add_f32s(*of, w);
            if k < 3 {
                *with = simd.add_f32s(*with, simd.mul_f32s(w, *value));
            }
            w = simd.mul_f32s(w, d);
        }
    }
    let mut all = [[0.0; 5]; 2];
    for (all, sums) in all.iter_mut().zip(&sums) {
        for (all, sum) in all.iter_mut().zip(sums) {
            *all = simd.reduce_sum_f32s(*sum);
        }
    }
    for (at, (weight, value)) in at_rest.iter().zip(weight_rest.iter().zip(value_rest)) {
        let d = (at - t) * scale;
        let mut w = weight * exp_fast(-0.5 * d * d);
        let [of, with] = &mut all;
        for (k, (of, with)) in of.iter_mut().zip(with).enumerate() {
            *of += w;
            if k < 3 {
                *with += w * value;
            }
            w *= d;
        }
    }
    all
}

/// Distances of points in the plane from one point, times `by`.
#[inline(always)]
pub fn distances<S: Simd>(
    simd: S,
    [xs, ys]: [&[f32]; 2],
    [x0, y0]: [f32; 2],
    by: f32,
    out: &mut [f32],
) {
    let ((xs, xs_tail), (ys, ys_tail)) = (S::as_simd_f32s(xs), S::as_simd_f32s(ys));
    let (out, out_tail) = S::as_mut_simd_f32s(out);
    let [x0s, y0s, bys] = [
        simd.splat_f32s(x0),
        simd.splat_f32s(y0),
        simd.splat_f32s(by),
    ];
    for (out, (x, y)) in out.iter_mut().zip(xs.iter().zip(ys)) {
        let (x, y) = (simd.sub_f32s(*x, x0s), simd.sub_f32s(*y, y0s));
        let square = simd.add_f32s(simd.mul_f32s(x, x), simd.mul_f32s(y, y));
        *out = simd.mul_f32s(bys, simd.sqrt_f32s(square));
    }
    for (out, (x, y)) in out_tail.iter_mut().zip(xs_tail.iter().zip(ys_tail)) {
        let (x, y) = (x - x0, y - y0);
        *out = by * (x * x + y * y).sqrt();
    }
}

/// The weighted sum of several rows, place by place.
#[inline(always)]
pub fn weigh<S: Simd, const N: usize, const T: usize>(
    simd: S,
    out: &mut [f32; N],
    rows: &[&[f32; N]; T],
    weights: &[f32; T],
) {
    let mut many = [simd.splat_f32s(0.0); T];
    for (many, weight) in many.iter_mut().zip(weights) {
        *many = simd.splat_f32s(*weight);
    }
    let (head, tail) = S::as_mut_simd_f32s(out.as_mut_slice());
    for (v, out) in head.iter_mut().enumerate() {
        let mut sum = simd.splat_f32s(0.0);
        for (row, weight) in rows.iter().zip(&many) {
            sum = simd.add_f32s(
                sum,
                simd.mul_f32s(*weight, S::as_simd_f32s(row.as_slice()).0[v]),
            );
        }
        *out = sum;
    }
    let done = N - tail.len();
    for (j, out) in tail.iter_mut().enumerate() {
        *out = rows
            .iter()
            .zip(weights)
            .map(|(row, w)| w * row[done + j])
            .sum();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use pulp::{Arch, WithSimd};

    /// All kernels on lists of one length, by the machine's own registers.
    struct All(usize);

    fn list(len: usize, seed: usize) -> Vec<f32> {
        let value = |i: usize| ((i * 37 + seed * 101) % 64) as f32 / 16.0 - 1.5;
        (0..len).map(value).collect()
    }

    impl WithSimd for All {
        type Output = ();

        fn with_simd<S: Simd>(self, simd: S) {
            let (a, b) = (list(self.0, 1), list(self.0, 2));
            let by = |f: &dyn Fn(f32, f32) -> f32| -> Vec<f32> {
                a.iter().zip(&b).map(|(x, y)| f(*x, *y)).collect()
            };
            let done = |f: &dyn Fn(&mut [f32])| {
                let mut out = a.clone();
                f(&mut out);
                out
            };
            // All values are small multiples of 1/16: sums and products are exact.
            assert_eq!(done(&|x| scale(simd, x, 0.5)), by(&|x, _| x * 0.5));
            assert_eq!(done(&|x| times(simd, x, &b)), by(&|x, y| x * y));
            let blended = done(&|x| blend(simd, x, 0.5, &b, 2.0));
            assert_eq!(blended, by(&|x, y| x * 0.5 + y * 2.0));
            assert_eq!(sum(simd, &a), a.iter().sum::<f32>());
            assert_eq!(dot(simd, &a, &b), by(&|x, y| x * y).iter().sum::<f32>());
            let triple = dot_of_products(simd, &a, [(&a, &b), (&b, &b)]);
            assert_eq!(
                triple,
                by(&|x, y| x * x * y + x * y * y).iter().sum::<f32>()
            );
            let moments = bell_moments(simd, [&a, &b, &a], 0.5, 0.7);
            let bell = |x: f32, y: f32, k: i32| {
                let d = 0.7 * (x - 0.5);
                y * (-0.5 * d * d).exp() * d.powi(k)
            };
            for k in 0..5 {
                let of: f32 = by(&|x, y| bell(x, y, k as i32)).iter().sum();
                let with: f32 = by(&|x, y| x * bell(x, y, k as i32)).iter().sum();
                let near = |one: f32, other: f32| (one - other).abs() < 1e-3 * (1.0 + other.abs());
                assert!(near(moments[0][k], of), "{k}: {moments:?}, {of}");
                assert!(
                    k > 2 || near(moments[1][k], with),
                    "{k}: {moments:?}, {with}"
                );
            }
            let away = done(&|x| distances(simd, [&a, &b], [0.5, -1.0], 2.0, x));
            assert_eq!(
                away,
                by(&|x, y| 2.0 * ((x - 0.5) * (x - 0.5) + (y + 1.0) * (y + 1.0)).sqrt())
            );
            let mut exps = vec![0.0; self.0];
            let most = exps_of_sums(simd, &a, &b, &mut exps);
            let sums = by(&|x, y| x + y);
            assert_eq!(most, sums.iter().fold(NEVER, |m, s| m.max(*s)));
            let plain: Vec<f32> = sums.iter().map(|s| exp_fast(s - most)).collect();
            assert_eq!(exps, plain);
        }
    }

    #[test]
    fn agree_with_plain_loops_at_every_length() {
        for len in (0..70).chain([256]) {
            Arch::new().dispatch(All(len));
        }
    }

    struct Weigh<const N: usize>;

    impl<const N: usize> WithSimd for Weigh<N> {
        type Output = ();

        fn with_simd<S: Simd>(self, simd: S) {
            let row = |seed| -> [f32; N] { list(N, seed).try_into().expect("N values") };
            let (rows, weights) = ([row(1), row(2), row(3)], [0.5, 2.0, -1.0]);
            let mut out = [0.0; N];
            weigh(simd, &mut out, &[&rows[0], &rows[1], &rows[2]], &weights);
            let plain: [f32; N] =
                std::array::from_fn(|j| (0..3).map(|t| weights[t] * rows[t][j]).sum());
            assert_eq!(out, plain);
        }
    }

    #[test]
    fn weighted_rows_agree_with_a_plain_loop() {
        Arch::new().dispatch(Weigh::<16>);
        Arch::new().dispatch(Weigh::<5>);
        Arch::new().dispatch(Weigh::<1>);
    }
}
