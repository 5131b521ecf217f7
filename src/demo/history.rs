//! An invented history of treatments with what became of the eyes: the same every time, of nobody.

use chrono::{Datelike, Days, NaiveDate, Weekday};
use serde_json::{Value, json};

use crate::record::date::Date;
use crate::record::known::{Answer, Known};
use crate::results::{Chance, Change, Event, EventKind, Outcome, Severity};

/// Seed of the history.
const SEED: u64 = 20_260_812;

/// From how many days before its end it goes.
const DAYS: u64 = 940;

/// An invented treatment.
#[derive(Debug, Clone, PartialEq)]
pub struct Treated {
    /// The case record, as far as results need it.
    pub record: Value,
    /// What became of the eye.
    pub outcomes: Vec<Outcome>,
}

/// So many treatments by two surgeons up to a day. About one in ten treats an eye again.
///
/// ```
/// use vitreoleaf::demo::history;
///
/// let day = "2026-08-12".parse().unwrap();
/// assert_eq!(history(day, 300).len(), 300);
/// assert_eq!(history(day, 300), history(day, 300));
/// ```
#[must_use]
pub fn history(up_to: NaiveDate, treatments: u32) -> Vec<Treated> {
    let mut dice = Dice(Chance::of(SEED));
    let mut before: Option<u32> = None;
    let mut history = Vec::new();
    for number in 0..treatments {
        let again = before.filter(|_| dice.hits(0.1));
        let days = DAYS - DAYS * u64::from(number) / u64::from(treatments);
        let on = weekday(up_to.checked_sub_days(Days::new(days)).unwrap_or(up_to));
        history.push(treated(&mut dice, number + 1, again.unwrap_or(number + 1), on, up_to));
        before = if again.is_some() { None } else { Some(number + 1) };
    }
    history
}

fn weekday(day: NaiveDate) -> NaiveDate {
    let back = match day.weekday() {
        Weekday::Sat => 1,
        Weekday::Sun => 2,
        _ => 0,
    };
    day.checked_sub_days(Days::new(back)).unwrap_or(day)
}

fn treated(dice: &mut Dice, number: u32, patient: u32, on: NaiveDate, up_to: NaiveDate) -> Treated {
    let beginner = number % 11 < 5;
    let natural = patient.is_multiple_of(3);
    let diffractive = !natural && patient.is_multiple_of(7);
    let energy = 4.0 + dice.up_to(2.0);
    let pulses = 60 + dice.up_to(140.0) as u32;
    let after = 14.0 + dice.up_to(9.0) + if dice.hits(0.025) { 12.0 } else { 0.0 };
    let hit = match natural {
        true => dice.hits(0.012).then_some("capsule_or_lens"),
        false => dice.hits(0.05).then_some("implant_marked"),
    };
    let events: Vec<Value> =
        hit.map(|kind| json!({ "kind": kind, "what": "invented", "words": "invented" })).into_iter().collect();
    let implant = json!({
        "focus": if diffractive { "multifocal" } else { "monofocal" },
        "optic": if diffractive { "diffractive" } else { "unknown" },
    });
    let mut record = json!({
        "case": { "code": format!("H-{number:05}"), "revision": 1 },
        "patient": {
            "name": format!("Invented Person {}", letters(patient)), "record_number": format!("INV-{patient:05}"),
            "birth_date": format!("19{:02}-0{}-1{}", 40 + patient % 30, 1 + patient % 9, patient % 10),
        },
        "eye": {
            "side": if patient.is_multiple_of(2) { "right" } else { "left" }, "acuity": "20/25", "pressure_mmhg": 15,
            "lens": if natural { "natural" } else { "implant" },
        },
        "floater": { "kind": if patient % 5 < 3 { "ring" } else { "strand" } },
        "plan": { "start": format!("{on}T10:00"), "surgeon": if beginner { "novak" } else { "sample" } },
        "treatment": {
            "rows": [{ "pulse_energy_mj": (energy * 10.0).round() / 10.0, "pulses": pulses }],
            "last_pulse": format!("{on}T10:20"), "leaves": format!("{on}T11:30"),
            "pressure_before_mmhg": 15, "pressure_after_mmhg": after.round(), "events": events,
        },
    });
    if !natural {
        record["eye"]["implant"] = implant;
    }
    Treated { record, outcomes: outcomes(dice, on, up_to, beginner) }
}

/// A number in letters: a name holds no part of a code.
fn letters(number: u32) -> String {
    let letters = number.to_string().bytes().map(|digit| char::from(digit - b'0' + b'a')).collect::<String>();
    letters[..1].to_uppercase() + &letters[1..]
}

/// Three visits, of which some are missed; some patients are lost.
fn outcomes(dice: &mut Dice, treated: NaiveDate, up_to: NaiveDate, beginner: bool) -> Vec<Outcome> {
    let helped = dice.change();
    let lost_after = if dice.hits(0.1) { 40 } else { u64::MAX };
    let harm = if beginner { 0.05 } else { 0.03 };
    let harmed = dice.hits(harm).then(|| (30 + dice.up_to(140.0) as u64, dice.harm()));
    let mut outcomes = Vec::new();
    for (visit, days, kept) in [("week", 7, 0.97), ("month", 30, 0.92), ("late", 182, 0.9)] {
        let on = treated.checked_add_days(Days::new(days + dice.up_to(5.0) as u64)).unwrap_or(treated);
        let came = dice.hits(kept) && days < lost_after;
        if on > up_to || !came {
            continue;
        }
        let mut outcome = Outcome {
            pressure_mmhg: Known::Value((13.0 + dice.up_to(6.0)).round()),
            acuity: "20/25".parse().map_or(Known::Unknown, Known::Value),
            bother_before: Known::Value(6 + dice.up_to(4.9) as u8),
            bother_after: Known::Value(dice.up_to(if matches!(helped, Change::Same | Change::Worse) {
                9.0
            } else {
                4.0
            }) as u8),
            change: helped,
            further_laser: Answer::No,
            surgery: Answer::No,
            ..Outcome::at(visit, on)
        };
        let found = harmed.and_then(|(after, kind)| Some((treated.checked_add_days(Days::new(after))?, kind)));
        if let Some((day, kind)) = found.filter(|(day, _)| visit == "late" && *day <= on) {
            outcome.events.push(Event {
                kind,
                on: Date(day),
                severity: Severity::Moderate,
                done: Some("invented".into()),
            });
        }
        outcomes.push(outcome);
    }
    outcomes
}

/// Draws by chance.
struct Dice(Chance);

impl Dice {
    fn hits(&mut self, share: f64) -> bool {
        self.0.next() <= share
    }

    fn up_to(&mut self, most: f64) -> f64 {
        self.0.next() * most
    }

    fn change(&mut self) -> Change {
        match self.0.next() {
            at if at < 0.12 => Change::Gone,
            at if at < 0.58 => Change::MuchBetter,
            at if at < 0.8 => Change::LittleBetter,
            at if at < 0.97 => Change::Same,
            _ => Change::Worse,
        }
    }

    fn harm(&mut self) -> EventKind {
        match self.0.next() {
            at if at < 0.5 => EventKind::Tear,
            at if at < 0.6 => EventKind::Detachment,
            _ => EventKind::LastingPressure,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_outcome_of_the_history_is_right() {
        let day = NaiveDate::from_ymd_opt(2026, 8, 12).unwrap();
        let rules = crate::demo::practice(&crate::assets::samples()).unwrap().profile.visits.clone();
        for treated in history(day, 300) {
            let on = treated.record["treatment"]["last_pulse"].as_str().unwrap()[..10].parse().unwrap();
            for outcome in &treated.outcomes {
                assert_eq!(outcome.wrong(on, day, &rules), [], "{outcome:?}");
            }
        }
    }
}
