//! Facts of health and of the medicines taken, as far as the planned drops need them.

use std::collections::BTreeSet;

use super::{ANSWER, Definition, Kind, Source, Value, YES_NO, choice, fact, word, yes_no};
use crate::record::health::{Diabetes, SulfonamideReaction};
use crate::record::known::{Answer, Known};
use crate::record::medicines::Class;

const DEGREES: Kind = Kind::Choice(&["none", "mild_or_moderate", "severe", "degree_unknown", "unknown"]);

pub(super) const FACTS: &[Definition] = &[
    fact("asthma", ANSWER, "Asthma, now or ever.", |s| word(&s.record.health.asthma)),
    fact("copd", DEGREES, "Chronic obstructive lung disease.", |s| word(&s.record.health.copd)),
    fact("bradycardia", ANSWER, "Slow heart beat (sinus bradycardia).", |s| word(&s.record.health.bradycardia)),
    fact(
        "heart_block",
        Kind::Choice(&["none", "grade_1", "grade_2_or_3", "grade_unknown", "unknown"]),
        "Heart block.",
        |s| word(&s.record.health.heart_block),
    ),
    fact("pacemaker", ANSWER, "A pacemaker.", |s| word(&s.record.health.pacemaker)),
    fact(
        "heart_failure",
        Kind::Choice(&["none", "compensated", "overt", "state_unknown", "unknown"]),
        "Heart failure.",
        |s| word(&s.record.health.heart_failure),
    ),
    fact("heart_ischaemia", ANSWER, "Ischaemic heart disease.", |s| word(&s.record.health.heart_ischaemia)),
    fact("kidney_disease", DEGREES, "Kidney disease.", |s| word(&s.record.health.kidney_disease)),
    fact(
        "sulfonamide_reaction",
        Kind::Choice(&["none", "mild", "severe", "non_antibiotic", "kind_unknown", "unknown"]),
        "Reaction to a sulfonamide drug; sulfite and sulfate are not sulfonamides.",
        |s| word(&s.record.health.sulfonamide_reaction),
    ),
    fact("benzalkonium_allergy", ANSWER, "Allergy to benzalkonium chloride.", |s| {
        word(&s.record.health.benzalkonium_allergy)
    }),
    fact("clonidine_allergy", ANSWER, "Allergy to clonidine.", |s| word(&s.record.health.clonidine_allergy)),
    fact("nsaid_allergy", ANSWER, "Asthma, hives or a runny nose from aspirin or a drug like it.", |s| {
        word(&s.record.health.nsaid_allergy)
    }),
    fact("sulfite_allergy", ANSWER, "Allergy to sulfite.", |s| word(&s.record.health.sulfite_allergy)),
    fact(
        "sulf_in_words",
        YES_NO,
        "An allergy in words holds sulf or sulph, not as sulfite or sulfate, and no sulfonamide reaction is recorded.",
        sulf_in_words,
    ),
    fact("hypertension", ANSWER, "High blood pressure.", |s| word(&s.record.health.hypertension)),
    fact(
        "cardiovascular_disease",
        DEGREES,
        "Disease of heart or vessels; severe is also unstable or not controlled.",
        |s| word(&s.record.health.cardiovascular_disease),
    ),
    fact("cerebral_insufficiency", ANSWER, "Poor blood supply of the brain.", |s| {
        word(&s.record.health.cerebral_insufficiency)
    }),
    fact("raynaud", ANSWER, "Raynaud's disease or thromboangiitis obliterans.", |s| word(&s.record.health.raynaud)),
    fact("orthostatic_hypotension", ANSWER, "The blood pressure falls on standing up.", |s| {
        word(&s.record.health.orthostatic_hypotension)
    }),
    fact("vasovagal", ANSWER, "Has fainted from a procedure or a fright.", |s| word(&s.record.health.vasovagal)),
    fact("depression", ANSWER, "Depression, now or ever.", |s| word(&s.record.health.depression)),
    fact("thyrotoxicosis", ANSWER, "Overactive thyroid.", |s| word(&s.record.health.thyrotoxicosis)),
    fact(
        "diabetes",
        Kind::Choice(&["none", "diet", "medicine", "insulin", "treatment_unknown", "unknown"]),
        "Diabetes by treatment; a medicine for it on the list is diabetes.",
        |s| word(&diabetes(s)),
    ),
    fact("myasthenia", ANSWER, "Myasthenia gravis.", |s| word(&s.record.health.myasthenia)),
    fact("liver_disease", DEGREES, "Liver disease; severe is cirrhosis or marked loss of function.", |s| {
        word(&s.record.health.liver_disease)
    }),
    fact("adrenal_failure", ANSWER, "Failure of the adrenal glands.", |s| word(&s.record.health.adrenal_failure)),
    fact("low_sodium_or_potassium", ANSWER, "Low sodium or low potassium.", |s| {
        word(&s.record.health.low_sodium_or_potassium)
    }),
    fact("bleeding_tendency", ANSWER, "A bleeding tendency.", |s| word(&s.record.health.bleeding_tendency)),
    fact("rheumatoid_arthritis", ANSWER, "Rheumatoid arthritis.", |s| word(&s.record.health.rheumatoid_arthritis)),
    fact(
        "pregnancy",
        Kind::Choice(&["no", "first_or_second_trimester", "third_trimester", "trimester_unknown", "unknown"]),
        "Pregnancy by third.",
        |s| word(&s.record.health.pregnancy),
    ),
    fact("breastfeeding", ANSWER, "Breastfeeding.", |s| word(&s.record.health.breastfeeding)),
    fact("maoi", ANSWER, "Takes a monoamine oxidase inhibitor.", |s| match taken(s, Class::Maoi) {
        Answer::Yes => choice("yes"),
        _ => word(&s.record.health.maoi),
    }),
    fact("oral_beta_blocker", ANSWER, "Takes a beta-blocker.", |s| word(&taken(s, Class::OralBetaBlocker))),
    fact("calcium_blocker", ANSWER, "Takes a calcium channel blocker.", |s| word(&taken(s, Class::CalciumBlocker))),
    fact("digoxin", ANSWER, "Takes digoxin or its kin.", |s| word(&taken(s, Class::Digoxin))),
    fact("cyp2d6_inhibitor", ANSWER, "Takes what slows the breakdown of timolol.", |s| {
        word(&taken(s, Class::Cyp2d6Inhibitor))
    }),
    fact("cyp3a_inhibitor", ANSWER, "Takes what slows the breakdown of steroids.", |s| {
        word(&taken(s, Class::Cyp3aInhibitor))
    }),
    fact("tricyclic", ANSWER, "Takes an antidepressant that acts on noradrenaline.", |s| {
        word(&taken(s, Class::Tricyclic))
    }),
    fact("antihypertensive", ANSWER, "Takes what lowers the blood pressure.", |s| {
        word(&taken(s, Class::Antihypertensive))
    }),
    fact("sympathomimetic", ANSWER, "Takes what acts like adrenaline.", |s| word(&taken(s, Class::Sympathomimetic))),
    fact("sedative", ANSWER, "Takes what dampens the brain.", |s| word(&taken(s, Class::Sedative))),
    fact("anticoagulant", ANSWER, "Takes what keeps blood from clotting.", |s| word(&taken(s, Class::Anticoagulant))),
    fact("aspirin", ANSWER, "Takes aspirin, in whatever dose.", |s| word(&taken(s, Class::Aspirin))),
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
