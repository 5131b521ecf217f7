//! Exact intervals of counts.

use statrs::distribution::{Beta, ContinuousCDF};

/// The two-sided 95 % interval of `k` in `n` by Clopper and Pearson, as proportions.
///
/// Exact by the beta distribution; the limit at none is 0, at all 1.
#[must_use]
pub fn clopper_pearson(k: u32, n: u32) -> (f64, f64) {
    let (k, n) = (f64::from(k), f64::from(n));
    let limit = |a: f64, b: f64, at: f64| Beta::new(a, b).map_or(f64::NAN, |beta| beta.inverse_cdf(at));
    let low = if k > 0.0 { limit(k, n - k + 1.0, 0.025) } else { 0.0 };
    let high = if k < n { limit(k + 1.0, n - k, 0.975) } else { 1.0 };
    (low, high)
}
