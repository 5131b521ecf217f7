//! Harm added up eye by eye: the Bernoulli CUSUM (Reynolds and Stoumbos, J Qual Technol 1999;31:87-108, from memory).
//!
//! It rises with each harm and falls a little with each eye without one, never below nothing. When it reaches a limit, harm
//! comes oftener than expected, or chance has been unkind: somebody must look.

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

use serde::Serialize;

use super::chance::Chance;

/// Runs that are simulated for a limit.
const RUNS: u32 = 4000;

/// Steps between two limits that are told apart.
const STEP: f64 = 0.05;

/// Highest limit that is looked at.
const HIGHEST: f64 = 20.0;

/// A mean run length is taken for endless beyond so many times the one that is wanted.
const ENDLESS: f64 = 30.0;

/// The curve after one eye.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Point {
    /// Height of the curve.
    pub height: f64,
    /// Whether this eye had harm.
    pub harm: bool,
}

/// The curve.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Chart {
    /// One point an eye, in the order in which they were treated.
    pub points: Vec<Point>,
}

impl Chart {
    /// Where the curve stands.
    #[must_use]
    pub fn now(&self) -> f64 {
        self.points.last().map_or(0.0, |point| point.height)
    }

    /// The highest it ever stood.
    #[must_use]
    pub fn highest(&self) -> f64 {
        self.points.iter().map(|point| point.height).fold(0.0, f64::max)
    }
}

/// What a harm adds and what an eye without one takes away: the logarithms of the ratios of likelihood.
fn weights(expected: f64, alarming: f64) -> (f64, f64) {
    ((alarming / expected).ln(), ((1.0 - expected) / (1.0 - alarming)).ln())
}

/// The curve of harm, given the share that is expected and the one that must raise the alarm.
///
/// ```
/// use vitreoleaf::results::chart;
///
/// let curve = chart([true, false, false], 0.03, 0.08);
/// assert!((curve.highest() - (0.08_f64 / 0.03).ln()).abs() < 1e-12 && curve.now() < curve.highest());
/// ```
pub fn chart(harms: impl IntoIterator<Item = bool>, expected: f64, alarming: f64) -> Chart {
    let (up, down) = weights(expected, alarming);
    let mut height = 0.0_f64;
    let points = harms.into_iter().map(|harm| {
        height = if harm { height + up } else { (height - down).max(0.0) };
        Point { height, harm }
    });
    Chart { points: points.collect() }
}

/// The lowest limit, in steps of a twentieth, that the curve reaches no oftener than once in so many eyes on average while
/// harm is as expected. By simulation with a fixed seed: the same profile has the same limit everywhere.
///
/// ```
/// use vitreoleaf::results::limit;
///
/// assert_eq!(limit(0.03, 0.08, 500), limit(0.03, 0.08, 500));
/// assert!(limit(0.03, 0.08, 500) < limit(0.03, 0.08, 2000));
/// ```
#[must_use]
pub fn limit(expected: f64, alarming: f64, eyes: u32) -> f64 {
    static FOUND: Mutex<BTreeMap<(u64, u64, u32), f64>> = Mutex::new(BTreeMap::new());
    let mut found = FOUND.lock().unwrap_or_else(PoisonError::into_inner);
    let simulated = || simulated(expected, alarming, eyes);
    *found.entry((expected.to_bits(), alarming.to_bits(), eyes)).or_insert_with(simulated)
}

fn simulated(expected: f64, alarming: f64, eyes: u32) -> f64 {
    let (mut low, mut high) = (1, (HIGHEST / STEP) as u32);
    while low < high {
        let middle = (low + high) / 2;
        let enough = run_length(expected, alarming, f64::from(middle) * STEP, f64::from(eyes)) >= f64::from(eyes);
        if enough { high = middle } else { low = middle + 1 }
    }
    f64::from(high) * STEP
}

/// How many eyes go by on average until the curve reaches a limit while harm is as expected.
fn run_length(expected: f64, alarming: f64, limit: f64, wanted: f64) -> f64 {
    let mut chance = Chance::of(0x7669_7472_656F);
    let runs = (0..RUNS).map(|_| run(&mut chance, expected, alarming, limit, wanted * ENDLESS));
    runs.sum::<f64>() / f64::from(RUNS)
}

/// One run. Only a harm can reach the limit, so the eyes between two harms are passed at once.
fn run(chance: &mut Chance, expected: f64, alarming: f64, limit: f64, endless: f64) -> f64 {
    let (up, down) = weights(expected, alarming);
    let (mut height, mut eyes) = (0.0_f64, 0.0);
    while eyes < endless {
        let without = (chance.next().ln() / (1.0 - expected).ln()).floor();
        height = (height - without * down).max(0.0) + up;
        eyes += without + 1.0;
        if height >= limit {
            break;
        }
    }
    eyes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_curve_never_falls_below_nothing() {
        let curve = chart([false, false, true, false], 0.03, 0.08);
        assert_eq!((curve.points[0].height, curve.points[1].height), (0.0, 0.0));
        let (up, down) = weights(0.03, 0.08);
        assert!((curve.now() - (up - down)).abs() < 1e-12 && (curve.highest() - up).abs() < 1e-12);
        assert_eq!(chart([], 0.03, 0.08).now(), 0.0);
    }

    /// With a limit that one harm reaches, the run is the count of eyes up to the first: a geometric mean of 1 / p.
    #[test]
    fn a_limit_that_one_harm_reaches_is_reached_at_the_first() {
        let mean = run_length(0.05, 0.2, 0.1, 1000.0);
        assert!((mean - 20.0).abs() < 1.2, "{mean}");
    }

    #[test]
    fn the_limit_keeps_the_run_length_and_a_step_less_does_not() {
        let limit = limit(0.03, 0.08, 500);
        assert!(run_length(0.03, 0.08, limit, 500.0) >= 500.0);
        assert!(run_length(0.03, 0.08, limit - STEP, 500.0) < 500.0);
    }
}
