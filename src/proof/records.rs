//! Many invented records of one practice: all pairs of what a record can say, and random ones on top. The same every time.

use std::collections::BTreeSet;

use serde_json::{Value, json};

use crate::assets::{Kind, LoadError, Problem, samples};
use crate::diag::SourceFile;
use crate::practice::{Checked, Practice};
use crate::record::{Record, load};

/// How many random records follow the pairs.
const RANDOM: usize = 400;

/// A place of the record and what can stand there.
type Choice = (&'static str, Vec<Value>);

/// All pairs of choices and random records, those that contradict themselves left out.
///
/// # Errors
/// When the record they start from cannot be read.
pub fn walk(practice: &Practice) -> Result<Vec<Checked<Record>>, LoadError> {
    let base = base(practice)?;
    let choices = choices(practice);
    let (mut records, mut seen) = (Vec::new(), BTreeSet::new());
    let mut add = |value: Value| {
        let value = settled(value);
        if seen.insert(value.to_string()) {
            records.extend(sound(value, practice));
        }
    };
    for (at, (first, values)) in choices.iter().enumerate() {
        for (second, others) in &choices[at + 1..] {
            for value in values {
                for other in others {
                    let mut record = base.clone();
                    put(&mut record, first, value);
                    put(&mut record, second, other);
                    add(record);
                }
            }
        }
    }
    let mut dice = Dice(0x9e37_79b9_7f4a_7c15);
    for _ in 0..RANDOM {
        let mut record = base.clone();
        for (place, values) in &choices {
            put(&mut record, place, &values[dice.roll(values.len())]);
        }
        add(record);
    }
    Ok(records)
}

/// The plain invented case, with the practice's own first surgeon, regimen and language.
fn base(practice: &Practice) -> Result<Value, LoadError> {
    const PLAIN: &str = "ring-implant/case.toml";
    let text = samples().remove(PLAIN).ok_or_else(|| LoadError::no_file(PLAIN, "proofreading walks from it"))?;
    let file = SourceFile { name: PLAIN.into(), text };
    let unread = |what: &str| Problem::new(Kind::Value, what).in_file(PLAIN);
    let record = load::load::<Record>(&file).map_err(|_| unread("the record cannot be read"))?.value;
    let mut value = serde_json::to_value(record).map_err(|error| unread(&error.to_string()))?;
    let profile = &practice.profile;
    put(&mut value, "/plan/surgeon", &json!(profile.surgeons.first().map(|surgeon| &surgeon.id)));
    put(&mut value, "/plan/visits", &json!([]));
    put(&mut value, "/patient/language", &json!(profile.practice.languages.first()));
    put(&mut value, "/treatment/clinic_doses", &json!([]));
    Ok(value)
}

/// What a record can say, as far as conditions and texts look at it.
fn choices(practice: &Practice) -> Vec<Choice> {
    let answers = || ["yes", "no", "unknown"].map(|word| json!(word)).to_vec();
    let words = |words: &[&str]| words.iter().map(|word| json!(word)).collect::<Vec<_>>();
    let regimens = practice.profile.regimens.iter().map(|regimen| json!(regimen.id)).collect();
    let mut choices: Vec<Choice> = vec![
        ("/eye/lens", words(&["natural", "implant", "none", "unknown"])),
        ("/eye/implant/focus", words(&["monofocal", "multifocal", "extended_depth", "accommodating", "unknown"])),
        ("/eye/implant/adds_d", vec![json!([]), json!([3.0])]),
        ("/eye/implant/optic", words(&["refractive", "diffractive", "unknown"])),
        ("/eye/capsule/state", words(&["closed_clear", "closed_cloudy", "open", "unknown"])),
        ("/eye/capsule/opening_mm", vec![json!(2.0), json!(4.0), json!(5.5), json!("unknown")]),
        ("/eye/axial_length_mm", vec![json!(23.5), json!(26.5), json!("unknown")]),
        ("/eye/pressure_mmhg", vec![json!(15), json!(24), json!("unknown")]),
        ("/floater/kind", words(&["ring", "strand", "clump", "cloud", "asteroid", "unknown"])),
        ("/floater/since", words(&["2026-05-02", "2025-09", "unknown"])),
        ("/floater/lens_distance_mm", vec![json!(1.5), json!(3.5), json!(8.0), json!("unknown")]),
        ("/floater/retina_distance_mm", vec![json!(1.5), json!(8.0), json!("unknown")]),
        ("/detachment/state", words(&["none", "partial", "complete", "unknown"])),
        ("/detachment/onset", words(&["2026-06-01", "2025-12-20", "2024-02-01", "unknown"])),
        ("/examination/breaks", words(&["none", "treated", "untreated", "unknown"])),
        ("/examination/since/flashes", words(&["no", "yes"])),
        ("/treatment/stopped", vec![Value::Null, json!("The patient coughed.")]),
        ("/treatment/rows", vec![json!([{ "pulse_energy_mj": 5.0, "pulses": 100 }]), json!([])]),
        (
            "/treatment/events",
            [vec![], vec!["retina"], vec!["vitreous_bleeding"], vec!["unknown"]].map(events).to_vec(),
        ),
        (
            "/earlier_sessions",
            vec![
                json!([]),
                json!([{ "date": "2025-11-20", "energy_mj": 500.0, "result": "a little better" }]),
                json!([{ "date": "2025-11-20" }]),
            ],
        ),
        ("/patient/birth_date", words(&["1952-03-14", "1985-03-14", "2012-03-14"])),
        ("/plan/pulse_energy_mj", vec![json!({ "lowest": 3.0, "highest": 12.0 }), json!("unknown")]),
        ("/plan/enlarge_opening", answers()),
        ("/plan/helpers", vec![json!([]), json!(["doctor"]), json!(["staff"])]),
        ("/plan/regimen", regimens),
        ("/health/contact_lenses", answers()),
        ("/patient/representative", vec![Value::Null, json!({ "name": "Rep Example", "authority": "proxy" })]),
        (
            "/patient/interpreter",
            vec![Value::Null, json!({ "language": "Example" }), json!({ "language": "Example", "booked": "yes" })],
        ),
    ];
    for place in [
        "/history/glaucoma",
        "/history/ocular_hypertension",
        "/history/steroid_response",
        "/history/pressure_spike",
        "/history/retinal_tear",
        "/history/retinal_detachment",
        "/history/lattice",
        "/history/high_myopia",
        "/history/macular_disease",
        "/history/only_seeing_eye",
    ] {
        choices.push((place, answers()));
    }
    choices
}

/// Events of these kinds.
fn events(kinds: Vec<&str>) -> Value {
    let event = |kind: &&str| json!({ "kind": kind, "what": "An event.", "words": "Something happened." });
    kinds.iter().map(event).collect()
}

/// Puts a value at a place that exists or can be made.
fn put(record: &mut Value, pointer: &str, value: &Value) {
    let mut at = record;
    let mut parts = pointer.split('/').skip(1).peekable();
    while let Some(part) = parts.next() {
        if parts.peek().is_none() {
            at[part] = value.clone();
        } else {
            if !at[part].is_object() {
                at[part] = json!({});
            }
            at = &mut at[part];
        }
    }
}

/// Takes out what a record may not hold beside the rest: implant and capsule of an eye without one, an opening of a closed
/// capsule, adds of an implant with one focus, a last pulse where there was none, dates that come before others.
fn settled(mut record: Value) -> Value {
    let eye = &mut record["eye"];
    if eye["lens"] != "implant" {
        eye["implant"] = Value::Null;
        eye["capsule"] = Value::Null;
        record["plan"]["enlarge_opening"] = json!("no");
        record["plan"]["aiming"] = json!("unknown");
        match record["eye"]["lens"].as_str() {
            Some("natural") => record["eye"]["last_lens_surgery"] = json!("unknown"),
            Some("none") => record["eye"]["lens_clarity"] = json!("unknown"),
            _ => {}
        }
    } else {
        if eye["capsule"]["state"] != "open" {
            eye["capsule"]["opening_mm"] = json!("unknown");
        }
        if eye["implant"]["focus"] == "monofocal" {
            eye["implant"]["adds_d"] = json!([]);
        }
    }
    if record["detachment"]["state"] == "none" {
        record["detachment"]["onset"] = json!("unknown");
    }
    if record["treatment"]["rows"] == json!([]) {
        record["treatment"]["last_pulse"] = Value::Null;
    }
    if record["examination"]["breaks"] == "treated" {
        record["history"]["retinal_tear"] = json!("yes");
    }
    record
}

/// The record, unless it contradicts itself or the practice.
fn sound(value: Value, practice: &Practice) -> Option<Checked<Record>> {
    let record = serde_json::from_value(value).ok()?;
    Checked::of_right_form(record, practice.clone()).ok()
}

/// Numbers that look random and are the same every time (splitmix64).
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) % sides as u64) as usize
    }
}
