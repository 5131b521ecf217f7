//! Sharpness of sight as a practice writes it, and as a value.

use std::fmt;
use std::str::FromStr;
use std::sync::LazyLock;

use regex::Regex;
use schemars::JsonSchema;
use serde_with::{DeserializeFromStr, SerializeDisplay};

/// Acuity in one of the ways it is written: a fraction (`20/25`, `6/7.5`), a decimal (`0.8`), `logMAR 0.1` with that word
/// before it, or what is left below the chart (`counting fingers` to `no light perception`).
///
/// ```
/// use vitreoleaf::record::acuity::Acuity;
///
/// let limit: Acuity = "20/60".parse().unwrap();
/// assert!("6/24".parse::<Acuity>().unwrap().is_worse_than(&limit));
/// assert!(!"logMAR 0.48".parse::<Acuity>().unwrap().is_worse_than(&limit));
/// ```
#[derive(Debug, Clone, PartialEq, Eq, SerializeDisplay, DeserializeFromStr)]
pub struct Acuity {
    written: String,
    log_mar_hundredths: i32,
}

/// What sees no chart, below every line of it.
const BELOW_THE_CHART: [&str; 6] =
    ["counting fingers", "hand motion", "hand motions", "hand movements", "light perception", "no light perception"];

/// Below every chart: the common charts end at logMAR 1.6 (common knowledge, from memory).
const UNREADABLE: i32 = 300;

const HOW: &str = "an acuity like 20/25, 6/7.5, 0.8 or \"logMAR 0.1\" (a number alone is a decimal), or \"counting fingers\", \
                   \"hand motion\", \"light perception\", \"no light perception\"";

impl Acuity {
    /// Whether fewer lines are read than at the limit. Compared by hundredths of logMAR, half a letter: letters added or
    /// missed (`20/25-2`) do not count.
    #[must_use]
    pub fn is_worse_than(&self, limit: &Self) -> bool {
        self.log_mar_hundredths > limit.log_mar_hundredths
    }

    /// Whether it is written as the schema of the record wants it: reading alone also takes `1000`.
    #[must_use]
    pub fn is_written_as_the_record_wants(&self) -> bool {
        WRITTEN.as_ref().is_some_and(|pattern| pattern.is_match(&self.written))
    }

    /// How many lines fewer are read than before, a tenth of logMAR each; below zero where more are read.
    ///
    /// ```
    /// use vitreoleaf::record::acuity::Acuity;
    ///
    /// let (before, after): (Acuity, Acuity) = ("20/25".parse().unwrap(), "20/40".parse().unwrap());
    /// assert_eq!(after.lines_lost_since(&before), 2.0);
    /// ```
    #[must_use]
    pub fn lines_lost_since(&self, before: &Self) -> f64 {
        f64::from(self.log_mar_hundredths - before.log_mar_hundredths) / 10.0
    }
}

const PATTERN: &str = concat!(
    r"^((20/[1-9]\d{1,3}|(10|[1-9])/([2-9]|[1-9]\d{1,3}))([.,]\d{1,2})?( ?[+-]\d{1,2})?",
    r"|0[.,](00[1-9]|0[1-9]\d?|[1-9]\d{0,2})|1([.,]\d{1,2})?|2([.,]0)?",
    r"|logMAR (-0[.,][0-3]\d?|[0-2]([.,]\d{1,2})?)",
    r"|counting fingers|hand motions?|hand movements|(no )?light perception)$",
);

static WRITTEN: LazyLock<Option<Regex>> = LazyLock::new(|| Regex::new(PATTERN).ok());

fn number(text: &str) -> Option<f64> {
    text.replace(',', ".").parse().ok()
}

/// Of the fraction of standard sight.
fn of_fraction(fraction: f64) -> i32 {
    (-100.0 * fraction.log10()).round() as i32
}

fn log_mar_hundredths(text: &str) -> Option<i32> {
    if BELOW_THE_CHART.contains(&text) {
        return Some(UNREADABLE);
    }
    if let Some(log_mar) = text.strip_prefix("logMAR ") {
        return Some((100.0 * number(log_mar)?).round() as i32);
    }
    let Some((at, of)) = text.split_once('/') else { return number(text).map(of_fraction) };
    let line = of.split(['+', '-']).next().unwrap_or_default().trim_end();
    Some(of_fraction(number(at)? / number(line)?))
}

/// A text that is no acuity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("write {HOW}")]
pub struct NoAcuity;

impl FromStr for Acuity {
    type Err = NoAcuity;
    fn from_str(text: &str) -> Result<Self, NoAcuity> {
        // The pattern of the schema has the last word on the form; here only what has no value is refused.
        let log_mar_hundredths = log_mar_hundredths(text).ok_or(NoAcuity)?;
        Ok(Self { written: text.to_owned(), log_mar_hundredths })
    }
}

impl fmt::Display for Acuity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.written)
    }
}

impl JsonSchema for Acuity {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Acuity".into()
    }
    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({ "type": "string", "pattern": PATTERN, "description": HOW })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn is_written_right(text: &str) -> bool {
        let schema = serde_json::Value::from(schemars::schema_for!(Acuity));
        jsonschema::is_valid(&schema, &serde_json::json!(text))
    }

    /// 20/60 is logMAR 0.477: a limit of a chart's line lets every way of writing this line pass.
    #[test]
    fn every_way_of_writing_is_compared() {
        let limit: Acuity = "20/60".parse().unwrap();
        for (text, worse) in [
            ("20/60", false),
            ("20/60-2", false),
            ("20/60 +1", false),
            ("20/63", true),
            ("20/50", false),
            ("6/18", false),
            ("6/19", true),
            ("6/7.5", false),
            ("0.8", false),
            ("0,33", false),
            ("0.32", true),
            ("0.025", true),
            ("1", false),
            ("2.0", false),
            ("logMAR 0.48", false),
            ("logMAR 0.5", true),
            ("logMAR -0.1", false),
            ("logMAR 0", false),
            ("counting fingers", true),
            ("no light perception", true),
        ] {
            assert!(is_written_right(text), "{text}");
            assert_eq!(text.parse::<Acuity>().unwrap().is_worse_than(&limit), worse, "{text}");
        }
    }

    /// Whatever the schema lets pass has a value, so that no text is refused without its place; a table of outcomes, which no
    /// schema reads, takes what the schema takes.
    #[test]
    fn what_is_no_acuity_is_refused() {
        for text in [
            "",
            "good",
            "20",
            "0",
            "0.0",
            "-0.1",
            "0/20",
            "20/0",
            "20/2",
            "logmar 0.1",
            "20/20 with glasses",
            "3",
            "CF",
        ] {
            assert!(!is_written_right(text), "{text}");
            assert!(!text.parse().is_ok_and(|acuity: Acuity| acuity.is_written_as_the_record_wants()), "{text}");
        }
        for text in ["20/1000", "10/2", "1/60", "0.001", "logMAR 2.99", "2", "20/12,5"] {
            assert!(is_written_right(text), "{text}");
            assert!(text.parse().is_ok_and(|acuity: Acuity| acuity.is_written_as_the_record_wants()), "{text}");
        }
    }
}
