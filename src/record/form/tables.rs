//! The types that stand behind the tables of a file, with the order of their keys.

use super::order;
use super::schema::Field;
use crate::record::course::*;
use crate::record::eye::{Capsule, Eye, EyeHistory, Implant};
use crate::record::health::{DropTimes, Health};
use crate::record::letters::{Correspondent, Letters};
use crate::record::next_session::NextSession;
use crate::record::person::{Interpreter, Patient, Representative};
use crate::record::procedure::Procedure;
use crate::record::profile::*;
use crate::record::vitreous::{Complaint, Detachment, Examination, Floater, NewSigns};
use crate::record::{Case, Record};

/// Finds a type by the name its JSON Schema has.
macro_rules! keys_of {
    ($name:expr, $($type:ident),+ $(,)?) => {
        match $name {
            $(stringify!($type) => Some(order::keys::<$type>()),)+
            _ => None,
        }
    };
}

fn keys_of(type_name: &str) -> Option<&'static [&'static str]> {
    keys_of!(
        type_name,
        // case record
        Record,
        Case,
        Patient,
        Representative,
        Interpreter,
        Complaint,
        Eye,
        Implant,
        Capsule,
        EyeHistory,
        Floater,
        Detachment,
        Examination,
        NewSigns,
        Health,
        DropTimes,
        Plan,
        EnergyRange,
        BookedVisit,
        EarlierSession,
        Treatment,
        PulseRow,
        PressureRecheck,
        ClinicDose,
        Event,
        Procedure,
        Letters,
        Correspondent,
        NextSession,
        FindingAnswer,
        Tailoring,
        OwnWords,
        // practice profile
        Profile,
        Practice,
        Hours,
        PhoneLine,
        OutOfHours,
        Surgeon,
        Clinician,
        Thresholds,
        DropSpare,
        PressureAfter,
        FrontOfEye,
        Regimen,
        DropCourse,
        DropStep,
        VisitRule,
        Notices,
        Notice,
        Confirmation,
        ResultsRule,
        OwnNumbers,
        OwnCount,
    )
}

/// The keys of a table in the order of its type; of the days of the week and of a choice of keys in that of the schema.
pub(super) fn in_order<'a>(table: Field<'a>) -> Vec<&'a str> {
    let declared = table.type_name().and_then(keys_of);
    declared.map_or_else(|| [table.keys(), table.either_key()].concat(), <[_]>::to_vec)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::form::schema::Form;

    /// A type that is missing from the list above would be written in alphabetical order.
    #[test]
    fn every_table_of_a_type_has_its_order() {
        for form in [Form::of::<Record>(), Form::of::<Profile>()] {
            for (name, table) in form.types() {
                let declared = keys_of(name).unwrap_or_else(|| panic!("{name} has no order"));
                let mut sorted = declared.to_vec();
                sorted.sort_unstable();
                assert_eq!(sorted, table.keys(), "{name}");
            }
        }
    }
}
