//! How the treatment was done, against what was done.

use super::Refusals;
use crate::record::Record;

/// A treatment that was stopped reached no end point; without a pulse there is no burst and no breakdown, and no breakdown at more
/// energy than any pulse had.
pub(super) fn check(record: &Record, found: &mut Refusals<'_>) {
    let (Some(done), procedure) = (&record.treatment, &record.procedure) else { return };
    if done.stopped.is_some() && procedure.end_point.as_ref().is_some() {
        let marks = [("/procedure/end_point", "reached"), ("/treatment/stopped", "stopped")];
        let help = "take one of the two out: a treatment that was stopped has its reason instead";
        found.refuse("end-point", "the treatment was stopped and reached its end point", &marks, help);
    }
    let highest = done.rows.iter().map(|row| row.pulse_energy_mj).reduce(f64::max).unwrap_or_default();
    if procedure.breakdown_mj.value().is_some_and(|mj| mj > highest) {
        let marks = [("/procedure/breakdown_mj", "breakdown"), ("/treatment/rows", "no pulse had so much")];
        let help = "correct one of the two; pulses that looked for the breakdown belong to `rows` too";
        found.refuse("breakdown", "breakdown was seen at more energy than any pulse had", &marks, help);
    }
    if done.rows.is_empty() && procedure.pulses_a_burst.value().is_some() {
        let marks = [("/procedure/pulses_a_burst", "a burst"), ("/treatment/rows", "no pulse")];
        found.refuse(
            "no-burst",
            "there was no pulse, and so no burst",
            &marks,
            "take `pulses_a_burst` out, or write the pulses",
        );
    }
}
