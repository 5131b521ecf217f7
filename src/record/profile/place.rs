//! The practice itself: name, address, zone and paper, its hours, its phones, and where patients go when it is closed.

use std::collections::BTreeMap;

use chrono_tz::Tz;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::record::date::Clock;
use crate::record::language;

/// The practice itself.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Practice {
    /// Name.
    #[schemars(length(min = 1, max = 120))]
    pub name: String,
    /// The same in further languages, by tag; where one is left out, `name` stands.
    #[serde(default)]
    pub name_in: BTreeMap<String, String>,
    /// Address, line by line.
    #[schemars(length(min = 1, max = 6), inner(length(min = 1, max = 120)))]
    pub address: Vec<String>,
    /// The same in further languages, by tag; where one is left out, `address` stands.
    #[serde(default)]
    pub address_in: BTreeMap<String, Vec<String>>,
    /// IANA time zone, for example `America/New_York`.
    pub time_zone: Zone,
    /// Paper.
    pub paper: Paper,
    /// Languages pages may be printed in.
    #[schemars(length(min = 1, max = 20), inner(length(min = 2, max = 35)), extend("x-names" = "language"))]
    pub languages: Vec<String>,
    /// Which drug labels count where they differ.
    pub labels: Labels,
    /// Whose rules a consent must satisfy: a file of `templates/jurisdictions/`, for example `us-facility`.
    #[schemars(length(min = 1, max = 40), extend("x-names" = "jurisdiction"))]
    pub jurisdiction: String,
    /// A line printed on every page, for example that it is an example.
    #[serde(default)]
    #[schemars(length(min = 1, max = 120))]
    pub banner: Option<String>,
    /// Whether the aftercare shows the visits as a code for a phone's camera. It holds dates and times alone, no name.
    #[serde(default)]
    pub visits_code: bool,
    /// Minutes after which a desk that nobody touches locks itself. Common practice, no source.
    #[serde(default = "lock_after_minutes")]
    #[schemars(range(min = 1, max = 240))]
    pub lock_after_minutes: u32,
}

/// Of a practice that does not say.
fn lock_after_minutes() -> u32 {
    10
}

/// Paper sizes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Paper {
    /// 8.5 by 11 inches.
    UsLetter,
    /// 210 by 297 millimetres.
    A4,
}

/// A time zone that the time zone database does not have.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("write an IANA time zone like America/New_York")]
pub struct NoSuchZone;

/// An IANA time zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde_with::SerializeDisplay, serde_with::DeserializeFromStr)]
pub struct Zone(pub Tz);

impl std::fmt::Display for Zone {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.0.name())
    }
}

impl std::str::FromStr for Zone {
    type Err = NoSuchZone;
    fn from_str(text: &str) -> Result<Self, NoSuchZone> {
        text.parse().map(Self).map_err(|_| NoSuchZone)
    }
}

impl JsonSchema for Zone {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Zone".into()
    }
    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({
            "type": "string",
            "pattern": "^[A-Za-z0-9_+/-]{1,40}$",
            "description": "an IANA time zone like America/New_York"
        })
    }
}

/// Which drug labels count where regulators differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Labels {
    /// United States (FDA).
    Us,
    /// European Union and United Kingdom (EMA, MHRA).
    EuUk,
    /// The stricter of both.
    Stricter,
}

/// Days of the week.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Weekday {
    /// Monday.
    Monday,
    /// Tuesday.
    Tuesday,
    /// Wednesday.
    Wednesday,
    /// Thursday.
    Thursday,
    /// Friday.
    Friday,
    /// Saturday.
    Saturday,
    /// Sunday.
    Sunday,
}

impl Weekday {
    /// The week from Monday.
    pub const ALL: [Self; 7] =
        [Self::Monday, Self::Tuesday, Self::Wednesday, Self::Thursday, Self::Friday, Self::Saturday, Self::Sunday];
}

/// Opening hours with one key for each day; the derive would allow any key.
pub(super) fn hours_by_day(generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
    let hours = generator.subschema_for::<Hours>();
    let days: serde_json::Map<_, _> = Weekday::ALL
        .iter()
        .filter_map(|day| serde_json::to_value(day).ok()?.as_str().map(|name| (name.to_owned(), hours.clone().into())))
        .collect();
    schemars::json_schema!({ "type": "object", "properties": days, "additionalProperties": false })
}

impl From<chrono::Weekday> for Weekday {
    fn from(day: chrono::Weekday) -> Self {
        match day {
            chrono::Weekday::Mon => Self::Monday,
            chrono::Weekday::Tue => Self::Tuesday,
            chrono::Weekday::Wed => Self::Wednesday,
            chrono::Weekday::Thu => Self::Thursday,
            chrono::Weekday::Fri => Self::Friday,
            chrono::Weekday::Sat => Self::Saturday,
            chrono::Weekday::Sun => Self::Sunday,
        }
    }
}

/// Opening hours of one day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Hours {
    /// Opens.
    pub opens: Clock,
    /// The last time a patient can still be seen.
    pub closes: Clock,
}

/// A phone number and when it is answered.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PhoneLine {
    /// Who answers.
    #[schemars(length(min = 1, max = 80))]
    pub who: String,
    /// The same in further languages, by tag; where one is left out, `who` stands.
    #[serde(default)]
    pub who_in: BTreeMap<String, String>,
    /// The number as it is to be printed.
    #[schemars(length(min = 3, max = 40))]
    pub number: String,
    /// When it is answered.
    pub answered: PhoneHours,
}

/// When a phone is answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum PhoneHours {
    /// While the practice is open.
    OpeningHours,
    /// When it is closed.
    OutOfHours,
    /// Day and night.
    Always,
}

/// Where a patient is seen when the practice is closed.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OutOfHours {
    /// Name of the place.
    #[schemars(length(min = 1, max = 120))]
    pub name: String,
    /// The same in further languages, by tag; where one is left out, `name` stands.
    #[serde(default)]
    pub name_in: BTreeMap<String, String>,
    /// Address, line by line.
    #[schemars(length(min = 1, max = 6), inner(length(min = 1, max = 120)))]
    pub address: Vec<String>,
    /// The same in further languages, by tag; where one is left out, `address` stands.
    #[serde(default)]
    pub address_in: BTreeMap<String, Vec<String>>,
}

impl Practice {
    /// The name, in the words of a language as far as the practice has them.
    #[must_use]
    pub fn name(&self, tag: &str) -> &str {
        in_language::<String>(&self.name, &self.name_in, tag)
    }

    /// The address in one line, as a language writes it as far as the practice has it.
    #[must_use]
    pub fn address(&self, tag: &str) -> String {
        in_language(&self.address, &self.address_in, tag).join(", ")
    }
}

impl PhoneLine {
    /// Who answers, in the words of a language as far as the practice has them.
    #[must_use]
    pub fn who(&self, tag: &str) -> &str {
        in_language::<String>(&self.who, &self.who_in, tag)
    }
}

impl OutOfHours {
    /// The name, in the words of a language as far as the practice has them.
    #[must_use]
    pub fn name(&self, tag: &str) -> &str {
        in_language::<String>(&self.name, &self.name_in, tag)
    }

    /// The address in one line, as a language writes it as far as the practice has it.
    #[must_use]
    pub fn address(&self, tag: &str) -> String {
        in_language(&self.address, &self.address_in, tag).join(", ")
    }
}

/// What is said in a language, or in one of its regions, and else as it is.
pub(crate) fn in_language<'a, T>(own: &'a T, others: &'a BTreeMap<String, T>, tag: &str) -> &'a T {
    let chosen = language::choose(tag, others.keys().map(String::as_str));
    chosen.and_then(|tag| others.get(tag)).unwrap_or(own)
}
