//! One field: what stands in it for a value, and which value stands in it.

use serde_json::{Value, json};

use super::Form;
use crate::record::form::{Key, Kind};
use crate::record::measure;
use crate::record::typed::{self, Around, Misread, Names, Reading};
use crate::register::CaseFile;

/// What stands in a field.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(in crate::desk) struct Raw {
    /// The text, or the word that is chosen.
    pub(in crate::desk) text: String,
    /// Whether *not recorded* is ticked.
    pub(in crate::desk) unknown: bool,
    /// Whether *asked: none* is ticked.
    pub(in crate::desk) none: bool,
}

/// What a field says.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::desk) enum Entered {
    /// Nothing: nobody has asked yet.
    Nothing,
    /// A value.
    Value(Value),
    /// Something that is no value.
    Wrong(Wrong),
}

/// Why it is no value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::desk) enum Wrong {
    /// A value and a tick that says there is none.
    Both,
    /// A date or time in more than one way.
    Several(Vec<String>),
    /// No date or time.
    Misread(Misread),
    /// No number.
    NoNumber,
    /// A number in another unit.
    OtherUnit(&'static str),
}

/// Before the name of a field: *not recorded*, *asked: none*, what another tab would have written, and that it was shown.
pub(in crate::desk) const UNKNOWN: char = '~';
pub(in crate::desk) const NONE: char = '=';
pub(in crate::desk) const ELSEWHERE: char = '!';
pub(in crate::desk) const SHOWN: char = ':';

/// What stands in the field of a key: what was typed, else its value.
pub(in crate::desk) fn of(form: &Form, file: &CaseFile, pointer: &str, names: &Names) -> Raw {
    let typed = |before: char| file.typed.contains_key(&format!("{before}{pointer}"));
    if let Some(text) = file.typed.get(pointer) {
        return Raw { text: text.clone(), unknown: typed(UNKNOWN), none: typed(NONE) };
    }
    let Some(key) = form.key(pointer) else { return Raw::default() };
    let text = match file.record.pointer(pointer) {
        None | Some(Value::Null) => String::new(),
        Some(Value::Array(entries)) => {
            return Raw { none: entries.is_empty(), unknown: typed(UNKNOWN), ..Raw::default() };
        }
        Some(Value::String(word)) if word == "unknown" && key.may_be_unknown && key.kind != Kind::Word => {
            return Raw { unknown: true, ..Raw::default() };
        }
        Some(Value::String(text)) => {
            key.format.map_or_else(|| text.clone(), |format| typed::shown(format, text, names))
        }
        Some(Value::Object(_)) => String::new(),
        Some(other) => other.to_string(),
    };
    Raw { text, unknown: typed(UNKNOWN), none: typed(NONE) }
}

/// What a field says. A list or table is read entry by entry; here its ticks are.
pub(in crate::desk) fn read(key: &Key, raw: &Raw, around: Around) -> Entered {
    let text = raw.text.trim();
    match (text.is_empty(), raw.unknown, raw.none) {
        (true, false, false) => Entered::Nothing,
        (true, true, false) => Entered::Value(json!("unknown")),
        (true, false, true) => Entered::Value(json!([])),
        (false, false, false) => value(key, text, around),
        _ => Entered::Wrong(Wrong::Both),
    }
}

fn value(key: &Key, text: &str, around: Around) -> Entered {
    match (key.kind, key.format) {
        (Kind::Number | Kind::Whole, _) => number(key, text),
        (_, Some(format)) => match typed::read(format, text, around) {
            Reading::One(one) => Entered::Value(json!(one)),
            Reading::Several(ways) => Entered::Wrong(Wrong::Several(ways)),
            Reading::None(why) => Entered::Wrong(Wrong::Misread(why)),
        },
        _ => Entered::Value(json!(text)),
    }
}

/// A number with or without its unit; a decimal comma counts as a point.
fn number(key: &Key, text: &str) -> Entered {
    let Some(measure) = measure::of(text) else { return Entered::Wrong(Wrong::NoNumber) };
    match key.unit {
        Some(unit) if !measure.unit.is_empty() && measure.unit != unit.to_lowercase() => {
            return Entered::Wrong(Wrong::OtherUnit(unit));
        }
        None if !measure.unit.is_empty() => return Entered::Wrong(Wrong::NoNumber),
        _ => {}
    }
    let whole = (key.kind == Kind::Whole).then(|| measure.number.parse::<u64>().ok()).flatten();
    match (whole, measure.number.parse::<f64>()) {
        (Some(whole), _) => Entered::Value(json!(whole)),
        (None, Ok(number)) => Entered::Value(json!(number)),
        (None, Err(_)) => Entered::Wrong(Wrong::NoNumber),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assets::Assets;

    fn entered(key: &Key, raw: &Raw) -> Entered {
        read(key, raw, Around { today: "2026-08-04".parse().unwrap(), day: None, names: &Names::default() })
    }

    fn reads(pointer: &str, text: &str) -> Entered {
        let form = Form::load(&Assets::default()).unwrap();
        entered(form.key(pointer).unwrap(), &Raw { text: text.into(), ..Raw::default() })
    }

    #[test]
    fn numbers_are_read_with_and_without_their_unit() {
        for text in ["23.1", "23,1", " 23.1 mm ", "23.1mm"] {
            assert_eq!(reads("/eye/axial_length_mm", text), Entered::Value(json!(23.1)), "{text}");
        }
        assert_eq!(reads("/eye/axial_length_mm", "2.3 cm"), Entered::Wrong(Wrong::OtherUnit("mm")));
        assert_eq!(reads("/eye/axial_length_mm", "long"), Entered::Wrong(Wrong::NoNumber));
        assert_eq!(reads("/case/revision", "2"), Entered::Value(json!(2)));
        assert_eq!(reads("/case/revision", "2 mm"), Entered::Wrong(Wrong::NoNumber));
        assert_eq!(reads("/eye/axial_length_mm", "  "), Entered::Nothing);
    }

    #[test]
    fn not_recorded_is_a_value_and_never_stands_beside_another() {
        let form = Form::load(&Assets::default()).unwrap();
        let key = form.key("/eye/pressure_mmhg").unwrap();
        let ticked = Raw { unknown: true, ..Raw::default() };
        assert_eq!(entered(key, &ticked), Entered::Value(json!("unknown")));
        let both = Raw { text: "19".into(), ..ticked };
        assert_eq!(entered(key, &both), Entered::Wrong(Wrong::Both));
    }
}
