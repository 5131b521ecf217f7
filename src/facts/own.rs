//! Facts of the practice's own results, where a clinician has confirmed that the consent says them.

use super::interval::clopper_pearson;
use super::{Definition, Kind, Source, Value, YES_NO, fact, yes_no};
use crate::record::profile::{OwnCount, OwnNumbers};

const EYES: Kind = Kind::Number("eyes", 0);
const IN_100: Kind = Kind::Number("in 100", 0);

pub(super) const FACTS: &[Definition] = &[
    fact("own_numbers", YES_NO, "The practice says its own results in the consent.", |s| yes_no(numbers(s).is_some())),
    fact("own_up_to", Kind::Date, "The day up to which own results are counted.", |s| {
        numbers(s).map_or(Value::Absent, |own| Value::Date(own.up_to.0))
    }),
    fact("own_window_months", Kind::Number("months", 0), "How long own results are followed.", |s| {
        let rule = s.profile.results.as_ref();
        rule.map_or(Value::Absent, |rule| Value::Number(rule.window_months.into()))
    }),
    fact("own_treated", EYES, "Eyes treated in this practice.", |s| {
        numbers(s).map_or(Value::Absent, |own| Value::Number(own.treated.into()))
    }),
    fact("own_better", EYES, "Of them much better or without floaters.", |s| of(s, |own| own.much_better, eyes)),
    fact("own_better_followed", EYES, "Of how many that is known.", |s| of(s, |own| own.much_better, followed)),
    fact("own_better_low", IN_100, "Lower limit of that share (exact, 95 %), rounded down.", |s| {
        of(s, |own| own.much_better, low)
    }),
    fact("own_better_high", IN_100, "Upper limit of that share (exact, 95 %), rounded up.", |s| {
        of(s, |own| own.much_better, high)
    }),
    fact("own_torn", EYES, "Of them with a tear or detachment of the retina.", |s| of(s, |own| own.torn, eyes)),
    fact("own_torn_followed", EYES, "Of how many that is known.", |s| of(s, |own| own.torn, followed)),
    fact("own_torn_high", IN_100, "Upper limit of that share (exact, 95 %), rounded up.", |s| {
        of(s, |own| own.torn, high)
    }),
];

fn numbers<'a>(source: &Source<'a>) -> Option<&'a OwnNumbers> {
    source.profile.results.as_ref()?.in_consent.as_ref()
}

fn of(source: &Source, count: fn(&OwnNumbers) -> OwnCount, number: fn(OwnCount) -> f64) -> Value {
    numbers(source).map_or(Value::Absent, |own| Value::Number(number(count(own))))
}

fn eyes(count: OwnCount) -> f64 {
    count.eyes.into()
}

fn followed(count: OwnCount) -> f64 {
    count.followed.into()
}

fn low(count: OwnCount) -> f64 {
    (clopper_pearson(count.eyes, count.followed).0 * 100.0).floor()
}

fn high(count: OwnCount) -> f64 {
    (clopper_pearson(count.eyes, count.followed).1 * 100.0).ceil()
}
