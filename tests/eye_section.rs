//! The drawing of this eye: what is drawn, where, and what its alternative text says.

use std::collections::BTreeMap;
use std::fs;

use serde_json::{Value, json};
use vitreoleaf::document::eye::{self, Drawing, EyeSection, Mark, Role};
use vitreoleaf::document::{Block, Document};
use vitreoleaf::facts::{Facts, Moment};
use vitreoleaf::packet::Case;
use vitreoleaf::practice::Practice;
use vitreoleaf::render::{drawing, html, text};

use crate::consent::{changed, eyes};
use crate::languages::{WHOLE, printing_in};
use crate::packets::{checked, practice};

fn page(practice: &Practice, change: &[(&str, Value)]) -> Document {
    let change: BTreeMap<String, Value> =
        change.iter().map(|(key, value)| ((*key).to_owned(), value.clone())).collect();
    let record = changed(&change);
    Case::new(&checked(practice, &record), Moment::Before).unwrap().unissued().unwrap()
}

fn section_of(page: &Document) -> EyeSection {
    let found = page.blocks.iter().find_map(|block| match block {
        Block::EyeSection(eye) => Some(eye.clone()),
        _ => None,
    });
    found.expect("a consent shows the eye")
}

fn section(change: &[(&str, Value)]) -> EyeSection {
    section_of(&page(&practice(|profile| profile, BTreeMap::new()), change))
}

/// Least and most of `x` (0) or `y` (1) over all shapes of a role, mm.
fn reach(drawing: &Drawing, role: Role, of: usize) -> Option<(f64, f64)> {
    let places = drawing.shapes.iter().filter(|shape| shape.role == role).flat_map(|shape| &shape.points);
    let places: Vec<f64> = places.map(|point| point[of]).collect();
    let least = places.iter().copied().reduce(f64::min)?;
    Some((least, places.iter().copied().reduce(f64::max)?))
}

fn has(eye: &EyeSection, role: Role) -> bool {
    eye.section.shapes.iter().any(|shape| shape.role == role)
}

#[track_caller]
fn assert_near(found: f64, expected: f64) {
    assert!((found - expected).abs() < 0.15, "{found} mm, not {expected} mm");
}

#[test]
fn each_lens_is_drawn_and_told() {
    let implant = json!({"focus": "multifocal", "adds_d": [3.0]});
    let natural = [
        ("eye.lens", json!("natural")),
        ("eye.last_lens_surgery", json!("unknown")),
        ("eye.implant", json!("absent")),
        ("eye.capsule", json!("absent")),
    ];
    let none = [
        ("eye.lens", json!("none")),
        ("eye.lens_clarity", json!("unknown")),
        ("eye.implant", json!("absent")),
        ("eye.capsule", json!("absent")),
    ];
    let cases = [
        (section(&natural), Some(Role::Lens), "It has its natural lens"),
        (section(&none), None, "neither its natural lens nor a lens implant"),
        (section(&[]), Some(Role::Implant), "It has a lens implant."),
        (section(&[("eye.implant", implant)]), Some(Role::Rings), "with rings, because it has more than one focus"),
    ];
    for (eye, drawn, told) in cases {
        assert!(eye.section.alt.contains(told), "{told}: {}", eye.section.alt);
        let lens = [Role::Lens, Role::LensUnknown, Role::Implant].into_iter().find(|role| has(&eye, *role));
        assert_eq!(lens.is_some(), drawn.is_some(), "{told}");
        assert!(drawn.is_none_or(|role| has(&eye, role)), "{told}");
        assert_eq!(has(&eye, Role::Rings), drawn == Some(Role::Rings), "{told}");
    }
}

/// The ends of an open capsule stand as far apart as was measured; one of unknown state is dashed.
#[test]
fn the_capsule_is_open_as_wide_as_measured() {
    let half = |eye: &EyeSection| {
        let ends =
            eye.section.shapes.iter().filter(|shape| shape.role == Role::Capsule).flat_map(|shape| &shape.points);
        ends.map(|point| point[1].abs()).fold(f64::INFINITY, f64::min)
    };
    for mm in [1.5, 4.0, 5.0] {
        assert_near(half(&section(&[("eye.capsule", json!({"state": "open", "opening_mm": mm}))])), mm / 2.0);
    }
    assert_near(half(&section(&[("eye.capsule", json!({"state": "closed_clear"}))])), 0.0);
    let unknown = section(&[("eye.capsule", json!("absent"))]);
    assert!(has(&unknown, Role::CapsuleUnknown) && !has(&unknown, Role::Capsule));
    assert!(unknown.section.alt.contains("does not say if the skin behind it"));
}

/// Distances count from the back of an implant (5.6 mm), of a natural lens (8.35 mm) or the pupil plane (3.65 mm), and from
/// the retina; if both cannot be true, that of the retina is drawn.
#[test]
fn the_floater_lies_where_it_was_measured() {
    let at = |lens: Value, retina: Value| {
        let eye = section(&[
            ("eye.axial_length_mm", json!(24.0)),
            ("floater.lens_distance_mm", lens),
            ("floater.retina_distance_mm", retina),
        ]);
        (reach(&eye.section, Role::Floater, 0).unwrap(), eye.note)
    };
    let ((front, back), note) = at(json!(8.0), json!(7.0));
    assert_near(front, 13.6);
    assert_near(back, 17.0);
    assert!(note.contains("where it was measured"));
    let ((_, back), _) = at(json!(12.4), json!(7.0));
    assert_near(back, 17.0);
    let ((front, _), _) = at(json!(8.0), json!("unknown"));
    assert_near(front, 13.6);
    assert!(at(json!("unknown"), json!("unknown")).1.contains("was not measured"));
}

#[test]
fn a_longer_eye_is_drawn_longer_and_the_nerve_is_on_the_side_of_the_nose() {
    for mm in [21.0, 24.0, 30.0] {
        let eye = section(&[("eye.axial_length_mm", json!(mm))]);
        assert_near(reach(&eye.section, Role::Retina, 0).unwrap().1, mm);
        assert_near(reach(&eye.section, Role::Cornea, 0).unwrap().0, 0.0);
    }
    let below = |side: &str| reach(&section(&[("eye.side", json!(side))]).section, Role::Nerve, 1).unwrap();
    assert!(below("right").0 > 0.0, "a right eye has it below");
    assert!(below("left").1 < 0.0, "a left eye has it above");
}

#[test]
fn gel_in_place_reaches_the_retina_and_gel_that_came_away_has_a_space_behind() {
    let eye = |state: &str| section(&[("detachment", json!({"state": state}))]);
    for (state, apart) in [("none", false), ("unknown", false), ("partial", true), ("complete", true)] {
        assert_eq!(has(&eye(state), Role::Space), apart, "{state}");
        assert_eq!(has(&eye(state), Role::GelFace), apart, "{state}");
    }
}

/// Both pictures stand in the HTML with their alternative text, and in the plain text as words, in every language.
#[test]
fn html_and_text_carry_the_same_eye_in_every_language() {
    for (tag, _) in WHOLE {
        let practice = printing_in(&["en-US", tag], BTreeMap::new());
        let page = page(&practice, &[("patient.language", json!(tag))]);
        let (eye, html, text) = (section_of(&page), html::html(&page), text::text(&page));
        for drawn in [&eye.section, &eye.shadow] {
            assert!(html.contains(&drawing::svg(drawn)), "{tag}");
            assert!(text.contains(drawn.alt.trim()), "{tag}");
        }
        assert!(eye.section.labels.iter().all(|label| html.contains(label.text.split(' ').next().unwrap())), "{tag}");
    }
}

/// Whatever the eye, nothing of it is drawn outside its picture, and no label points beside it.
#[test]
fn every_eye_of_the_table_stays_within_its_picture() {
    let practice = practice(|profile| profile, BTreeMap::new());
    for (name, record) in eyes() {
        let eye = section_of(&Case::new(&checked(&practice, &record), Moment::Before).unwrap().unissued().unwrap());
        let drawn = &eye.section;
        let within = |[x, y]: [f64; 2]| {
            (drawn.left..=drawn.left + drawn.width).contains(&x) && (drawn.top..=drawn.top + drawn.height).contains(&y)
        };
        assert!(drawn.shapes.iter().flat_map(|shape| &shape.points).all(|point| within(*point)), "{name}");
        assert!(drawn.labels.iter().all(|label| within([label.x, label.y])), "{name}");
        let floater = reach(drawn, Role::Floater, 0).unwrap();
        let retina = reach(drawn, Role::Retina, 0).unwrap().1;
        assert!(floater.0 > 3.0 && floater.1 < retina, "{name}: floater from {floater:?}, retina at {retina}");
    }
}

/// The picture in a browser has no colour of its own: all are those of the paper.
#[test]
fn colours_are_those_of_the_theme() {
    let theme =
        fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/templates/pages/theme.typ")).unwrap() + "#ffffff";
    let svg = drawing::svg(&section(&[]).section);
    let colours: Vec<&str> = svg.split('#').skip(1).map(|rest| &rest[..6]).collect();
    assert!(colours.len() > 20);
    assert!(colours.iter().all(|colour| theme.contains(colour)), "{colours:?}");
}

/// Where the horizontal lines of a role begin and end, mm.
fn spans(drawing: &Drawing, role: Role) -> Vec<(f64, f64)> {
    let lines = drawing.shapes.iter().filter(|shape| shape.role == role);
    lines.map(|shape| (shape.points[0][0], shape.points[shape.points.len() - 1][0])).filter(|(a, b)| a != b).collect()
}

/// The back of an implant is drawn 5.6 mm behind the cornea.
#[test]
fn a_screen_shows_distances_margins_and_second_foci_to_scale() {
    let practice = practice(|profile| profile, BTreeMap::new());
    let seen = |change: &[(&str, Value)]| {
        let change = change.iter().map(|(key, value)| ((*key).to_owned(), value.clone())).collect();
        let facts = Facts::derive(&practice.source(&changed(&change), Moment::Before));
        (eye::drawing(&facts, "this eye".into()), eye::marks(&facts))
    };
    let implant = json!({"focus": "multifocal", "optic": "refractive", "adds_d": [3.0]});
    let measured = [
        ("eye.implant", implant),
        ("eye.axial_length_mm", json!(23.1)),
        ("floater.lens_distance_mm", json!(9.0)),
        ("floater.retina_distance_mm", json!(5.5)),
        ("floater.measured", json!("ultrasound")),
    ];
    let (drawing, marks) = seen(&measured);
    assert_eq!(spans(&drawing, Role::Measure), [(5.6, 14.6), (17.6, 23.1)]);
    let margins: Vec<_> = drawing.shapes.iter().filter(|shape| shape.role == Role::Margin).collect();
    assert_near(margins[0].points[0][0], 5.6 + 3.0);
    assert_near(margins[1].points.iter().map(|point| point[0]).fold(0.0, f64::max), 23.1 - 3.0);
    let value = |mark: Mark| marks.iter().find(|(own, ..)| *own == mark).expect("a mark").1;
    let (before, behind) = (value(Mark::FocusInFront), value(Mark::FocusBehind));
    let (least, most) = reach(&drawing, Role::Focus, 0).expect("second foci");
    assert_near(least, 14.6 - before - 0.6);
    assert_near(most, 17.6 + behind + 0.6);
    assert_eq!((drawing.alt.as_str(), value(Mark::Margin)), ("this eye", 3.0));

    let unmeasured = [
        ("floater.lens_distance_mm", json!("unknown")),
        ("floater.retina_distance_mm", json!("unknown")),
        ("floater.measured", json!("unknown")),
    ];
    let (drawing, marks) = seen(&unmeasured);
    assert!(
        drawing.shapes.iter().all(|shape| ![Role::Measure, Role::Focus].contains(&shape.role)),
        "nobody measured it"
    );
    assert_eq!(marks.iter().map(|(mark, ..)| *mark).collect::<Vec<_>>(), [Mark::Margin]);
}
