//! `plan`: dated doses, visits and the recheck.

use serde_json::{Value, json};

use super::args::{Format, Plan};
use super::report::Failure;
use super::{Status, case, io, practice};
use crate::packet::Case;
use crate::packet::json as packet;

/// Shows the plans.
pub(super) fn run(args: &Plan) -> Result<Status, Failure> {
    let practice = practice::open(&args.case.practice)?;
    let text = match args.format {
        Format::Human => case::each(&args.case, &practice, |case| Ok(text(case)?))?.concat(),
        Format::Json => {
            let values = case::each(&args.case, &practice, |case| Ok(value(case)?))?;
            format!("{:#}\n", Value::Array(values))
        }
    };
    io::stdout(text.as_bytes())
}

fn value(case: &Case) -> Result<Value, String> {
    Ok(json!({
        "case": case.record().case.code,
        "zone": case.practice().profile.practice.time_zone,
        "doses": packet::doses(case)?,
        "visits": packet::visits(case),
        "recheck": packet::recheck(case),
    }))
}

fn text(case: &Case) -> Result<String, String> {
    let mut text = format!("{}\n", case.record().case.code);
    for dose in &case.plan.doses {
        let drug = case.practice().formulary.get(&dose.drug).map_or("?", |drug| &drug.name);
        let place = if dose.given() { " (given in the clinic)" } else { "" };
        text.push_str(&format!("  {}  {drug}{place}\n", dose.at.format("%Y-%m-%d %H:%M")));
    }
    for (used, limit) in case.plan.uses.iter().filter_map(|used| Some((used, used.as_needed?))) {
        let drug = case.practice().formulary.get(&used.drug).map_or("?", |drug| &drug.name);
        text.push_str(&format!("  {}        {drug} (as needed, at most {} a day)\n", used.first, limit.per_day));
    }
    if let Some(at) = case.plan.recheck.and_then(crate::facts::recheck::Recheck::at) {
        let need = case.facts.choice("recheck_need");
        text.push_str(&format!("  {}  pressure recheck ({need})\n", at.format("%Y-%m-%d %H:%M")));
    }
    for visit in &case.plan.visits {
        let if_raised = if visit.if_raised { " (if the pressure was raised)" } else { "" };
        let ids = visit.ids.join(", ");
        text.push_str(&format!("  {}        visit {ids}{if_raised}\n", visit.date));
    }
    Ok(text)
}
