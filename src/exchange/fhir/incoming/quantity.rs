//! A number with its unit.

use serde_json::{Number, Value, json};

use super::brought::Why;
use super::tables::Tables;
use crate::exchange::fhir::element::{Coding, at, coding};

/// Reads a quantity in the unit that the record wants.
///
/// # Errors
/// Why it is no such number.
pub(super) fn read(quantity: &Value, to: &str, tables: &Tables) -> Result<Value, Why> {
    if at(quantity, "comparator").is_some() {
        return Err(Why::Limit);
    }
    let value = at(quantity, "value").and_then(Value::as_f64).filter(|value| value.is_finite()).ok_or(Why::NoValue)?;
    let unit: Coding = coding(quantity).ok_or(Why::Unit)?;
    let unit = tables.of_system(std::slice::from_ref(&unit), "ucum").ok_or(Why::Unit)?.clone();
    tables.convert(value, &unit.code, to).map(number).ok_or(Why::Unit)
}

/// A whole number is written without a point.
fn number(value: f64) -> Value {
    let whole = value.fract() == 0.0 && value.abs() < 1e9;
    if whole { json!(value as i64) } else { Number::from_f64(value).map_or(Value::Null, Value::Number) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assets::Assets;

    #[test]
    fn units_are_converted_or_refused() {
        let tables = Tables::load(&Assets::default()).unwrap_or_else(|error| panic!("{error}"));
        let ucum = "http://unitsofmeasure.org";
        for (quantity, to, expected) in [
            (json!({ "value": 15, "system": ucum, "code": "mm[Hg]" }), "mm[Hg]", Ok(json!(15))),
            (json!({ "value": 2.36, "system": ucum, "code": "cm" }), "mm", Ok(json!(23.6))),
            (json!({ "value": 2, "system": ucum, "code": "kPa" }), "mm[Hg]", Ok(json!(15))),
            (json!({ "value": 15, "unit": "mmHg" }), "mm[Hg]", Err(Why::Unit)),
            (json!({ "value": 15, "system": "urn:own", "code": "mm[Hg]" }), "mm[Hg]", Err(Why::Unit)),
            (json!({ "value": 15, "system": ucum, "code": "cm[H2O]" }), "mm[Hg]", Err(Why::Unit)),
            (json!({ "value": 15, "comparator": "<", "system": ucum, "code": "mm[Hg]" }), "mm[Hg]", Err(Why::Limit)),
            (json!({ "system": ucum, "code": "mm[Hg]" }), "mm[Hg]", Err(Why::NoValue)),
            (json!({ "value": "15", "system": ucum, "code": "mm[Hg]" }), "mm[Hg]", Err(Why::NoValue)),
        ] {
            assert_eq!(read(&quantity, to, &tables), expected, "{quantity}");
        }
    }
}
