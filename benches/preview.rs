//! How long a page of the patient takes to be laid out again after a change, warm, as SVG: what a preview waits for.

#![allow(clippy::print_stdout, reason = "prints its figures")]

use std::time::{Duration, Instant};

use vitreoleaf::assets::samples;
use vitreoleaf::demo;
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::Case;
use vitreoleaf::practice::{Checked, Practice};
use vitreoleaf::record::Record;
use vitreoleaf::render::typeset;

/// Changes of one record, each followed by a preview.
const CHANGES: u32 = 20;

fn main() {
    let samples = samples();
    let practice = demo::practice(&samples).expect("the demo's practice is sound");
    let records = demo::records(&practice, &samples).expect("the demo's records are sound");
    for name in ["ring-implant", "multifocal-glaucoma"] {
        let (_, record) = records.iter().find(|(case, _)| case == name).expect("a case of the demo");
        let mut record = Record::clone(record);
        let first = preview(&practice, &record);
        let mut again: Vec<(Duration, Duration)> = Vec::new();
        for change in 0..CHANGES {
            record.complaint.reason = format!("a floater, told in {change} words");
            again.push(preview(&practice, &record));
        }
        let layouts = again.iter().map(|(_, layout)| *layout).collect();
        let wholes = again.iter().map(|(whole, _)| *whole).collect();
        println!(
            "{name}: first {:.0?} (layout {:.0?}); after a change {:.0?} (layout {:.0?}), median of {CHANGES}",
            first.0,
            first.1,
            median(wholes),
            median(layouts)
        );
    }
}

/// Time from the record to the pictures of its consent, and of that for layout and export.
fn preview(practice: &Practice, record: &Record) -> (Duration, Duration) {
    let start = Instant::now();
    let checked = Checked::of(record, practice.clone()).expect("the record is sound");
    let case = Case::new(&checked, Moment::Before).expect("the case can be planned");
    let consent = case.unissued().expect("the consent can be composed");
    let composed = Instant::now();
    typeset::forget();
    let pages = practice.typesetter().preview(&consent).expect("the consent can be printed");
    assert!(!pages.is_empty());
    (start.elapsed(), composed.elapsed())
}

fn median(mut times: Vec<Duration>) -> Duration {
    times.sort();
    times[times.len() / 2]
}
