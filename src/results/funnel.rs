//! Several surgeons beside each other: shares against the exact limits of chance (funnel plot; Spiegelhalter, Stat Med
//! 2005;24:1185-1202, from memory).

use serde::Serialize;
use statrs::distribution::{Binomial, DiscreteCDF};

use super::count::Counted;

/// Between which counts chance alone leaves 95 % and 99.8 % of all practices of a size.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Limits {
    /// Lower and upper count at 95 %.
    pub inner: (u32, u32),
    /// Lower and upper count at 99.8 %.
    pub outer: (u32, u32),
}

/// One surgeon.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FunnelPoint {
    /// Id of the surgeon.
    pub surgeon: String,
    /// Counts.
    pub counted: Counted,
    /// The limits at this size.
    pub limits: Limits,
}

impl FunnelPoint {
    /// Whether the count lies above what chance explains at 99.8 %.
    #[must_use]
    pub fn is_high(&self) -> bool {
        self.counted.affected > self.limits.outer.1
    }
}

/// The surgeons and the share of all of them together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Funnel {
    /// The share of all together.
    pub share: f64,
    /// The surgeons.
    pub points: Vec<FunnelPoint>,
}

/// Sets surgeons beside each other; nothing where nobody's eyes were followed.
#[must_use]
pub fn funnel(surgeons: &[(String, Counted)]) -> Option<Funnel> {
    let total = |of: fn(&Counted) -> u32| surgeons.iter().map(|(_, counted)| of(counted)).sum::<u32>();
    let (affected, followed) = (total(|counted| counted.affected), total(|counted| counted.followed));
    let share = (followed > 0).then(|| f64::from(affected) / f64::from(followed))?;
    let point = |(surgeon, counted): &(String, Counted)| FunnelPoint {
        surgeon: surgeon.clone(),
        counted: *counted,
        limits: limits(counted.followed, share),
    };
    Some(Funnel { share, points: surgeons.iter().filter(|(_, counted)| counted.followed > 0).map(point).collect() })
}

/// The exact limits of chance among so many eyes with a share.
///
/// ```
/// use vitreoleaf::results::limits;
///
/// assert_eq!(limits(100, 0.05).inner, (1, 10));
/// ```
#[must_use]
pub fn limits(followed: u32, share: f64) -> Limits {
    let Ok(chance) = Binomial::new(share, followed.into()) else { return Limits { inner: (0, 0), outer: (0, 0) } };
    let at = |below: f64| u32::try_from(chance.inverse_cdf(below)).unwrap_or(followed);
    Limits { inner: (at(0.025), at(0.975)), outer: (at(0.001), at(0.999)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counted(affected: u32, followed: u32) -> Counted {
        Counted { treated: followed, followed, affected }
    }

    #[test]
    fn a_surgeon_is_high_beside_the_limit_and_not_at_it() {
        let limit = limits(100, 0.05).outer.1;
        for (affected, high) in [(limit, false), (limit + 1, true)] {
            let point = FunnelPoint { surgeon: "a".into(), counted: counted(affected, 100), limits: limits(100, 0.05) };
            assert_eq!(point.is_high(), high);
        }
    }

    #[test]
    fn surgeons_stand_against_the_share_of_all() {
        let found = funnel(&[("a".into(), counted(2, 40)), ("b".into(), counted(1, 60)), ("c".into(), counted(0, 0))]);
        let found = found.unwrap();
        assert!((found.share - 0.03).abs() < 1e-12);
        assert_eq!(found.points.len(), 2, "who followed nobody has no place");
        assert!(funnel(&[("c".into(), counted(0, 0))]).is_none());
        assert_eq!(limits(50, 0.0).outer, (0, 0), "no harm anywhere");
    }
}
