//! One drug of the formulary, and the words its row is written in.

use serde::{Deserialize, Serialize};

use crate::record::profile::Labels;

/// One product: a drug in one strength, with one kind of preservative.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Drug {
    /// The name that regimens and records use: lower-case letters, digits and underscores.
    pub key: String,
    /// Generic name as on a US bottle, lower case; it prints on the patient's pages.
    pub name: String,
    /// The name printed on the practice's own bottles, beside the generic one; only in the practice's own file.
    #[serde(default)]
    pub bottle_name: Option<String>,
    /// Strength as on a US bottle, for example `2% and 0.5%`.
    pub strength: String,
    /// Code of the anatomical therapeutic chemical classification.
    pub atc: String,
    /// The groups it belongs to; at least one.
    pub groups: Vec<Group>,
    /// What it is made up as.
    pub form: Form,
    /// Sizes it is sold in, mL; of a single-dose unit what one unit holds.
    #[serde(default)]
    pub bottle_ml: Vec<f64>,
    /// The preservative of the usual product.
    pub preservative: Preservative,
    /// Other excipients that rules ask for and the product holds.
    #[serde(default)]
    pub excipients: Vec<Excipient>,
    /// Other excipients that some products of this drug hold: they count as held until the practice says otherwise.
    #[serde(default)]
    pub some_hold: Vec<Excipient>,
    /// Where it is kept.
    pub storage: Storage,
    /// Whether it has to be shaken.
    pub shake: bool,
    /// One unit holds one dose and is thrown away after it.
    #[serde(default)]
    pub single_dose: bool,
    /// Days an opened bottle may be used, if a label or custom says so.
    #[serde(default)]
    pub in_use_days: Option<u32>,
    /// Least time to another drop by the US label, minutes.
    #[serde(default)]
    pub gap_minutes_us: Option<u32>,
    /// Least time to another drop by the EU or UK product information, minutes.
    #[serde(default)]
    pub gap_minutes_eu_uk: Option<u32>,
    /// The most doses a day each label gives, with its source.
    #[serde(default)]
    pub label_frequency: Vec<Frequency>,
    /// Least time between two doses of this drug, minutes.
    pub min_same_drug_minutes: u32,
    /// Used in the clinic only, never handed to a patient.
    pub clinic_only: bool,
    /// Whether the drug rules cover it.
    pub rules: RuleCover,
    /// Where its values come from; at least one.
    pub sources: Vec<Source>,
}

impl Drug {
    /// Least time to another drop, minutes, by the labels that count.
    ///
    /// A label that names no gap leaves the other to decide; `None` if neither names one, and the practice's own
    /// distance between drops holds.
    #[must_use]
    pub fn gap_minutes(&self, labels: Labels) -> Option<u32> {
        let (us, eu_uk) = (self.gap_minutes_us, self.gap_minutes_eu_uk);
        match labels {
            Labels::Us => us.or(eu_uk),
            Labels::EuUk => eu_uk.or(us),
            Labels::Stricter => us.max(eu_uk),
        }
    }

    /// The most doses a day by the labels that count: the fewer where both do, the other's where one says nothing.
    #[must_use]
    pub fn frequency(&self, labels: Labels) -> Option<&Frequency> {
        let of = |label| self.label_frequency.iter().find(|frequency| frequency.label == label);
        let (us, eu_uk) = (of(Region::Us), of(Region::EuUk));
        match labels {
            Labels::Us => us.or(eu_uk),
            Labels::EuUk => eu_uk.or(us),
            Labels::Stricter => us.into_iter().chain(eu_uk).min_by_key(|frequency| frequency.per_day),
        }
    }

    /// What it is made of, by name without salts: "timolol" of dorzolamide and timolol.
    pub fn substances(&self) -> impl Iterator<Item = &str> {
        self.name.split(" and ").filter_map(|name| name.split(' ').next())
    }

    /// The name as people at home and at the desk read it: the generic one, beside it what the bottle says.
    #[must_use]
    pub fn shown_name(&self) -> String {
        match &self.bottle_name {
            Some(bottle) => format!("{} ({bottle})", self.name),
            None => self.name.clone(),
        }
    }

    /// Whether it holds, or may hold, an excipient other than a preservative.
    #[must_use]
    pub fn may_contain(&self, excipient: Excipient) -> bool {
        self.excipients.contains(&excipient) || self.some_hold.contains(&excipient)
    }

    /// Whether the drug belongs to a group.
    #[must_use]
    pub fn is_in(&self, group: Group) -> bool {
        self.groups.contains(&group)
    }

    /// Whether it holds, or may hold, a preservative: a preservative that is not known counts as each of them.
    #[must_use]
    pub fn may_hold(&self, preservative: Preservative) -> bool {
        self.preservative == preservative || self.preservative == Preservative::Unknown
    }
}

/// Groups of drugs that rules speak of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Group {
    /// Beta-blockers, alone or combined.
    BetaBlocker,
    /// Carbonic anhydrase inhibitors as drops, alone or combined.
    CarbonicAnhydraseInhibitor,
    /// Alpha-2 agonists.
    AlphaAgonist,
    /// Corticosteroids.
    Steroid,
    /// Anti-inflammatory drops without steroid.
    Nsaid,
    /// Prostaglandin analogues.
    Prostaglandin,
    /// Dilating drops.
    Mydriatic,
    /// Numbing drops.
    Anaesthetic,
    /// Gels that couple a contact lens to the eye.
    CouplingGel,
    /// Artificial tears.
    Lubricant,
    /// Carbonic anhydrase inhibitors as tablets.
    OralCarbonicAnhydraseInhibitor,
}

/// What a drug is made up as, in the order in which drops of one time are taken: thin before thick, because a thick one
/// keeps out what follows. Convention of the trade; only "ointment last" was seen written in a secondary source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Form {
    /// Drops, clear.
    Solution,
    /// Drops, to be shaken.
    Suspension,
    /// Gel.
    Gel,
    /// Ointment.
    Ointment,
    /// Tablet.
    Tablet,
}

impl Form {
    /// Place in the order of drugs taken at one time; 0 comes first.
    #[must_use]
    pub fn order(self) -> u8 {
        self as u8
    }
}

/// Preservatives as far as rules need them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Preservative {
    /// Benzalkonium chloride.
    Benzalkonium,
    /// Another one.
    Other,
    /// None.
    None,
    /// Differs between products, or not known.
    Unknown,
}

/// Excipients other than preservatives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Excipient {
    /// Sulfite, bisulfite or metabisulfite: no sulfonamide.
    Sulfite,
    /// Phosphate.
    Phosphate,
    /// Edetate.
    Edetate,
    /// Boric acid or borate.
    BoricAcid,
    /// Sorbic acid.
    SorbicAcid,
}

/// Where a bottle is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Storage {
    /// As the box says: we have read no label on it, or products differ.
    AsTheBoxSays,
    /// At room temperature.
    Room,
    /// In the refrigerator until opened, then at room temperature.
    ColdUntilOpened,
    /// Always in the refrigerator.
    Cold,
}

/// Whose label.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Region {
    /// United States (FDA).
    Us,
    /// European Union and United Kingdom (EMA, MHRA).
    EuUk,
}

/// The most doses a day of one label.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Frequency {
    /// Whose label.
    pub label: Region,
    /// The most doses a day that it gives.
    pub per_day: u32,
    /// The label, with its regulator.
    pub cite: String,
    /// How sure we are of it.
    pub mark: Mark,
}

/// Whether the drug rules cover a drug.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RuleCover {
    /// Yes.
    Complete,
    /// No, or not enough: a clinician has to be asked.
    None,
}

/// Where a value comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// Which value.
    pub what: String,
    /// Label with regulator and revision, paper, or "common practice, no source".
    pub cite: String,
    /// How sure we are of it.
    pub mark: Mark,
}

/// How sure we are of a source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mark {
    /// Read in a copy or excerpt of the source.
    Seen,
    /// From memory: to be checked against the current label.
    Memory,
    /// Worked out from values that were seen.
    Derived,
}
