//! Facts of health and of the medicines taken, as far as the planned drops need them.

use std::collections::BTreeSet;

use super::{ANSWER, Definition, Kind, Source, Value, YES_NO, choice, fact, recorded, word, yes_no};
use crate::record::formulary::Class;
use crate::record::health::{Diabetes, SulfonamideReaction};
use crate::record::known::{Answer, Known};

const DEGREES: Kind = Kind::Choice(&["none", "mild_or_moderate", "severe", "degree_unknown", "unknown"]);

/// What the patient takes; a beta-blocker may be an eye drop.
const LISTS: &[&str] = &["/health/medicines", "/health/eye_drops"];

pub(super) const FACTS: &[Definition] = &[
    recorded!(health.asthma, ANSWER, "Asthma, now or ever."),
    recorded!(health.copd, DEGREES, "Chronic obstructive lung disease."),
    recorded!(health.bradycardia, ANSWER, "Slow heart beat (sinus bradycardia)."),
    recorded!(
        health.heart_block,
        Kind::Choice(&["none", "grade_1", "grade_2_or_3", "grade_unknown", "unknown"]),
        "Heart block."
    ),
    recorded!(health.pacemaker, ANSWER, "A pacemaker."),
    recorded!(
        health.heart_failure,
        Kind::Choice(&["none", "compensated", "overt", "state_unknown", "unknown"]),
        "Heart failure."
    ),
    recorded!(health.heart_ischaemia, ANSWER, "Ischaemic heart disease."),
    recorded!(health.kidney_disease, DEGREES, "Kidney disease."),
    recorded!(
        health.sulfonamide_reaction,
        Kind::Choice(&["none", "mild", "severe", "non_antibiotic", "kind_unknown", "unknown"]),
        "Reaction to a sulfonamide drug; sulfite and sulfate are not sulfonamides."
    ),
    recorded!(health.benzalkonium_allergy, ANSWER, "Allergy to benzalkonium chloride."),
    recorded!(health.clonidine_allergy, ANSWER, "Allergy to clonidine."),
    recorded!(health.apraclonidine_allergy, ANSWER, "Allergy to apraclonidine."),
    recorded!(health.kidney_stones, ANSWER, "Kidney stones, now or ever."),
    recorded!(health.urinary_obstruction, ANSWER, "The flow of urine is obstructed."),
    recorded!(health.hyperchloraemic_acidosis, ANSWER, "Hyperchloraemic acidosis."),
    recorded!(health.nsaid_allergy, ANSWER, "Asthma, hives or a runny nose from aspirin or a drug like it."),
    recorded!(health.sulfite_allergy, ANSWER, "Allergy to sulfite."),
    fact(
        "sulf_in_words",
        YES_NO,
        "An allergy in words holds sulf or sulph, not as sulfite or sulfate, and no sulfonamide reaction is recorded.",
        sulf_in_words,
    )
    .from(&["/health/allergies", "/health/sulfonamide_reaction"]),
    recorded!(health.hypertension, ANSWER, "High blood pressure."),
    recorded!(
        health.cardiovascular_disease,
        DEGREES,
        "Disease of heart or vessels; severe is also unstable or not controlled."
    ),
    recorded!(health.cerebral_insufficiency, ANSWER, "Poor blood supply of the brain."),
    recorded!(health.raynaud, ANSWER, "Raynaud's disease or thromboangiitis obliterans."),
    recorded!(health.orthostatic_hypotension, ANSWER, "The blood pressure falls on standing up."),
    recorded!(health.vasovagal, ANSWER, "Has fainted from a procedure or a fright."),
    recorded!(health.depression, ANSWER, "Depression, now or ever."),
    recorded!(health.thyrotoxicosis, ANSWER, "Overactive thyroid."),
    fact(
        "diabetes",
        Kind::Choice(&["none", "diet", "medicine", "insulin", "treatment_unknown", "unknown"]),
        "Diabetes by treatment; a medicine for it on the list is diabetes.",
        |s| word(&diabetes(s)),
    )
    .from(&["/health/diabetes", "/health/medicines", "/health/eye_drops"]),
    recorded!(health.myasthenia, ANSWER, "Myasthenia gravis."),
    recorded!(health.liver_disease, DEGREES, "Liver disease; severe is cirrhosis or marked loss of function."),
    recorded!(health.adrenal_failure, ANSWER, "Failure of the adrenal glands."),
    recorded!(health.low_sodium_or_potassium, ANSWER, "Low sodium or low potassium."),
    recorded!(health.bleeding_tendency, ANSWER, "A bleeding tendency."),
    recorded!(health.rheumatoid_arthritis, ANSWER, "Rheumatoid arthritis."),
    recorded!(
        health.pregnancy,
        Kind::Choice(&["no", "first_or_second_trimester", "third_trimester", "trimester_unknown", "unknown"]),
        "Pregnancy by third."
    ),
    recorded!(health.breastfeeding, ANSWER, "Breastfeeding."),
    fact("maoi", ANSWER, "Takes a monoamine oxidase inhibitor.", |s| match taken(s, Class::Maoi) {
        Answer::Yes => choice("yes"),
        _ => word(&s.record.health.maoi),
    })
    .from(&["/health/maoi", "/health/medicines", "/health/eye_drops"]),
    fact("oral_beta_blocker", ANSWER, "Takes a beta-blocker.", |s| word(&taken(s, Class::OralBetaBlocker))).from(LISTS),
    fact("calcium_blocker", ANSWER, "Takes a calcium channel blocker.", |s| word(&taken(s, Class::CalciumBlocker)))
        .from(LISTS),
    fact("digoxin", ANSWER, "Takes digoxin or its kin.", |s| word(&taken(s, Class::Digoxin))).from(LISTS),
    fact("cyp2d6_inhibitor", ANSWER, "Takes what slows the breakdown of timolol.", |s| {
        word(&taken(s, Class::Cyp2d6Inhibitor))
    })
    .from(LISTS),
    fact("cyp3a_inhibitor", ANSWER, "Takes what slows the breakdown of steroids.", |s| {
        word(&taken(s, Class::Cyp3aInhibitor))
    })
    .from(LISTS),
    fact("tricyclic", ANSWER, "Takes an antidepressant that acts on noradrenaline.", |s| {
        word(&taken(s, Class::Tricyclic))
    })
    .from(LISTS),
    fact("antihypertensive", ANSWER, "Takes what lowers the blood pressure.", |s| {
        word(&taken(s, Class::Antihypertensive))
    })
    .from(LISTS),
    fact("sympathomimetic", ANSWER, "Takes what acts like adrenaline.", |s| word(&taken(s, Class::Sympathomimetic)))
        .from(LISTS),
    fact("sedative", ANSWER, "Takes what dampens the brain.", |s| word(&taken(s, Class::Sedative))).from(LISTS),
    fact("anticoagulant", ANSWER, "Takes what keeps blood from clotting.", |s| word(&taken(s, Class::Anticoagulant)))
        .from(LISTS),
    fact("antiarrhythmic", ANSWER, "Takes what steadies the rhythm of the heart.", |s| {
        word(&taken(s, Class::Antiarrhythmic))
    })
    .from(LISTS),
    fact("clonidine", ANSWER, "Takes clonidine.", |s| word(&taken(s, Class::Clonidine))).from(LISTS),
    fact("catecholamine_depleter", ANSWER, "Takes reserpine or its kin, or guanethidine.", |s| {
        word(&taken(s, Class::CatecholamineDepleter))
    })
    .from(LISTS),
    fact("blood_thinners", Kind::List, "What of the medicines keeps blood from clotting, as recorded.", |s| {
        Value::List(entries(s, Class::Anticoagulant))
    })
    .from(LISTS)
    .private(),
    fact("aspirin", ANSWER, "Takes aspirin, in whatever dose.", |s| word(&taken(s, Class::Aspirin))).from(LISTS),
];

/// Whether a medicine of a class is on record. A list that was not recorded clears nothing.
fn taken(source: &Source, class: Class) -> Answer {
    let health = &source.record.health;
    let lists = [&health.medicines, &health.eye_drops].into_iter().filter_map(Known::as_ref).flatten();
    let classes: BTreeSet<Class> = lists.flat_map(|entry| source.formulary.read(entry).classes).collect();
    match health.medicines {
        _ if classes.contains(&class) => Answer::Yes,
        Known::Value(_) => Answer::No,
        Known::Unknown => Answer::Unknown,
    }
}

/// The entries of the record that name a medicine of a class.
fn entries(source: &Source, class: Class) -> Vec<String> {
    let health = &source.record.health;
    let lists = [&health.medicines, &health.eye_drops].into_iter().filter_map(Known::as_ref).flatten();
    lists.filter(|entry| source.formulary.read(entry).classes.contains(&class)).cloned().collect()
}

/// Diabetes as recorded; a medicine for it says more than "none" or "diet".
fn diabetes(source: &Source) -> Diabetes {
    match source.record.health.diabetes {
        Diabetes::None | Diabetes::Diet | Diabetes::Unknown if taken(source, Class::GlucoseLowering) == Answer::Yes => {
            Diabetes::TreatmentUnknown
        }
        recorded => recorded,
    }
}

/// Sulfite and sulfate are no sulfonamides; whether "sulfa" or "sulfur" means one, only a person can say.
fn sulf_in_words(source: &Source) -> Value {
    let health = &source.record.health;
    let recorded = !matches!(health.sulfonamide_reaction, SulfonamideReaction::None | SulfonamideReaction::Unknown);
    let spelled = health.allergies.iter().map(|allergy| allergy.to_lowercase().replace("ph", "f"));
    let doubtful = |allergy: String| {
        let mut words = allergy.split(|c: char| !c.is_alphanumeric());
        words.any(|word| word.contains("sulf") && !word.contains("sulfit") && !word.contains("sulfat"))
    };
    yes_no(!recorded && spelled.into_iter().any(doubtful))
}
