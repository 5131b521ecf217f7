//! What stands behind a practice, whether a clinician has confirmed it, and what a confirmation covers.

use std::collections::{BTreeMap, BTreeSet};

use schemars::JsonSchema;
use serde::Serialize;
use similar::{ChangeTag, TextDiff};

use crate::packet::version::Version;
use crate::practice::{Confirmed, Practice};
use crate::record::date::Date;
use crate::record::language;
use crate::record::profile::Profile;

/// A practice at a glance.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct PracticeReview {
    /// Version of this format.
    pub version: Version<1>,
    /// Name of the practice.
    pub name: String,
    /// How many surgeons it has.
    pub surgeons: usize,
    /// How many regimens of drops.
    pub regimens: usize,
    /// How many visits after the treatment.
    pub visits: usize,
    /// How many rules of the eye.
    pub rules_of_the_eye: usize,
    /// How many rules of the drops.
    pub rules_of_the_drops: usize,
    /// BCP 47 tags of the languages it prints in, the staff's own first.
    pub languages: Vec<String>,
    /// Name of the place whose rules its consents follow.
    pub jurisdiction: String,
    /// That these are no legal advice, in words.
    pub notice: String,
    /// Texts that only the practice can write and has not; without them no consent is made.
    pub missing_notices: Vec<MissingNotice>,
    /// Names and addresses of the practice, its phones and places that stand as the staff's language has them, for want of
    /// others.
    pub missing_names: Vec<MissingName>,
    /// Whether a clinician has confirmed the clinical values as they stand.
    pub confirmed: Confirmed,
    /// Who confirmed them last, if somebody did.
    pub confirmed_by: Option<ConfirmedBy>,
}

/// A text of the practice that is missing in a language.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct MissingNotice {
    /// Key under `[notices]` of the profile.
    pub notice: &'static str,
    /// BCP 47 tag.
    pub language: String,
}

/// A name or an address of the practice, a phone or a place that is missing in a language.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct MissingName {
    /// The name, or the address in one line, as the staff's language has it.
    pub name: String,
    /// Where it belongs in the profile: `practice.name_in`, `practice.address_in`, `phones.who_in`, `out_of_hours.name_in` or
    /// `out_of_hours.address_in`.
    pub key: &'static str,
    /// BCP 47 tag.
    pub language: String,
}

/// Who confirmed, and when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct ConfirmedBy {
    /// Which clinician.
    pub clinician: String,
    /// When.
    pub on: Date,
}

/// What a clinician confirms.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct ToConfirm {
    /// Version of this format.
    pub version: Version<1>,
    /// The files to read, sorted, beside thresholds, regimens, visits and choice of labels of the profile.
    pub files: Vec<String>,
    /// Hash of all that, for `[confirmation]` in the profile.
    pub hash: String,
}

/// Looks at a practice.
#[must_use]
pub fn practice(practice: &Practice) -> PracticeReview {
    let profile = &practice.profile;
    let by = profile.confirmation.as_ref();
    PracticeReview {
        version: Version,
        name: profile.practice.name.clone(),
        surgeons: profile.surgeons.len(),
        regimens: profile.regimens.len(),
        visits: profile.visits.len(),
        rules_of_the_eye: practice.rules.general.len(),
        rules_of_the_drops: practice.rules.drugs.len(),
        languages: profile.practice.languages.clone(),
        jurisdiction: practice.jurisdiction.name.clone(),
        notice: practice.jurisdiction.notice.clone(),
        missing_notices: missing_notices(profile),
        missing_names: missing_names(profile),
        confirmed: practice.confirmed(),
        confirmed_by: by.map(|by| ConfirmedBy { clinician: by.clinician.clone(), on: by.on }),
    }
}

fn missing_notices(profile: &Profile) -> Vec<MissingNotice> {
    let wanted = [("cost", &profile.notices.cost), ("regulation", &profile.notices.regulation)];
    let missing = wanted.into_iter().flat_map(|(name, notice)| {
        let has = |language: &String| notice.as_ref().is_some_and(|notice| notice.text.contains_key(language));
        let without = profile.practice.languages.iter().filter(move |language| !has(language));
        without.map(move |language| MissingNotice { notice: name, language: language.clone() })
    });
    missing.collect()
}

/// Names and addresses in no words of a language; another region's variant serves.
fn missing_names(profile: &Profile) -> Vec<MissingName> {
    let (practice, languages) = (&profile.practice, &profile.practice.languages);
    let staff = languages.first().map(String::as_str).unwrap_or_default();
    let missing = |name: &str, key: &'static str, others: BTreeSet<&String>| {
        let served =
            |tag: &str| others.iter().map(|tag| tag.as_str()).chain([staff]).any(|other| language::same(tag, other));
        let without = languages.iter().filter(|tag| !served(tag));
        without
            .map(|language| MissingName { name: name.to_owned(), key, language: language.clone() })
            .collect::<Vec<_>>()
    };
    let mut all = missing(&practice.name, "practice.name_in", practice.name_in.keys().collect());
    all.extend(missing(&practice.address.join(", "), "practice.address_in", practice.address_in.keys().collect()));
    for phone in &profile.phones {
        all.extend(missing(&phone.who, "phones.who_in", phone.who_in.keys().collect()));
    }
    if let Some(place) = &profile.out_of_hours {
        all.extend(missing(&place.name, "out_of_hours.name_in", place.name_in.keys().collect()));
        all.extend(missing(&place.address.join(", "), "out_of_hours.address_in", place.address_in.keys().collect()));
    }
    all
}

/// Says what a confirmation of a practice covers, and its hash.
#[must_use]
pub fn to_confirm(practice: &Practice) -> ToConfirm {
    ToConfirm { version: Version, files: practice.confirmed_files(), hash: practice.clinical_hash().to_owned() }
}

/// What a confirmation covers, piece by piece: the parts of the profile and each file, with what stands there. Two of them
/// tell what changed in between ([`changed`]).
#[must_use]
pub fn covered(practice: &Practice) -> BTreeMap<String, String> {
    let profile = &practice.profile;
    let parts = [
        ("profile: thresholds", serde_json::to_string_pretty(&profile.thresholds)),
        ("profile: regimens", serde_json::to_string_pretty(&profile.regimens)),
        ("profile: visits", serde_json::to_string_pretty(&profile.visits)),
        ("profile: labels", serde_json::to_string_pretty(&profile.practice.labels)),
    ];
    let of_profile = parts.into_iter().map(|(name, text)| (name.to_owned(), text.unwrap_or_default()));
    let files = practice.confirmed_files().into_iter().map(|path| {
        let layers = practice.assets.layers(&path).iter().map(|(_, text)| text.as_ref()).collect();
        (path, layers)
    });
    of_profile.chain(files).collect()
}

/// One piece that is not as it was.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Changed {
    /// Which.
    pub name: String,
    /// The lines that went and came, each behind what is near it.
    pub lines: Vec<Line>,
}

/// A line of a piece that changed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Line {
    /// In both, beside one that changed.
    Same(String),
    /// Only as it was.
    Old(String),
    /// Only as it is.
    New(String),
}

/// What changed between two states of what a confirmation covers.
#[must_use]
pub fn changed(before: &BTreeMap<String, String>, now: &BTreeMap<String, String>) -> Vec<Changed> {
    let names: BTreeSet<&String> = before.keys().chain(now.keys()).collect();
    let differs = names.into_iter().filter(|name| before.get(*name) != now.get(*name));
    let text = |pieces: &BTreeMap<String, String>, name: &String| pieces.get(name).cloned().unwrap_or_default();
    differs.map(|name| Changed { name: name.clone(), lines: lines(&text(before, name), &text(now, name)) }).collect()
}

/// How many lines beside a change are shown with it.
const NEAR: usize = 1;

fn lines(before: &str, now: &str) -> Vec<Line> {
    let diff = TextDiff::from_lines(before, now);
    let groups = diff.grouped_ops(NEAR).into_iter().flatten();
    let changes = groups.flat_map(|op| diff.iter_changes(&op).collect::<Vec<_>>());
    let line = |change: similar::Change<&str>| {
        let text = change.value().trim_end_matches('\n').to_owned();
        match change.tag() {
            ChangeTag::Equal => Line::Same(text),
            ChangeTag::Delete => Line::Old(text),
            ChangeTag::Insert => Line::New(text),
        }
    };
    changes.map(line).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_changed_is_told_line_by_line_with_what_is_near_it() {
        let pieces = |all: &[(&str, &str)]| all.iter().map(|(name, text)| ((*name).into(), (*text).into())).collect();
        let before = pieces(&[("rules", "one\ntwo\nthree\nfour\n"), ("same", "same\n"), ("gone", "old\n")]);
        let now = pieces(&[("rules", "one\ntwo\n3\nfour\n"), ("same", "same\n"), ("new", "new\n")]);
        let changed = changed(&before, &now);
        let names: Vec<&str> = changed.iter().map(|changed| changed.name.as_str()).collect();
        assert_eq!(names, ["gone", "new", "rules"]);
        assert_eq!(
            (&changed[0].lines[..], &changed[1].lines[..]),
            (&[Line::Old("old".into())][..], &[Line::New("new".into())][..])
        );
        let [same, old, new] = [Line::Same as fn(String) -> Line, Line::Old, Line::New];
        let expected = [same("two".into()), old("three".into()), new("3".into()), same("four".into())];
        assert_eq!(changed[2].lines, expected);
    }
}
