//! `plan`: dated doses, visits and the recheck.

use std::fmt::Write;

use super::args::{Format, Plan};
use super::report::Failure;
use super::{Status, case, io, practice};
use crate::review::plan::{self, DatedPlan};

/// Shows the plans.
pub(super) fn run(args: &Plan) -> Result<Status, Failure> {
    let practice = practice::open(&args.case.practice)?;
    let plans = case::each(&args.case, &practice, |case| Ok(plan::plan(case)?))?;
    match args.format {
        Format::Json => io::json(&plans),
        Format::Human => io::text(plans.iter().map(text)),
    }
}

fn text(plan: &DatedPlan) -> Result<String, std::fmt::Error> {
    const TIME: &str = "%Y-%m-%d %H:%M";
    let mut text = format!("{}\n", plan.head.case);
    if let Some(why) = &plan.undated {
        writeln!(text, "  the drops cannot be dated: {why}")?;
    }
    for dose in &plan.doses {
        let place = if dose.given { " (given in the clinic)" } else { "" };
        writeln!(text, "  {}  {}{place}", dose.at.0.format(TIME), dose.name)?;
    }
    for limit in &plan.as_needed {
        writeln!(text, "  {}        {} (as needed, at most {} a day)", limit.first, limit.name, limit.per_day)?;
    }
    if let Some(recheck) = &plan.recheck {
        writeln!(text, "  {}  pressure recheck ({})", recheck.at.0.format(TIME), recheck.need)?;
    }
    for visit in &plan.visits {
        let if_raised = if visit.if_raised { " (if the pressure was raised)" } else { "" };
        writeln!(text, "  {}        visit {}{if_raised}", visit.date, visit.ids.join(", "))?;
    }
    Ok(text)
}
