//! Counts with their exact intervals.

use serde::Serialize;
use statrs::distribution::{ContinuousCDF, Gamma};

use crate::facts::interval::clopper_pearson;

/// k of n followed of N treated. Eyes, never sessions.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct Counted {
    /// Treated, N.
    pub treated: u32,
    /// Followed, n: what became of them is known.
    pub followed: u32,
    /// Affected, k.
    pub affected: u32,
}

impl Counted {
    /// The exact 95 % interval of the share of those followed (Clopper and Pearson, Biometrika 1934;26:404-413, from
    /// memory), unless fewer than `least` were followed.
    ///
    /// ```
    /// use vitreoleaf::results::Counted;
    ///
    /// let none = Counted { treated: 162, followed: 118, affected: 0 };
    /// let (low, high) = none.interval(20).unwrap();
    /// assert!(low == 0.0 && (high - 0.0308).abs() < 0.0001);
    /// assert_eq!(none.interval(119), None);
    /// ```
    #[must_use]
    pub fn interval(&self, least: u32) -> Option<(f64, f64)> {
        (self.followed >= least.max(1)).then(|| clopper_pearson(self.affected, self.followed))
    }

    /// The share of those followed, unless fewer than `least` were.
    #[must_use]
    pub fn share(&self, least: u32) -> Option<f64> {
        (self.followed >= least.max(1)).then(|| f64::from(self.affected) / f64::from(self.followed))
    }
}

/// Events by the time in which eyes were followed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Rate {
    /// Events.
    pub events: u32,
    /// Eyes that were followed for any time.
    pub eyes: u32,
    /// Years in which an eye was followed, added up.
    pub eye_years: f64,
}

impl Rate {
    /// Events in 100 eye-years with the exact 95 % interval (Garwood, Biometrika 1936;28:437-442, from memory); nothing where
    /// fewer than `least` eyes were followed, or none for any time.
    ///
    /// ```
    /// use vitreoleaf::results::Rate;
    ///
    /// let tears = Rate { events: 3, eyes: 60, eye_years: 100.0 };
    /// let (rate, low, high) = tears.in_100_years(20).unwrap();
    /// assert!(rate == 3.0 && (low - 0.619).abs() < 0.001 && (high - 8.767).abs() < 0.001);
    /// assert_eq!(tears.in_100_years(61), None);
    /// ```
    #[must_use]
    pub fn in_100_years(&self, least: u32) -> Option<(f64, f64, f64)> {
        let per = 100.0 / self.eye_years;
        let events = f64::from(self.events);
        let at = |shape: f64, share: f64| Gamma::new(shape, 1.0).map_or(f64::NAN, |gamma| gamma.inverse_cdf(share));
        let low = if self.events > 0 { at(events, 0.025) } else { 0.0 };
        (self.eyes >= least && self.eye_years > 0.0).then(|| (events * per, low * per, at(events + 1.0, 0.975) * per))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked examples of Newcombe RG, Stat Med 1998;17:857-872, method 5 (exact): 81 of 263, 15 of 148, 0 of 20, 1 of 29.
    /// Values from memory, recomputed with SciPy.
    #[test]
    fn intervals_are_those_of_newcombe() {
        for (k, n, low, high) in
            [(81, 263, 0.2527, 0.3676), (15, 148, 0.0578, 0.1617), (0, 20, 0.0, 0.1684), (1, 29, 0.0009, 0.1776)]
        {
            let (lower, upper) = Counted { treated: 300, followed: n, affected: k }.interval(1).unwrap();
            assert!((lower - low).abs() < 6e-5 && (upper - high).abs() < 6e-5, "{k} of {n}: {lower} {upper}");
        }
    }

    #[test]
    fn under_the_least_number_there_is_no_share() {
        let counted = Counted { treated: 30, followed: 20, affected: 3 };
        assert!(counted.interval(20).is_some() && counted.share(20) == Some(0.15));
        assert!(counted.interval(21).is_none() && counted.share(21).is_none());
        let nobody = Counted { treated: 30, followed: 0, affected: 0 };
        assert_eq!((nobody.interval(0), nobody.share(0)), (None, None));
    }

    /// The exact limits of a Poisson count of none are 0 and 3.689 (Garwood's table, from memory).
    #[test]
    fn no_event_has_an_upper_limit() {
        let (rate, low, high) = Rate { events: 0, eyes: 50, eye_years: 100.0 }.in_100_years(50).unwrap();
        assert!(rate == 0.0 && low == 0.0 && (high - 3.689).abs() < 0.001, "{high}");
        assert_eq!(Rate { events: 0, eyes: 0, eye_years: 0.0 }.in_100_years(0), None);
    }
}
