//! Facts of the planned drops.

use super::{DONE, Definition, Kind, REGIMEN, Source, Value, YES_NO, choice, fact, yes_no};
use crate::record::course::ClinicDose;
use crate::record::formulary::{Drug, Formulary, Group};
use crate::record::known::{Answer, Known};
use crate::record::profile::{DropStep, StepLength};

pub(super) const FACTS: &[Definition] = &[
    fact("steroid_planned", YES_NO, "The regimen holds a steroid drop.", |s| {
        yes_no(of_group(s, &[Group::Steroid]).is_some())
    })
    .from(&[REGIMEN]),
    fact(
        "steroid_course",
        Kind::Choice(&["none", "under_10_days", "from_10_days"]),
        "How long the steroid drop that is taken longest goes on. Labels ask for pressure checks from 10 days on.",
        |s| {
            let steroids = courses(s).into_iter().filter(|course| course.drug.is_in(Group::Steroid));
            choice(match steroids.map(|course| course.days).max() {
                None => "none",
                Some(days) if days < STEROID_CHECK_DAYS => "under_10_days",
                Some(_) => "from_10_days",
            })
        },
    )
    .from(&[REGIMEN]),
    fact("pressure_drop_planned", YES_NO, "The regimen holds a pressure-lowering drop.", |s| {
        yes_no(of_group(s, PRESSURE).is_some())
    })
    .from(&[REGIMEN]),
    fact("drops_planned", YES_NO, "The regimen holds a drop to use at home.", |s| yes_no(planned(s).next().is_some()))
        .from(&[REGIMEN]),
    fact(
        "clinic_dose",
        Kind::Choice(&["given", "not_recorded", "not_applicable"]),
        "The doses that the regimen plans in the clinic after the laser; not applicable before it and without such a dose.",
        |s| choice(clinic_dose(s)),
    )
    .from(&[REGIMEN, GIVEN, DONE]),
    fact(
        "clinic_dose_missing",
        Kind::List,
        "Generic names of the drops planned in the clinic after the laser and not recorded as given.",
        |s| Value::List(clinic_doses(s).filter(|(_, given)| !given).map(|(drug, _)| drug.shown_name()).collect()),
    )
    .from(&[REGIMEN, GIVEN, DONE]),
    fact("steroid_drop", Kind::Text, "Generic name of the steroid drop.", |s| name(of_group(s, &[Group::Steroid])))
        .from(&[REGIMEN]),
    fact("pressure_drop", Kind::Text, "Generic name of the pressure-lowering drop.", |s| name(of_group(s, PRESSURE)))
        .from(&[REGIMEN]),
    fact(
        "allergy_to_planned_drug",
        super::ANSWER,
        "An allergy on record names a planned drug, at home or in the clinic; unknown while nobody asked.",
        allergy,
    )
    .from(&[
        REGIMEN,
        "/plan/dilating",
        "/plan/numbing",
        "/treatment/clinic_doses",
        "/health/allergies",
        "/health/allergies_asked",
    ]),
    fact("allergies", Kind::List, "Allergies on record, in words.", |s| Value::List(s.record.health.allergies.clone()))
        .from(&["/health/allergies"])
        .private(),
    fact("allergies_listed", YES_NO, "Allergies are on record, in words that the program does not read.", |s| {
        yes_no(!s.record.health.allergies.is_empty())
    })
    .from(&["/health/allergies"]),
    fact("dilating", Kind::List, "Generic names of the dilating drops.", |s| names(s, &s.record.plan.dilating))
        .from(&["/plan/dilating"]),
    fact("numbing", Kind::List, "Generic names of the numbing drops.", |s| names(s, &s.record.plan.numbing))
        .from(&["/plan/numbing"]),
    fact("regimen", Kind::Text, "Name of the regimen.", |s| {
        let id = &s.record.plan.regimen;
        let regimen = s.profile.regimens.iter().find(|regimen| regimen.id == *id);
        regimen.map_or(Value::Absent, |regimen| Value::Text(regimen.name.clone()))
    })
    .from(&[REGIMEN]),
];

const GIVEN: &str = "/treatment/clinic_doses";

/// The drugs of which the regimen plans the first dose in the clinic after the laser, and whether one is recorded.
fn clinic_doses<'a>(source: &Source<'a>) -> impl Iterator<Item = (&'a Drug, bool)> + use<'a> {
    let (source, counts_from) = (*source, source.doses_count_from());
    let regimen = source.profile.regimens.iter().find(move |regimen| regimen.id == source.record.plan.regimen);
    let planned = regimen.map_or(&[][..], |regimen| &regimen.drops[..]).iter().filter(|course| course.first_in_clinic);
    planned.filter_map(move |course| {
        let given = |dose: &ClinicDose| dose.drug == course.drug && dose.at.0 >= counts_from;
        let done = source.treatment()?;
        Some((source.formulary.get(&course.drug)?, done.clinic_doses.iter().any(given)))
    })
}

fn clinic_dose(source: &Source) -> &'static str {
    let given: Vec<bool> = clinic_doses(source).map(|(_, given)| given).collect();
    match given.contains(&false) {
        true => "not_recorded",
        false if given.is_empty() => "not_applicable",
        false => "given",
    }
}

/// From so many days on labels of steroid drops ask for pressure checks: US label (FDA), prednisolone acetate 1%.
const STEROID_CHECK_DAYS: u32 = 10;

const PRESSURE: &[Group] =
    &[Group::BetaBlocker, Group::CarbonicAnhydraseInhibitor, Group::AlphaAgonist, Group::Prostaglandin];

/// One drug of the regimen as rules see it.
#[derive(Debug, Clone, Copy)]
pub struct Course<'a> {
    /// The drug.
    pub drug: &'a Drug,
    /// The most doses a day at any time of the course.
    pub per_day: u32,
    /// Days on which it is taken, from the first to the last.
    pub days: u32,
}

/// The courses of the planned regimen.
pub(crate) fn courses<'a>(source: &Source<'a>) -> Vec<Course<'a>> {
    let regimen = source.profile.regimens.iter().find(|regimen| regimen.id == source.record.plan.regimen);
    let drops = regimen.map_or(&[][..], |regimen| &regimen.drops[..]);
    let course = |course: &crate::record::profile::DropCourse| {
        let per_day = course.steps.iter().map(|step| step.per_day).max()?;
        let days = course.steps.iter().map(days).sum();
        Some(Course { drug: source.formulary.get(&course.drug)?, per_day, days })
    };
    drops.iter().filter_map(course).collect()
}

/// A course without end counts as a year at least: longer than any rule asks for.
const WITHOUT_END: u32 = 366;

/// Days from the first to the last of a step.
fn days(step: &DropStep) -> u32 {
    match step.length {
        StepLength::Dates(dates) => dates,
        StepLength::Doses(doses) => doses.div_ceil(step.per_day.max(1)) * step.every_days,
        StepLength::GoesOn(shown) => shown.max(WITHOUT_END),
    }
}

/// Drops and medicines the patient already uses, as far as the formulary and the list of medicines know them.
#[derive(Debug, Clone, Default)]
pub struct InUse {
    /// What names a group of the formulary.
    pub drops: Vec<Used>,
    /// Entries with a word that names nothing known.
    pub unread: Vec<String>,
    /// Lists of the record that were not recorded: `eye_drops`, `medicines`.
    pub unrecorded: Vec<&'static str>,
}

/// One entry of the record.
#[derive(Debug, Clone)]
pub struct Used {
    /// As recorded.
    pub entry: String,
    /// Some word of it names nothing that is known.
    pub unread: bool,
    /// Groups it belongs to.
    pub groups: Vec<Group>,
    /// Keys of the formulary that bear this name.
    pub keys: Vec<String>,
}

/// What the patient already uses.
pub(crate) fn in_use(source: &Source) -> InUse {
    let health = &source.record.health;
    let mut in_use = InUse::default();
    for (name, list) in [("eye_drops", &health.eye_drops), ("medicines", &health.medicines)] {
        if *list == Known::Unknown {
            in_use.unrecorded.push(name);
        }
        for entry in list.as_ref().into_iter().flatten() {
            let reading = source.formulary.read(entry);
            if reading.unread {
                in_use.unread.push(entry.clone());
            }
            if !reading.groups.is_empty() {
                let (groups, keys) = (reading.groups.into_iter().collect(), reading.drugs.into_iter().collect());
                in_use.drops.push(Used { entry: entry.clone(), unread: reading.unread, groups, keys });
            }
        }
    }
    in_use
}

/// The substances of a planned drug that a drop in use holds too. Tears may be used beside tears.
pub(crate) fn shared<'d>(planned: &'d Drug, used: &Used, formulary: &Formulary) -> Vec<&'d str> {
    let entry = used.entry.to_lowercase();
    let known: Vec<&Drug> = used.keys.iter().filter_map(|key| formulary.get(key)).collect();
    let holds = |substance: &&str| {
        entry.contains(substance) || known.iter().any(|drug| drug.substances().any(|other| other == *substance))
    };
    let substances = planned.substances().filter(|_| !planned.is_in(Group::Lubricant));
    substances.filter(holds).collect()
}

/// Whether the regimen holds a substance of an eye drop in use.
pub(crate) fn is_doubled(source: &Source, entry: &str) -> bool {
    let used = in_use(source).drops.into_iter().find(|used| used.entry == entry);
    used.is_some_and(|used| planned(source).any(|drug| !shared(drug, &used, source.formulary).is_empty()))
}

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
    let allergies = &source.record.health.allergies;
    let named = drugs.into_iter().any(|drug| is_named(drug, allergies));
    match (named, source.record.health.allergies_asked) {
        (true, _) => choice("yes"),
        (false, Answer::Yes) => choice("no"),
        (false, _) if !allergies.is_empty() => choice("no"),
        (false, _) => choice("unknown"),
    }
}

/// Whether one of these allergies names a drug.
pub(crate) fn is_named(drug: &Drug, allergies: &[String]) -> bool {
    let mut names = drug.name.split(' ').filter(|word| word.len() >= SHORTEST_NAME && !NO_NAMES.contains(word));
    names.any(|name| allergies.iter().any(|allergy| allergy.to_lowercase().contains(name)))
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
    drug.map_or(Value::Absent, |drug| Value::Text(drug.shown_name()))
}

fn names(source: &Source, keys: &[String]) -> Value {
    let drugs = keys.iter().filter_map(|key| source.formulary.get(key));
    Value::List(drugs.map(Drug::shown_name).collect())
}
