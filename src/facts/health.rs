//! Facts of health, as far as the planned drops need them.

use super::{ANSWER, Definition, Kind, fact, word};

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
    fact("maoi", ANSWER, "Takes a monoamine oxidase inhibitor.", |s| word(&s.record.health.maoi)),
];
