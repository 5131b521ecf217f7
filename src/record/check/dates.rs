//! The order of things in time.
//!
//! A month or a year is read in favour of the record: refused is an order that no day within it could have.

use chrono::{NaiveDate, TimeDelta};

use super::Refusals;
use crate::record::Record;
use crate::record::course::{EarlierSession, FindingAnswer, Treatment};
use crate::record::date::{PartialDate, whole_months};
use crate::record::known::Answer;

/// Nobody is older than this, years: the oldest verified age is 122 (common knowledge, from memory).
const OLDEST: u32 = 125;

/// A patient does not stay longer than this after the last pulse, hours (common practice, no source).
const LONGEST_STAY: TimeDelta = TimeDelta::hours(24);

/// Something that happened, and the days it can have happened on.
struct Moment {
    pointer: String,
    name: &'static str,
    earliest: NaiveDate,
    latest: NaiveDate,
}

impl Moment {
    fn on(pointer: impl Into<String>, name: &'static str, day: NaiveDate) -> Self {
        Self { pointer: pointer.into(), name, earliest: day, latest: day }
    }

    fn partly_known(pointer: &str, name: &'static str, date: PartialDate) -> Option<Self> {
        Some(Self { pointer: pointer.into(), name, earliest: date.earliest()?, latest: date.latest()? })
    }

    fn must_not_be_before(&self, other: &Self, found: &mut Refusals<'_>) {
        if self.latest < other.earliest {
            self.out_of_order("before", other, found);
        }
    }

    fn must_not_be_after(&self, other: &Self, found: &mut Refusals<'_>) {
        if self.earliest > other.latest {
            self.out_of_order("after", other, found);
        }
    }

    fn out_of_order(&self, relation: &str, other: &Self, found: &mut Refusals<'_>) {
        let message = format!("{} is {relation} {}", self.name, other.name);
        let marks = [(self.pointer.as_str(), self.name), (other.pointer.as_str(), other.name)];
        found.refuse("date-order", message, &marks, "correct one of the two dates");
    }
}

/// Dates and times of a record.
pub(super) fn check(record: &Record, found: &mut Refusals<'_>) {
    let birth = Moment::on("/patient/birth_date", "the birth", record.patient.birth_date.0);
    let plan = Moment::on("/plan/start", "the planned treatment", record.plan.start.0.date());
    let history = history(record);
    let sessions = sessions(&record.earlier_sessions);
    let answers = answers(&record.answers);
    for moment in &history {
        moment.must_not_be_after(&plan, found);
    }
    tear_before_examination(record, found);
    birth.must_not_be_after(&plan, found);
    // A birth after the plan is one mistake, not one for each date before it.
    if birth.earliest <= plan.latest {
        age(&birth, &plan, found);
        for moment in history.iter().chain(&sessions).chain(&answers) {
            moment.must_not_be_before(&birth, found);
        }
    }
    floater_after_examination(record, found);
    answers_in_time(record, &answers, &plan, found);
    sessions_before_plan(&record.earlier_sessions, &plan, found);
    waking_hours(record, found);
    if let Some(treatment) = &record.treatment {
        done(treatment, &plan, found);
    }
}

/// What lies between birth and treatment.
fn history(record: &Record) -> Vec<Moment> {
    let moments = [
        ("/eye/last_lens_surgery", "the last lens surgery", record.eye.last_lens_surgery),
        ("/floater/since", "the start of the floater", record.floater.since),
        ("/detachment/onset", "the onset of the detachment", record.detachment.onset),
        ("/examination/date", "the examination", record.examination.date),
        ("/examination/breaks_treated", "the treatment of breaks", record.examination.breaks_treated),
    ];
    moments.into_iter().filter_map(|(pointer, name, date)| Moment::partly_known(pointer, name, date)).collect()
}

/// A floater that began after the examination is one that is new since it.
fn floater_after_examination(record: &Record, found: &mut Refusals<'_>) {
    let (since, examination) = (record.floater.since, &record.examination);
    let (Some(began), Some(seen)) = (since.earliest(), examination.date.latest()) else { return };
    if began > seen && examination.since.floaters == Answer::No {
        let marks = [
            ("/floater/since", "the start of the floater"),
            ("/examination/date", "the examination"),
            ("/examination/since/floaters", "no new floaters since"),
        ];
        let message = "the floater began after the examination, and no floater is new since then";
        let help = "correct the start of the floater or the date of the examination, or write `floaters = \"yes\"`";
        found.refuse("new-floater", message, &marks, help);
    }
}

/// The examination tells of breaks that were treated: their treatment came before it, or with it.
fn tear_before_examination(record: &Record, found: &mut Refusals<'_>) {
    let date = |name: &str| history(record).into_iter().find(|moment| moment.pointer == name);
    if let (Some(treated), Some(examined)) = (date("/examination/breaks_treated"), date("/examination/date")) {
        treated.must_not_be_after(&examined, found);
    }
}

fn sessions(sessions: &[EarlierSession]) -> Vec<Moment> {
    let moment = |(index, session): (usize, &EarlierSession)| {
        Moment::on(format!("/earlier_sessions/{index}/date"), "an earlier session", session.date.0)
    };
    sessions.iter().enumerate().map(moment).collect()
}

fn answers(answers: &[FindingAnswer]) -> Vec<Moment> {
    let moment =
        |(index, answer): (usize, &FindingAnswer)| Moment::on(format!("/answers/{index}/on"), "an answer", answer.on.0);
    answers.iter().enumerate().map(moment).collect()
}

/// Before the treatment is done no answer is later than its planned day.
fn answers_in_time(record: &Record, answers: &[Moment], plan: &Moment, found: &mut Refusals<'_>) {
    if record.treatment.is_none() {
        answers.iter().for_each(|answer| answer.must_not_be_after(plan, found));
    }
}

fn age(birth: &Moment, plan: &Moment, found: &mut Refusals<'_>) {
    let years = whole_months(birth.earliest, plan.earliest) / 12;
    if years > OLDEST {
        let message = format!("the patient would be {years} years old");
        found.refuse("age", message, &[(&birth.pointer, ""), (&plan.pointer, "")], "correct the date of birth");
    }
}

/// An earlier session was on an earlier day; two on one day are one session.
fn sessions_before_plan(sessions: &[EarlierSession], plan: &Moment, found: &mut Refusals<'_>) {
    let dates = || {
        sessions.iter().enumerate().map(|(index, session)| (format!("/earlier_sessions/{index}/date"), session.date))
    };
    for (pointer, _) in dates().filter(|(_, date)| date.0 >= plan.earliest) {
        let marks = [(pointer.as_str(), "an earlier session"), (plan.pointer.as_str(), plan.name)];
        let message = "an earlier session is not before the planned treatment";
        found.refuse(
            "date-order",
            message,
            &marks,
            "list earlier sessions only; the treatment itself belongs in `treatment`",
        );
    }
    found.duplicates("the earlier sessions", dates());
}

/// Sleeping earlier than waking means after midnight; the same time leaves no day.
fn waking_hours(record: &Record, found: &mut Refusals<'_>) {
    if record.patient.wakes == record.patient.sleeps {
        found.refuse(
            "waking-hours",
            "the patient wakes and sleeps at the same time",
            &[("/patient/sleeps", ""), ("/patient/wakes", "")],
            "write when the patient gets up and when the patient goes to sleep",
        );
    }
}

/// The treatment as done: on the planned day or the next, and each time of it in order.
fn done(treatment: &Treatment, plan: &Moment, found: &mut Refusals<'_>) {
    stopped(treatment, found);
    let name = if treatment.last_pulse.is_some() { "the last pulse" } else { "leaving" };
    let ended = Moment::on(treatment.ended_at(), name, treatment.ended().0.date());
    ended.must_not_be_before(plan, found);
    if ended.earliest - plan.latest > TimeDelta::days(1) {
        let marks = [(ended.pointer.as_str(), ended.name), (plan.pointer.as_str(), plan.name)];
        let help = "write in `plan` the start of the treatment that was done";
        found.refuse("off-plan", "the treatment was done more than a day after its plan", &marks, help);
    }
    leaving(treatment, found);
    rechecks(treatment, found);
    clinic_doses(treatment, plan, found);
}

/// Pulses have a last one, and without pulses somebody says why.
fn stopped(treatment: &Treatment, found: &mut Refusals<'_>) {
    let (message, marks, help) = match (treatment.rows.is_empty(), treatment.last_pulse, &treatment.stopped) {
        (true, _, None) => (
            "the treatment has no pulse",
            [("/treatment/rows", "none"), ("/treatment", "")],
            "write the pulses; if it was stopped before the first, write `stopped` with the reason and leave `last_pulse` out",
        ),
        (true, Some(_), Some(_)) => (
            "there was no pulse, and the last one has a time",
            [("/treatment/last_pulse", ""), ("/treatment/stopped", "stopped")],
            "leave `last_pulse` out, or write the pulses",
        ),
        (false, None, _) => (
            "there were pulses, and the last one has no time",
            [("/treatment/rows", "pulses"), ("/treatment/stopped", "")],
            "write `last_pulse`",
        ),
        _ => return,
    };
    found.refuse("stopped", message, &marks, help);
}

fn leaving(treatment: &Treatment, found: &mut Refusals<'_>) {
    let Some(last_pulse) = treatment.last_pulse else { return };
    let marks = [("/treatment/leaves", "leaves"), ("/treatment/last_pulse", "the last pulse")];
    let stay = treatment.leaves.0 - last_pulse.0;
    if stay < TimeDelta::zero() {
        found.refuse("time-order", "the patient leaves before the last pulse", &marks, "correct one of the two times");
    } else if stay > LONGEST_STAY {
        let message = "the patient leaves more than a day after the last pulse";
        found.refuse("time-order", message, &marks, "correct one of the two times");
    }
}

/// A recheck of the day is on the date of the last pulse, later than that and than the recheck before it. Without a pulse it is
/// on the day the patient left.
fn rechecks(treatment: &Treatment, found: &mut Refusals<'_>) {
    let mut before = treatment.last_pulse.map(|at| ("/treatment/last_pulse".to_owned(), "the last pulse", at));
    for (index, recheck) in treatment.rechecks.iter().enumerate() {
        let pointer = format!("/treatment/rechecks/{index}/at");
        if recheck.at.0.date() != treatment.ended().0.date() {
            let marks = [(pointer.as_str(), "the recheck"), (treatment.ended_at(), "the treatment")];
            let message = "a recheck of the pressure is not on the day of the treatment";
            let help = "correct one of the two; what is measured on another day belongs to that visit";
            found.refuse("time-order", message, &marks, help);
        } else if let Some((earlier, name, _)) = before.as_ref().filter(|(_, _, at)| recheck.at <= *at) {
            let marks = [(pointer.as_str(), "the recheck"), (earlier.as_str(), *name)];
            let message = format!("a recheck of the pressure is not later than {name}");
            found.refuse(
                "time-order",
                message,
                &marks,
                "correct one of the two times; write rechecks in order of time",
            );
        }
        before = Some((pointer, "the recheck before it", recheck.at));
    }
}

/// A dose may be given before the planned hour, to a patient who came early, but not on an earlier day.
fn clinic_doses(treatment: &Treatment, plan: &Moment, found: &mut Refusals<'_>) {
    for (index, dose) in treatment.clinic_doses.iter().enumerate() {
        let pointer = format!("/treatment/clinic_doses/{index}/at");
        Moment::on(&pointer, "a dose in the clinic", dose.at.0.date()).must_not_be_before(plan, found);
        if dose.at > treatment.leaves {
            let marks = [(pointer.as_str(), "the dose"), ("/treatment/leaves", "leaves")];
            let help = "correct one of the two times; doses at home are not recorded here";
            found.refuse("time-order", "a dose in the clinic is after the patient leaves", &marks, help);
        }
    }
    let doses = treatment.clinic_doses.iter().enumerate();
    let doses = doses
        .map(|(index, dose)| (format!("/treatment/clinic_doses/{index}/drug"), format!("{} {}", dose.drug, dose.at)));
    found.duplicates("the doses in the clinic", doses);
}
