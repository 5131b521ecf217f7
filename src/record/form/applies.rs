//! Which keys apply when: rules as data, for whoever draws a form and for the check that refuses.

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

/// That a key has a meaning only while another one says one of some words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rule {
    /// JSON pointer of the key.
    pub key: &'static str,
    /// When it applies.
    pub when: Condition,
    /// What the key may say all the same, besides nothing and `unknown`.
    pub quiet: &'static [&'static str],
    /// How a record is refused that breaks it.
    pub refusal: Refusal,
}

/// That a key says one of some words; a key that is not written says `unknown`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Condition {
    /// JSON pointer of the key that decides.
    pub pointer: &'static str,
    /// The words it may say.
    pub words: &'static [&'static str],
}

/// What is said of a record that breaks a rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Refusal {
    /// Lasting name of this kind of problem.
    pub code: &'static str,
    /// What is wrong.
    pub message: &'static str,
    /// A few words beside the key that decides.
    pub beside: &'static str,
    /// What to write instead.
    pub help: &'static str,
}

impl Condition {
    /// Whether it holds for the values of a record, complete or not.
    #[must_use]
    pub fn holds(&self, values: &Value) -> bool {
        let word = values.pointer(self.pointer).and_then(Value::as_str).unwrap_or("unknown");
        self.words.contains(&word)
    }
}

impl Rule {
    /// Whether the values of a record, complete or not, break it: the key says something although it does not apply.
    #[must_use]
    pub fn is_broken(&self, values: &Value) -> bool {
        !self.when.holds(values) && values.pointer(self.key).is_some_and(|value| self.says_something(value))
    }

    fn says_something(&self, value: &Value) -> bool {
        match value {
            Value::Null => false,
            Value::String(word) => word != "unknown" && !self.quiet.contains(&word.as_str()),
            Value::Array(entries) => !entries.is_empty(),
            _ => true,
        }
    }
}

const LENS: &str = "/eye/lens";

/// The rules of a case record. They follow from the words themselves.
pub const RULES: &[Rule] = &[
    Rule {
        key: "/eye/implant",
        when: Condition { pointer: LENS, words: &["implant"] },
        quiet: &[],
        refusal: Refusal {
            code: "lens-data",
            message: "`implant` is only for an eye with a lens implant",
            beside: "says otherwise",
            help: "correct `lens`, or take this out",
        },
    },
    Rule {
        key: "/eye/capsule",
        when: Condition { pointer: LENS, words: &["implant"] },
        quiet: &[],
        refusal: Refusal {
            code: "lens-data",
            message: "`capsule` is only for an eye with a lens implant",
            beside: "says otherwise",
            help: "correct `lens`, or take this out",
        },
    },
    Rule {
        key: "/eye/lens_clarity",
        when: Condition { pointer: LENS, words: &["natural", "implant", "unknown"] },
        quiet: &[],
        refusal: Refusal {
            code: "lens-data",
            message: "an eye without a lens has no `lens_clarity`",
            beside: "says otherwise",
            help: "correct `lens`, or take this out",
        },
    },
    Rule {
        key: "/eye/last_lens_surgery",
        when: Condition { pointer: LENS, words: &["implant", "none", "unknown"] },
        quiet: &[],
        refusal: Refusal {
            code: "lens-data",
            message: "an eye with its natural lens had no lens surgery",
            beside: "says otherwise",
            help: "correct `lens`, or take this out",
        },
    },
    Rule {
        key: "/plan/enlarge_opening",
        when: Condition { pointer: LENS, words: &["implant", "unknown"] },
        quiet: &["no"],
        refusal: Refusal {
            code: "plan-data",
            message: "there is no opening of a capsule to enlarge without a lens implant",
            beside: "has no implant",
            help: "write \"no\", or correct `lens`",
        },
    },
    Rule {
        key: "/plan/aiming",
        when: Condition { pointer: LENS, words: &["implant", "unknown"] },
        quiet: &[],
        refusal: Refusal {
            code: "plan-data",
            message: "there is no far and near focus to aim through without a lens implant",
            beside: "has no implant",
            help: "take `aiming` out, or correct `lens`",
        },
    },
    Rule {
        key: "/plan/aiming",
        when: Condition { pointer: "/eye/implant/focus", words: SEVERAL_FOCI },
        quiet: &[],
        refusal: Refusal {
            code: "plan-data",
            message: "an implant with one focus leaves no choice of focus to aim through",
            beside: "one focus",
            help: "correct `focus`, or take this out",
        },
    },
    Rule {
        key: "/eye/implant/adds_d",
        when: Condition { pointer: "/eye/implant/focus", words: SEVERAL_FOCI },
        quiet: &[],
        refusal: Refusal {
            code: "lens-data",
            message: "an implant with one focus has no adds",
            beside: "one focus",
            help: "correct `focus`, or take this out",
        },
    },
    Rule {
        key: "/eye/implant/optic",
        when: Condition { pointer: "/eye/implant/focus", words: SEVERAL_FOCI },
        quiet: &["refractive"],
        refusal: Refusal {
            code: "lens-data",
            message: "an implant with one focus has no diffractive optic",
            beside: "one focus",
            help: "correct `focus` or `optic`",
        },
    },
    Rule {
        key: "/eye/capsule/opening_mm",
        when: Condition { pointer: "/eye/capsule/state", words: &["open"] },
        quiet: &[],
        refusal: Refusal {
            code: "capsule-data",
            message: "only an open capsule has an opening",
            beside: "not \"open\"",
            help: "write `state = \"open\"`, or take `opening_mm` out",
        },
    },
    Rule {
        key: "/detachment/onset",
        when: Condition { pointer: "/detachment/state", words: &["partial", "complete", "unknown"] },
        quiet: &[],
        refusal: Refusal {
            code: "detachment-data",
            message: "an attached vitreous has no onset of its detachment",
            beside: "attached",
            help: "correct `state`, or take `onset` out",
        },
    },
    Rule {
        key: "/examination/breaks_treated",
        when: Condition { pointer: "/examination/breaks", words: &["treated"] },
        quiet: &[],
        refusal: Refusal {
            code: "breaks-data",
            message: "breaks were treated on a date but are not recorded as treated",
            beside: "not \"treated\"",
            help: "write `breaks = \"treated\"`, or take `breaks_treated` out",
        },
    },
    Rule {
        key: "/health/allergies",
        when: Condition { pointer: "/health/allergies_asked", words: &["yes", "unknown"] },
        quiet: &[],
        refusal: Refusal {
            code: "allergies",
            message: "allergies are recorded although nobody asked",
            beside: "nobody asked",
            help: "write `allergies_asked = \"yes\"`, or take the allergies out",
        },
    },
];

/// Kinds of implant that may have more than one focus.
const SEVERAL_FOCI: &[&str] = &["multifocal", "extended_depth", "accommodating", "unknown"];
