//! How many drops and bottles a course takes, and until when an opened bottle may be used.

use chrono::{NaiveDate, TimeDelta};

/// Drops of a milliliter by the convention of the trade: 0.05 mL a drop (WHO ATC/DDD; UCUM `[drp]`).
pub const CONVENTION_DROPS_PER_ML: f64 = 20.0;

/// The poorest yield measured: 56.4 microliters a drop among 20 products, 145 samples (Lederer, Harold. Am J
/// Ophthalmol 1986;101(6)).
pub const POOREST_DROPS_PER_ML: f64 = 17.7;

/// Days an opened bottle may be used when its label gives no other time (EMA CPMP/QWP/159/96).
pub const USUAL_DAYS_IN_USE: u32 = 28;

/// What a course at home takes.
#[derive(Debug, Clone, PartialEq)]
pub struct Supply {
    /// Doses at home.
    pub drops: usize,
    /// The same with the practice's spare for drops that miss.
    pub with_spare: usize,
    /// Milliliters of the drops alone by the convention.
    pub ml: f64,
    /// Each bottle by the time it may be used: opening day and last day.
    pub bottles: Vec<Bottle>,
}

/// One bottle by the time it may be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bottle {
    /// Opened on the day of its first dose.
    pub opened: NaiveDate,
    /// The last day it may be used: a bottle of 28 days opened on the 1st ends on the 28th.
    pub last: NaiveDate,
    /// Doses within this time, the spare included.
    pub with_spare: usize,
}

impl Supply {
    /// What doses on these dates take. `opened` is when the first bottle was or will be opened, `dates` in order, one a
    /// dose; `spare_percent` for drops that miss.
    #[must_use]
    pub fn of(opened: NaiveDate, dates: &[NaiveDate], days_in_use: u32, spare_percent: u32) -> Self {
        let with_spare = |drops: usize| (drops * (100 + spare_percent as usize)).div_ceil(100);
        let mut bottles = Vec::new();
        let (mut opened, mut rest) = (opened, dates);
        while !rest.is_empty() {
            let last = opened + TimeDelta::days(i64::from(days_in_use) - 1);
            let (of_bottle, later) = rest.split_at(rest.partition_point(|date| *date <= last));
            // A bottle opened long before, with no dose left in its time, is thrown away: the next one is opened.
            if !of_bottle.is_empty() {
                bottles.push(Bottle { opened, last, with_spare: with_spare(of_bottle.len()) });
            }
            (opened, rest) = (later.first().copied().unwrap_or(last), later);
        }
        Self {
            drops: dates.len(),
            with_spare: with_spare(dates.len()),
            ml: dates.len() as f64 / CONVENTION_DROPS_PER_ML,
            bottles,
        }
    }

    /// How many bottles of a size to hand out when a milliliter holds `drops_per_ml`: none is used after its time, and
    /// each holds its doses with the spare.
    #[must_use]
    pub fn bottles_to_hand_out(&self, bottle_ml: f64, drops_per_ml: f64) -> usize {
        let holds = ((bottle_ml * drops_per_ml).floor() as usize).max(1);
        self.bottles.iter().map(|bottle| bottle.with_spare.div_ceil(holds)).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dates(first: &str, per_day: &[(usize, i64)]) -> Vec<NaiveDate> {
        let mut day: NaiveDate = first.parse().expect("test date");
        let mut dates = Vec::new();
        for (count, days) in per_day {
            for _ in 0..*days {
                dates.extend(std::iter::repeat_n(day, *count));
                day += TimeDelta::days(1);
            }
        }
        dates
    }

    fn of(dates: &[NaiveDate]) -> Supply {
        Supply::of(dates[0], dates, 28, 25)
    }

    /// A bottle opened two days before counts from then: opened on 5 August 2026, the 28th day is 1 September (calculated).
    #[test]
    fn an_open_bottle_counts_from_its_opening() {
        let opened = "2026-08-05".parse().expect("test date");
        let supply = Supply::of(opened, &dates("2026-08-07", &[(1, 27)]), 28, 25);
        let last: Vec<_> = supply.bottles.iter().map(|bottle| bottle.last.to_string()).collect();
        assert_eq!(last, ["2026-09-01", "2026-09-29"]);
    }

    /// Arithmetic at 20 drops a milliliter: 4, 3, 2 and 1 a day for a week each are 70 drops, 3.5 mL, and 88 with a
    /// quarter to spare; 4 a day for a week are 28, 1.4 mL; both eyes 140, 175 with the spare, 8.75 mL.
    #[test]
    fn golden_amounts() {
        let taper = dates("2026-08-07", &[(4, 7), (3, 7), (2, 7), (1, 7)]);
        let supply = Supply::of(taper[0], &taper, 28, 25);
        assert_eq!((supply.drops, supply.with_spare, supply.ml), (70, 88, 3.5));
        assert_eq!(supply.bottles_to_hand_out(5.0, CONVENTION_DROPS_PER_ML), 1);
        assert_eq!(supply.bottles_to_hand_out(5.0, POOREST_DROPS_PER_ML), 1);
        assert_eq!(supply.bottles_to_hand_out(2.5, POOREST_DROPS_PER_ML), 2);
        let week = of(&dates("2026-08-07", &[(4, 7)]));
        assert_eq!((week.drops, week.with_spare, week.ml), (28, 35, 1.4));
        let both = of(&dates("2026-08-07", &[(8, 7), (6, 7), (4, 7), (2, 7)]));
        assert_eq!((both.drops, both.with_spare), (140, 175));
        assert_eq!(both.with_spare as f64 / CONVENTION_DROPS_PER_ML, 8.75);
        assert_eq!(both.bottles_to_hand_out(10.0, CONVENTION_DROPS_PER_ML), 1);
    }

    /// A bottle of 2.5 mL holds 44 of the poorest drops, since 17.7 times 2.5 are 44.25 and a quarter of a drop is none
    /// (arithmetic); 50 by the convention. A smaller one than a drop counts as one.
    #[test]
    fn a_bottle_holds_whole_drops() {
        let bottles = |doses: i64, ml, drops_per_ml| {
            let dates = dates("2026-08-07", &[(doses as usize, 1)]);
            Supply::of(dates[0], &dates, 28, 0).bottles_to_hand_out(ml, drops_per_ml)
        };
        for (doses, ml, drops_per_ml, wanted) in [
            (44, 2.5, POOREST_DROPS_PER_ML, 1),
            (45, 2.5, POOREST_DROPS_PER_ML, 2),
            (88, 2.5, POOREST_DROPS_PER_ML, 2),
            (89, 2.5, POOREST_DROPS_PER_ML, 3),
            (50, 2.5, CONVENTION_DROPS_PER_ML, 1),
            (51, 2.5, CONVENTION_DROPS_PER_ML, 2),
            (1, 0.05, POOREST_DROPS_PER_ML, 1),
            (2, 0.05, POOREST_DROPS_PER_ML, 2),
        ] {
            assert_eq!(bottles(doses, ml, drops_per_ml), wanted, "{doses} doses, {ml} mL");
        }
    }

    /// The spare is rounded up to a whole drop: a quarter more than 4 are 5, than 5 are 7; none more stays.
    #[test]
    fn the_spare_is_rounded_up() {
        for (doses, percent, wanted) in [(4, 25, 5), (5, 25, 7), (8, 25, 10), (5, 0, 5), (5, 100, 10)] {
            let dates = dates("2026-08-07", &[(doses, 1)]);
            let supply = Supply::of(dates[0], &dates, 28, percent);
            assert_eq!((supply.with_spare, supply.bottles[0].with_spare), (wanted, wanted), "{doses} and {percent} %");
        }
    }

    /// Opened on 7 August 2026, the 28th day is 3 September (calculated). The next bottle is opened the day after.
    #[test]
    fn a_bottle_ends_on_its_last_day() {
        let supply = of(&dates("2026-08-07", &[(1, 29)]));
        let days: Vec<_> = supply.bottles.iter().map(|b| (b.opened.to_string(), b.last.to_string())).collect();
        assert_eq!(days, [("2026-08-07".into(), "2026-09-03".into()), ("2026-09-04".into(), "2026-10-01".to_string())]);
        assert_eq!(supply.bottles_to_hand_out(10.0, POOREST_DROPS_PER_ML), 2);
    }
}
