//! Evidence entries: a number in a patient's text has its home here (`templates/evidence.toml`).
//!
//! Every field carries its provenance. Only what was seen in print, derived from it, or confirmed by a named clinician
//! in the practice's folder is ever printed for a patient.

use std::collections::BTreeMap;

use serde::Deserialize;
use toml::Spanned;

use super::error::EvidenceError;
use crate::assets::{Assets, Kind, LoadError, Problem, layers};
use crate::facts::interval::clopper_pearson;

/// Where a value comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Provenance {
    /// Seen in a public copy of the source.
    Seen,
    /// Computed from values that were seen.
    Derived,
    /// From memory: never printed for a patient.
    Memory,
    /// Confirmed by a named clinician in the practice's own folder.
    Confirmed,
}

/// What a result counts: the noun that a text prints beside its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Unit {
    /// People, each counted once.
    People,
    /// Eyes; some people have two of them in one series.
    Eyes,
    /// Treatments; a person may have several.
    Sessions,
    /// Lens implants in a laboratory.
    Implants,
}

impl Unit {
    /// Its key under `[unit]` in `words.toml`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::People => "people",
            Self::Eyes => "eyes",
            Self::Sessions => "sessions",
            Self::Implants => "implants",
        }
    }
}

/// Below so many a result is printed as it was counted, "19 of 36", with its range: one person more or less would move
/// a share in 100 by more than one.
pub const SMALL: u32 = 100;

/// A value with its provenance.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Field<T> {
    /// The value.
    pub value: T,
    /// Where it comes from.
    pub provenance: Provenance,
    /// Who confirmed it, for `confirmed`.
    #[serde(default)]
    pub by: Option<String>,
}

/// A published result.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Evidence {
    /// Stable id.
    pub id: String,
    /// Outcome as measured, for clinicians.
    pub outcome: String,
    /// The group studied, for clinicians.
    pub population: String,
    /// Kind of study.
    pub grade: String,
    /// What is counted.
    pub unit: Unit,
    /// True when it comes from another procedure.
    #[serde(default)]
    pub indirect: bool,
    /// Affected people or eyes in 100, where only the share was published.
    #[serde(default)]
    pub per_100: Option<Field<f64>>,
    /// Affected.
    #[serde(default)]
    pub k: Option<Field<u32>>,
    /// Studied.
    #[serde(default)]
    pub n: Option<Field<u32>>,
    /// Time span, hours.
    #[serde(default)]
    pub span_hours: Option<Field<f64>>,
    /// Time span, days.
    #[serde(default)]
    pub span_days: Option<Field<f64>>,
    /// Time span, weeks.
    #[serde(default)]
    pub span_weeks: Option<Field<f64>>,
    /// Time span, months.
    #[serde(default)]
    pub span_months: Option<Field<f64>>,
    /// Time span, years.
    #[serde(default)]
    pub span_years: Option<Field<f64>>,
    /// The paper.
    pub citation: Field<String>,
    /// The publication where the figures were seen, if not the paper itself.
    #[serde(default)]
    pub seen_in: Option<String>,
    /// The practice's own result that it stands beside, by its word.
    #[serde(default)]
    pub own_result: Option<String>,
    /// Caveats, for clinicians.
    #[serde(default)]
    pub caveat: Option<String>,
}

/// A share as it is printed: `k` in `of`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Share {
    /// How many.
    pub k: u32,
    /// Of how many: 100; 1,000 below one in a hundred; 10,000 below one in a thousand.
    pub of: u32,
}

impl Share {
    /// Rounds a proportion for print: from 1 in 100 on it is counted in 100, from 1 in 1,000 on in 1,000, below in
    /// 10,000.
    #[must_use]
    pub fn of(proportion: f64) -> Self {
        let of = match proportion {
            p if p >= 0.01 => 100,
            p if p >= 0.001 => 1000,
            _ => 10_000,
        };
        Self::out_of(proportion, of)
    }

    /// Rounds a proportion to so many in `of`. One that is neither 0 nor 1 never prints as none or as all: the nearest
    /// whole person inside the range stands.
    #[must_use]
    pub fn out_of(proportion: f64, of: u32) -> Self {
        let k = (proportion * f64::from(of)).round().clamp(0.0, f64::from(of)) as u32;
        let k = match proportion {
            p if p > 0.0 && k == 0 => 1,
            p if p < 1.0 && k == of => of - 1,
            _ => k,
        };
        Self { k, of }
    }

    /// The share of those who are not affected, with the same denominator.
    #[must_use]
    pub fn others(self) -> Self {
        Self { k: self.of - self.k, of: self.of }
    }
}

/// Counts behind a number, for the note that names its source.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Counts {
    /// Affected.
    pub k: u32,
    /// Studied.
    pub n: u32,
    /// Lower and upper limit in 1,000: rounded outwards.
    pub interval: (u32, u32),
}

impl Evidence {
    /// The counts with their interval; none unless both were read in print or confirmed. A numerator worked out from a
    /// published share is called a count below [`SMALL`] only: there one whole number alone gives that share.
    #[must_use]
    pub fn counts(&self) -> Option<Counts> {
        let (k, n) = (self.k.as_ref()?, self.n.as_ref()?);
        let sure = |field: &Field<u32>| match field.provenance {
            Provenance::Seen | Provenance::Confirmed => true,
            Provenance::Derived => n.value < SMALL,
            Provenance::Memory => false,
        };
        let (low, high) = clopper_pearson(k.value, n.value);
        let interval = ((low * 1000.0).floor() as u32, (high * 1000.0).ceil() as u32);
        (sure(k) && sure(n)).then_some(Counts { k: k.value, n: n.value, interval })
    }

    /// Whether so few were studied that the result is printed as it was counted.
    #[must_use]
    pub fn is_small(&self) -> bool {
        self.k.is_some() && self.n.as_ref().is_some_and(|n| n.value < SMALL)
    }

    /// The 95 % interval of the proportion as two shares in `of`, rounded outwards.
    ///
    /// # Errors
    /// As [`Evidence::count`] and [`Evidence::size`].
    pub fn range(&self, of: u32) -> Result<(Share, Share), EvidenceError> {
        let (low, high) = clopper_pearson(self.count()?, self.size()?);
        let low = (low * f64::from(of)).floor() as u32;
        Ok((Share { k: low, of }, Share { k: (high * f64::from(of)).ceil() as u32, of }))
    }

    /// The proportion of those affected, from 0 to 1, from what may be printed.
    ///
    /// # Errors
    /// What is missing, and that a value from memory must be confirmed first.
    pub fn proportion(&self) -> Result<f64, EvidenceError> {
        if self.per_100.is_some() {
            return Ok(self.printable("per_100", self.per_100.as_ref())? / 100.0);
        }
        let k = *self.printable("k", self.k.as_ref())?;
        let n = *self.printable("n", self.n.as_ref())?;
        if k == 0 {
            return Err(self.other_kind("none recorded; print its group and range instead"));
        }
        Ok(f64::from(k) / f64::from(n))
    }

    /// Number of people or eyes studied.
    ///
    /// # Errors
    /// As [`Evidence::proportion`].
    pub fn size(&self) -> Result<u32, EvidenceError> {
        self.printable("n", self.n.as_ref()).copied()
    }

    /// Number of those affected.
    ///
    /// # Errors
    /// As [`Evidence::proportion`].
    pub fn count(&self) -> Result<u32, EvidenceError> {
        self.printable("k", self.k.as_ref()).copied()
    }

    /// Time span: amount and unit.
    ///
    /// # Errors
    /// As [`Evidence::proportion`].
    pub fn span(&self) -> Result<(f64, &'static str), EvidenceError> {
        let spans = [
            ("hour", &self.span_hours),
            ("day", &self.span_days),
            ("week", &self.span_weeks),
            ("month", &self.span_months),
            ("year", &self.span_years),
        ];
        let given = spans.into_iter().find(|(_, span)| span.is_some());
        let (unit, span) = given.ok_or_else(|| self.other_kind("no time span is recorded"))?;
        Ok((*self.printable("span", span.as_ref())?, unit))
    }

    /// The reference to print: the paper, or where its figures were seen while the citation is from memory.
    ///
    /// # Errors
    /// When neither may be printed.
    pub fn reference(&self) -> Result<&str, EvidenceError> {
        match (self.printable("citation", Some(&self.citation)), &self.seen_in) {
            (Ok(citation), _) => Ok(citation),
            (Err(_), Some(seen_in)) => Ok(seen_in),
            (Err(error), None) => Err(error),
        }
    }

    /// What cannot be: more affected than studied, a share beyond 100 or of a small group, two time spans.
    fn fault(&self) -> Option<Problem> {
        let value = |field: &Option<Field<u32>>| field.as_ref().map(|field| field.value);
        let (k, n) = (value(&self.k), value(&self.n));
        let per_100 = self.per_100.as_ref().map(|field| field.value);
        let spans = [&self.span_hours, &self.span_days, &self.span_weeks, &self.span_months, &self.span_years];
        let what = match (k, n) {
            (_, Some(0)) => "n must be above 0",
            (Some(k), Some(n)) if k > n => "k cannot be above n",
            _ if per_100.is_some_and(|share| !(0.0..=100.0).contains(&share)) => "per_100 goes from 0 to 100",
            (_, Some(n)) if per_100.is_some() && n < SMALL => {
                "give k instead of per_100: so few are printed as counted"
            }
            _ if spans.into_iter().flatten().count() > 1 => "give one time span",
            _ if self.id.trim().is_empty() => "an entry needs an id",
            _ => return None,
        };
        Some(Problem::new(Kind::Value, format!("evidence {}: {what}", self.id)).of(&self.id))
    }

    /// Fields that are from memory and so are never printed for a patient.
    #[must_use]
    pub fn from_memory(&self) -> Vec<&'static str> {
        fn memory<T>(field: Option<&Field<T>>) -> bool {
            field.is_some_and(|field| field.provenance == Provenance::Memory)
        }
        let spans = [&self.span_hours, &self.span_days, &self.span_weeks, &self.span_months, &self.span_years];
        [
            ("per_100", memory(self.per_100.as_ref())),
            ("k", memory(self.k.as_ref())),
            ("n", memory(self.n.as_ref())),
            ("span", spans.into_iter().any(|span| memory(span.as_ref()))),
            ("citation", memory(Some(&self.citation))),
        ]
        .into_iter()
        .filter_map(|(name, from_memory)| from_memory.then_some(name))
        .collect()
    }

    fn other_kind(&self, what: &'static str) -> EvidenceError {
        EvidenceError::OtherKind { id: self.id.clone(), what }
    }

    fn printable<'a, T>(&self, name: &'static str, field: Option<&'a Field<T>>) -> Result<&'a T, EvidenceError> {
        let id = self.id.clone();
        match field {
            None => Err(EvidenceError::NotRecorded { id, field: name }),
            Some(Field { provenance: Provenance::Memory, .. }) => Err(EvidenceError::FromMemory { id, field: name }),
            Some(Field { provenance: Provenance::Confirmed, by: None, .. }) => {
                Err(EvidenceError::NotSigned { id, field: name })
            }
            Some(field) => Ok(&field.value),
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(default)]
    evidence: Vec<Spanned<Evidence>>,
}

/// Reads `templates/evidence.toml`, the practice's rows over the built-in.
///
/// # Errors
/// The file and what is wrong with it: also numbers that cannot be.
pub fn load(assets: &Assets) -> Result<BTreeMap<String, Evidence>, LoadError> {
    let id = |entry: &Evidence| entry.id.clone();
    let entries = layers::read(assets, "templates/evidence.toml", id, parse, |_, _| Ok(()))?;
    Ok(entries.into_iter().map(|entry| (entry.id.clone(), entry)).collect())
}

fn parse(text: &str) -> Result<Vec<Evidence>, Problem> {
    let file: File = layers::table(text)?;
    let sound = |entry: Spanned<Evidence>| match entry.get_ref().fault() {
        Some(fault) => Err(fault.at(text, &entry.span())),
        None => Ok(entry.into_inner()),
    };
    file.evidence.into_iter().map(sound).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Clopper-Pearson two-sided upper limits at k = 0 (computed table, `1 - 0.025^(1/n)`), rounded up.
    #[test]
    fn upper_limits_when_none_was_recorded() {
        for (n, percent) in [(14, 24), (39, 10), (50, 8), (57, 7), (100, 4), (167, 3), (195, 2)] {
            let (low, high) = clopper_pearson(0, n);
            assert_eq!((low, (high * 100.0).ceil() as u32), (0.0, percent), "n = {n}");
        }
    }

    /// Newcombe RG, Stat Med 1998;17:857-872 (four decimals; published values from memory, recomputed), and the small
    /// counts of this evidence file recomputed with the same z.
    #[test]
    fn clopper_pearson_intervals() {
        for (k, n, low, high) in [
            (81, 263, 0.2527, 0.3676),
            (15, 148, 0.0578, 0.1617),
            (0, 20, 0.0, 0.1684),
            (1, 29, 0.0009, 0.1776),
            (29, 29, 0.8806, 1.0),
            (19, 36, 0.3549, 0.6959),
            (3, 34, 0.0186, 0.2368),
            (457, 17615, 0.0236, 0.0284),
        ] {
            let (lower, upper) = clopper_pearson(k, n);
            assert!((lower - low).abs() < 0.00006 && (upper - high).abs() < 0.00006, "{k}/{n}: {lower} {upper}");
        }
    }

    /// Clopper-Pearson in 100, rounded outwards: 35.5 to 69.6 for 19 of 36; 68.1 to 99.8 for 14 of 15; none of 16.
    #[test]
    fn ranges_are_rounded_outwards() {
        for (k, n, low, high) in [(19, 36, 35, 70), (14, 15, 68, 100), (0, 16, 0, 21), (1, 55, 0, 10), (18, 36, 32, 68)]
        {
            let (lower, upper) = entry(&format!("k = {{ value = {k}, provenance = \"seen\" }}"), n).range(100).unwrap();
            assert_eq!((lower.k, upper.k), (low, high), "{k} of {n}");
        }
    }

    /// A numerator worked out from "38%" of 39 can only be 15; of 1,118 it could be one of several.
    #[test]
    fn a_numerator_worked_out_counts_in_small_groups_only() {
        let derived = |k: u32| format!("k = {{ value = {k}, provenance = \"derived\" }}");
        assert_eq!(entry(&derived(15), 39).counts().map(|counts| counts.k), Some(15));
        assert_eq!(entry(&derived(36), 1118).counts(), None);
        assert_eq!(entry("k = { value = 15, provenance = \"memory\" }", 39).counts(), None);
        assert!(entry(&derived(1), 99).is_small() && !entry(&derived(1), 100).is_small() && !entry("", 36).is_small());
    }

    fn entry(k: &str, n: u32) -> Evidence {
        let text = format!(
            "id = \"x\"\noutcome = \"x\"\npopulation = \"x\"\ngrade = \"trial\"\nunit = \"people\"\n{k}\n\
             n = {{ value = {n}, provenance = \"seen\" }}\ncitation = {{ value = \"x\", provenance = \"seen\" }}"
        );
        toml::from_str(&text).unwrap()
    }

    #[test]
    fn shares_change_their_denominator_below_one_in_a_hundred() {
        assert_eq!(Share::of(0.53), Share { k: 53, of: 100 });
        assert_eq!(Share::of(3.0 / 34.0), Share { k: 9, of: 100 });
        assert_eq!(Share::of(0.01), Share { k: 1, of: 100 });
        assert_eq!(Share::of(0.0039), Share { k: 4, of: 1000 });
        assert_eq!(Share::of(0.0011), Share { k: 1, of: 1000 });
        // 199 of 363,544 and not "1 in 1,000"; below 1 in 10,000 the least whole number stands.
        assert_eq!(Share::of(199.0 / 363_544.0), Share { k: 5, of: 10_000 });
        assert_eq!(Share::of(0.00001), Share { k: 1, of: 10_000 });
        assert_eq!(Share::of(0.999), Share { k: 99, of: 100 });
        assert_eq!(Share::of(0.53).others(), Share { k: 47, of: 100 });
        // In a table whose other numbers need it, the same result is counted in 1,000.
        assert_eq!(Share::out_of(3.0 / 34.0, 1000), Share { k: 88, of: 1000 });
    }
}
