//! The treatment as it adds up: energy row by row, and when and where the pressure is measured again.

use serde::Serialize;

use crate::desk::error::DeskError;
use crate::desk::judge::Judged;
use crate::desk::room::Room;
use crate::facts::recheck::Recheck;
use crate::facts::{Moment, Value};
use crate::packet::{Assessment, Case};
use crate::register::{CaseFile, Filed};

/// What the rows of pulses come to.
#[derive(Debug, Serialize)]
pub(in crate::desk) struct Tally {
    rows: Vec<Added>,
    total: String,
    pulses: String,
    limit: String,
    /// Whether the limit of the practice is reached.
    reached: bool,
    recheck: Option<Again>,
}

/// One row of pulses.
#[derive(Debug, Serialize)]
struct Added {
    in_all: String,
    added_up: String,
}

/// The recheck.
#[derive(Debug, Serialize)]
struct Again {
    time: Option<String>,
    place: &'static str,
}

/// A drug that can be given now.
#[derive(Debug, Serialize)]
pub(in crate::desk) struct Drop {
    id: String,
    name: String,
}

/// The drops of the regimen that is planned.
pub(in crate::desk) fn in_plan(room: &Room, file: &CaseFile) -> Vec<Drop> {
    let planned = file.text("/plan/regimen");
    let regimen = room.practice.profile.regimens.iter().find(|regimen| Some(regimen.id.as_str()) == planned);
    let drugs = regimen.into_iter().flat_map(|regimen| &regimen.drops);
    let drugs = drugs.filter_map(|course| room.practice.formulary.get(&course.drug));
    drugs.map(|drug| Drop { id: drug.key.clone(), name: drug.shown_name() }).collect()
}

/// What leaves with the patient; nothing while the case is not complete.
pub(in crate::desk) fn along(room: &Room, case: &Filed, moment: Moment) -> Result<Vec<String>, DeskError> {
    let Some(record) = room.complete(case.id, &case.file)? else { return Ok(Vec::new()) };
    match Case::new(&record, moment) {
        Ok(case) => Ok(case.goes_along()?),
        Err(_) => Ok(Vec::new()),
    }
}

/// What the treatment comes to, as far as it is recorded.
pub(in crate::desk) fn tally(room: &Room, judged: &Judged) -> Result<Option<Tally>, DeskError> {
    let assessment = Assessment::of_draft(&judged.draft, Moment::After);
    let facts = &assessment.facts;
    let rows = facts.iter().find(|(name, _)| *name == "row_energies_mj").map(|(_, value)| value);
    let (Some(Value::Numbers(rows)), Some(total)) = (rows, facts.number("session_energy_mj")) else { return Ok(None) };
    let number = |value: f64| room.words.locale.number(value, 1);
    let mut sum = 0.0;
    let added = rows.iter().map(|row| {
        sum += row;
        Added { in_all: number(*row), added_up: number(sum) }
    });
    let limit = room.practice.profile.thresholds.recheck_energy_mj;
    let recheck = assessment.plan_without_drops().ok().and_then(|plan| plan.recheck);
    Ok(Some(Tally {
        rows: added.collect(),
        total: number(total),
        pulses: number(facts.number("session_pulses").unwrap_or_default()),
        limit: number(limit),
        reached: total >= limit,
        recheck: recheck.map(|recheck| again(room, recheck)).transpose()?,
    }))
}

fn again(room: &Room, recheck: Recheck) -> Result<Again, DeskError> {
    let place = match recheck {
        Recheck::Clinic { .. } => "here",
        Recheck::ClinicEarly { .. } => "here_early",
        Recheck::OutOfHours { .. } => "out_of_hours",
        Recheck::Nowhere => "nowhere",
    };
    let time = recheck.at().map(|at| room.words.locale.time(at.time())).transpose()?;
    Ok(Again { time, place })
}
