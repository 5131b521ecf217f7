//! Numbers as people write them beside their unit, and the units that keys carry.

/// Units at the end of keys, and how they are printed.
const KEY_UNITS: [(&str, &str); 8] = [
    ("mm", "mm"),
    ("mj", "mJ"),
    ("mmhg", "mmHg"),
    ("nm", "nm"),
    ("d", "D"),
    ("months", "months"),
    ("days", "days"),
    ("minutes", "minutes"),
];

/// Units somebody might put at the end of a key although no key has them.
const OTHER_UNITS: [&str; 20] = [
    "cm", "m", "um", "inch", "inches", "j", "joule", "uj", "kpa", "pa", "hpa", "torr", "dpt", "diopters", "weeks",
    "years", "hours", "h", "min", "mins",
];

/// A number somebody wrote together with its unit.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Measure {
    /// The number with a decimal point.
    pub(crate) number: String,
    /// What follows it.
    pub(crate) unit: String,
}

/// Reads `24 mm`, `24,5mm` or `24`; none when the text does not begin with a number or goes on after the unit.
pub(crate) fn of(text: &str) -> Option<Measure> {
    let text = text.trim();
    let end = text.find(|character: char| !matches!(character, '0'..='9' | '.' | ',' | '-')).unwrap_or(text.len());
    let (number, unit) = text.split_at(end);
    let number = number.replace(',', ".");
    number.parse::<f64>().ok().filter(|number| number.is_finite())?;
    let unit = unit.trim();
    unit.chars().all(char::is_alphabetic).then(|| Measure { number, unit: unit.to_lowercase() })
}

/// The unit of what stands at a pointer, as it is printed: `mm` for `/eye/axial_length_mm`, `mJ` for
/// `/plan/pulse_energy_mj/lowest`.
pub(crate) fn unit_at(pointer: &str) -> Option<&'static str> {
    pointer.rsplit('/').find_map(unit_of_key)
}

fn unit_of_key(key: &str) -> Option<&'static str> {
    let (_, suffix) = key.rsplit_once('_')?;
    KEY_UNITS.iter().find(|(unit, _)| *unit == suffix).map(|(_, printed)| *printed)
}

/// The key without a unit at its end: `axial_length` for both `axial_length_mm` and `axial_length_cm`.
pub(crate) fn without_unit(key: &str) -> &str {
    match key.rsplit_once('_') {
        Some((stem, suffix)) if is_unit(suffix) => stem,
        _ => key,
    }
}

fn is_unit(suffix: &str) -> bool {
    OTHER_UNITS.contains(&suffix) || KEY_UNITS.iter().any(|(unit, _)| *unit == suffix)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn measure(number: &str, unit: &str) -> Option<Measure> {
        Some(Measure { number: number.into(), unit: unit.into() })
    }

    #[test]
    fn numbers_are_read_with_their_unit() {
        assert_eq!(of("24 mm"), measure("24", "mm"));
        assert_eq!(of(" 24,5mmHg "), measure("24.5", "mmhg"));
        assert_eq!(of("24"), measure("24", ""));
        for text in ["about 24", "24 or 25", "", "1.2.3", "mm", "24/7"] {
            assert_eq!(of(text), None, "{text}");
        }
    }

    #[test]
    fn a_key_says_its_unit() {
        assert_eq!(unit_at("/eye/pressure_mmhg"), Some("mmHg"));
        assert_eq!(unit_at("/plan/pulse_energy_mj/lowest"), Some("mJ"));
        assert_eq!(unit_at("/eye/implant/adds_d/0"), Some("D"));
        assert_eq!(unit_at("/history/retinal_tear"), None);
        assert_eq!(unit_at("/case/revision"), None);
        assert_eq!(without_unit("axial_length_cm"), "axial_length");
        assert_eq!(without_unit("axial_length"), "axial_length");
    }
}
