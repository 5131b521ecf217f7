//! Facts of the planned drops.

use super::{Definition, Kind, Source, Value, YES_NO, fact, yes_no};
use crate::record::formulary::{Drug, Group};
use crate::record::known::Answer;

pub(super) const FACTS: &[Definition] = &[
    fact("steroid_planned", YES_NO, "The regimen holds a steroid drop.", |s| {
        yes_no(of_group(s, &[Group::Steroid]).is_some())
    }),
    fact("pressure_drop_planned", YES_NO, "The regimen holds a pressure-lowering drop.", |s| {
        yes_no(of_group(s, PRESSURE).is_some())
    }),
    fact("drops_planned", YES_NO, "The regimen holds a drop to use at home.", |s| yes_no(planned(s).next().is_some())),
    fact("steroid_drop", Kind::Text, "Generic name of the steroid drop.", |s| name(of_group(s, &[Group::Steroid]))),
    fact("pressure_drop", Kind::Text, "Generic name of the pressure-lowering drop.", |s| name(of_group(s, PRESSURE))),
    fact(
        "allergy_to_planned_drug",
        super::ANSWER,
        "An allergy on record names a planned drug, at home or in the clinic; unknown while nobody asked.",
        allergy,
    ),
    fact("allergies", Kind::List, "Allergies on record, in words.", |s| Value::List(s.record.health.allergies.clone())),
    fact("allergies_listed", YES_NO, "Allergies are on record, in words that the program does not read.", |s| {
        yes_no(!s.record.health.allergies.is_empty())
    }),
    fact("dilating", Kind::List, "Generic names of the dilating drops.", |s| names(s, &s.record.plan.dilating)),
    fact("numbing", Kind::List, "Generic names of the numbing drops.", |s| names(s, &s.record.plan.numbing)),
    fact("regimen", Kind::Text, "Name of the regimen.", |s| {
        let id = &s.record.plan.regimen;
        let regimen = s.profile.regimens.iter().find(|regimen| regimen.id == *id);
        regimen.map_or(Value::Absent, |regimen| Value::Text(regimen.name.clone()))
    }),
];

const PRESSURE: &[Group] =
    &[Group::BetaBlocker, Group::CarbonicAnhydraseInhibitor, Group::AlphaAgonist, Group::Prostaglandin];

/// The drugs of the planned regimen, in the formulary's words.
pub(crate) fn planned<'a>(source: &Source<'a>) -> impl Iterator<Item = &'a Drug> + use<'a> {
    let (formulary, id) = (source.formulary, &source.record.plan.regimen);
    let regimen = source.profile.regimens.iter().find(move |regimen| regimen.id == *id);
    let drops = regimen.map_or(&[][..], |regimen| &regimen.drops[..]);
    drops.iter().filter_map(move |drop| formulary.get(&drop.drug))
}

/// The drugs used in the clinic: dilating and numbing drops as planned, and doses given there that the regimen lacks.
pub(crate) fn in_clinic<'a>(source: &Source<'a>) -> Vec<&'a Drug> {
    let plan = &source.record.plan;
    let given = source.treatment().into_iter().flat_map(|done| &done.clinic_doses).map(|dose| &dose.drug);
    let keys = plan.dilating.iter().chain(&plan.numbing).chain(given);
    let mut drugs: Vec<&Drug> = Vec::new();
    for drug in keys.filter_map(|key| source.formulary.get(key)) {
        let known =
            drugs.iter().any(|other| other.key == drug.key) || planned(source).any(|other| other.key == drug.key);
        if !known {
            drugs.push(drug);
        }
    }
    drugs
}

/// Shortest part of a drug's name that counts: "acetate" and "sodium" name no drug, and shorter words are no names.
const SHORTEST_NAME: usize = 6;
const NO_NAMES: &[&str] = &["acetate", "sodium", "phosphate"];

/// Whether an allergy on record names a planned drug. Words that do not match clear nothing: they are listed.
fn allergy(source: &Source) -> Value {
    let drugs = planned(source).chain(in_clinic(source));
    let names: Vec<String> = drugs
        .flat_map(|drug| drug.name.split(' '))
        .filter(|word| word.len() >= SHORTEST_NAME && !NO_NAMES.contains(word))
        .map(str::to_lowercase)
        .collect();
    let allergies = &source.record.health.allergies;
    let named = allergies.iter().any(|allergy| {
        let allergy = allergy.to_lowercase();
        names.iter().any(|name| allergy.contains(name.as_str()))
    });
    match (named, source.record.health.allergies_asked) {
        (true, _) => super::choice("yes"),
        (false, Answer::Yes) => super::choice("no"),
        (false, _) if !allergies.is_empty() => super::choice("no"),
        (false, _) => super::choice("unknown"),
    }
}

/// Distance between two different drops of the plan: the practice's, or a label's if that asks for more.
pub(crate) fn gap_minutes(source: &Source) -> u32 {
    let labels = source.profile.practice.labels;
    let practice = source.profile.thresholds.drop_gap_minutes;
    planned(source).filter_map(|drug| drug.gap_minutes(labels)).fold(practice, u32::max)
}

fn of_group<'a>(source: &Source<'a>, groups: &[Group]) -> Option<&'a Drug> {
    planned(source).find(|drug| groups.iter().any(|group| drug.is_in(*group)))
}

fn name(drug: Option<&Drug>) -> Value {
    drug.map_or(Value::Absent, |drug| Value::Text(drug.name.clone()))
}

fn names(source: &Source, keys: &[String]) -> Value {
    let drugs = keys.iter().filter_map(|key| source.formulary.get(key));
    Value::List(drugs.map(|drug| drug.name.clone()).collect())
}
