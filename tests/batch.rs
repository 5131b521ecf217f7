//! Many cases in one command: one bad case costs none of the others, files are swapped in whole, and nothing of another
//! person is replaced.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};
use std::time::Duration;

use sha2::{Digest, Sha256};
use vitreoleaf::files::write::Locked;

const PROGRAM: &str = env!("CARGO_BIN_EXE_vitreoleaf");

fn sample(path: &str) -> String {
    format!("{}/output-samples/{path}", env!("CARGO_MANIFEST_DIR"))
}

/// The record of an invented case.
fn record(name: &str) -> String {
    fs::read_to_string(sample(&format!("{name}/case.toml"))).unwrap()
}

/// The record of the ring-implant case as that of another patient, whose name is not in the code.
fn of_patient(number: usize) -> String {
    let record = record("ring-implant").replace("EX-01", &format!("B-{number}"));
    let letters: String = number.to_string().bytes().map(|digit| char::from(digit - b'0' + b'a')).collect();
    record.replace("Rosa Beispiel", &format!("Rosa {letters} Beispiel")).replace("000-101", &format!("777-{number}"))
}

/// A folder that holds these records.
fn with(records: &[(&str, &str)]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (name, text) in records {
        fs::write(folder.path().join(name), text).unwrap();
    }
    folder
}

/// Records of so many patients, 0.toml and on.
fn patients(count: usize) -> (tempfile::TempDir, Vec<String>) {
    let folder = tempfile::tempdir().unwrap();
    let names: Vec<String> = (0..count).map(|number| format!("{number}.toml")).collect();
    for (number, name) in names.iter().enumerate() {
        fs::write(folder.path().join(name), of_patient(number)).unwrap();
    }
    (folder, names)
}

/// Arguments that print records into out/, unless others are given as plain text, which takes no layout, and after the
/// patients of the samples have left.
fn arguments<'a>(records: &[&'a str], more: &[&'a str]) -> Vec<String> {
    let practice = sample("practice");
    let print = ["print", "-p", &practice, "--out", "out"];
    let usual = [["--issued", "2026-08-14T20:00:00Z"], ["--as", "text"]];
    let usual = usual.iter().filter(|[option, _]| !more.contains(option)).flatten();
    print.iter().chain(usual).chain(more).chain(records).map(|word| (*word).to_owned()).collect()
}

fn command(folder: &Path, arguments: &[String]) -> Command {
    let mut command = Command::new(PROGRAM);
    command.args(arguments).current_dir(folder);
    command
}

fn print(folder: &tempfile::TempDir, records: &[&str], more: &[&str]) -> Output {
    command(folder.path(), &arguments(records, more)).output().unwrap()
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// Names of the files in out/, sorted.
fn made(folder: &tempfile::TempDir) -> Vec<String> {
    let Ok(entries) = fs::read_dir(folder.path().join("out")) else {
        return Vec::new();
    };
    let mut names: Vec<String> = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

#[test]
fn one_bad_case_of_fifty_costs_none_of_the_others() {
    let (folder, names) = patients(50);
    fs::write(folder.path().join("23.toml"), of_patient(23).replace("lens = \"implant\"", "lens = \"impant\""))
        .unwrap();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let printed = print(&folder, &names, &["--format", "json"]);
    assert_eq!(printed.status.code(), Some(2));
    let report: serde_json::Value = serde_json::from_slice(&printed.stdout).unwrap();
    assert_eq!((&report["refused"], &report["withheld"]), (&1.into(), &0.into()));
    assert_eq!(report["cases"][23]["state"], "refused");
    let files = made(&folder);
    assert_eq!(report["files"].as_array().unwrap().len(), files.len());
    for number in 0..50 {
        let of_case = files.iter().filter(|name| name.starts_with(&format!("B-{number}-"))).count();
        assert_eq!(of_case, if number == 23 { 0 } else { 5 }, "{number}: {files:?}");
    }
    let told = said(&printed);
    assert!(told.contains("impant") && told.contains("50 cases: 49 made, 1 refused"), "{told}");
    assert!(told.contains("\nrefused    -     23.toml\n") && told.contains("\nmade       B-22  22.toml\n"), "{told}");
    assert!(!told.contains("Beispiel") && !told.contains("777-"), "nothing private: {told}");
}

/// A constant number of open files, however many cases.
#[cfg(unix)]
#[test]
fn three_hundred_cases_print_with_sixty_four_open_files() {
    const LIMITED: &str = "import os, resource, sys\n\
                           resource.setrlimit(resource.RLIMIT_NOFILE, (64, 64))\n\
                           os.execv(sys.argv[1], sys.argv[1:])";
    let (folder, names) = patients(300);
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let mut limited = Command::new("python3");
    limited.args(["-c", LIMITED, PROGRAM]).args(arguments(&names, &[])).current_dir(folder.path());
    let printed = limited.output().expect("python3");
    assert_eq!(printed.status.code(), Some(0), "{}", said(&printed));
    assert_eq!(made(&folder).len(), 300 * 5);
}

/// The order of the records changes neither files nor what is said of each.
#[test]
fn the_order_of_the_cases_does_not_matter() {
    let (folder, names) = patients(12);
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let turned: Vec<&str> = names.iter().rev().copied().collect();
    let bytes = |names: &[&str]| {
        let printed = print(&folder, names, &[]);
        assert_eq!(printed.status.code(), Some(0));
        let read = |name: &String| fs::read(folder.path().join("out").join(name)).unwrap();
        let mut lines: Vec<String> = said(&printed).lines().map(str::to_owned).collect();
        lines.sort();
        (lines, made(&folder).iter().map(read).collect::<Vec<_>>())
    };
    assert_eq!(bytes(&names), bytes(&turned));
}

#[cfg(unix)]
#[test]
fn a_killed_program_leaves_the_earlier_files_or_the_new_ones() {
    let folder = with(&[("case.toml", &record("ring-implant"))]);
    let forms = ["--as", "html,text"];
    assert_eq!(print(&folder, &["case.toml"], &forms).status.code(), Some(0));
    let out = folder.path().join("out");
    let mut caught = 0;
    for run in 0..20_u32 {
        // Another time of issue makes other bytes of the same record.
        let mut again = arguments(&["case.toml"], &forms);
        let at = again.iter().position(|word| word == "--issued").unwrap() + 1;
        again[at] = format!("2026-08-{:02}T20:00:00Z", 8 + run);
        let mut child = command(folder.path(), &again).spawn().unwrap();
        while !out.join(".vitreoleaf-lock").exists() && child.try_wait().unwrap().is_none() {
            std::thread::yield_now();
        }
        std::thread::sleep(Duration::from_micros(400) * run);
        child.kill().unwrap();
        caught += u32::from(!child.wait().unwrap().success());
        drop(Locked::wait(&out).unwrap()); // what the next process does first
        assert_eq!(made(&folder).len(), 8, "run {run}");
        whole(&out, "EX-01-r1-after");
    }
    assert!(caught > 0, "no process was killed while it wrote");
}

/// The pages are those that the data beside them says.
fn whole(out: &Path, packet: &str) {
    let data = fs::read(out.join(format!("{packet}-packet.json"))).unwrap();
    let data: serde_json::Value = serde_json::from_slice(&data).unwrap();
    for page in data["documents"].as_array().unwrap() {
        let bytes = fs::read(out.join(page["file"].as_str().unwrap())).unwrap();
        let hash: String = Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(page["sha256"], hash, "{}", page["file"]);
    }
}

/// Asked to end, the program finishes what it writes, leaves nothing half, and says what was not begun.
#[cfg(unix)]
#[test]
fn a_program_that_is_asked_to_end_finishes_what_it_writes() {
    let (folder, names) = patients(200);
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let child = command(folder.path(), &arguments(&names, &["--format", "json"]));
    let mut child = { child }.stdout(std::process::Stdio::piped()).stderr(std::process::Stdio::null()).spawn().unwrap();
    while made(&folder).len() < 10 && child.try_wait().unwrap().is_none() {
        std::thread::sleep(Duration::from_millis(2));
    }
    assert!(Command::new("kill").args(["-TERM", &child.id().to_string()]).status().unwrap().success());
    let ended = child.wait_with_output().unwrap();
    assert_eq!(ended.status.code(), Some(2));
    let report: serde_json::Value = serde_json::from_slice(&ended.stdout).unwrap();
    let state = |state: &str| report["cases"].as_array().unwrap().iter().filter(|case| case["state"] == state).count();
    assert!(state("made") > 0 && state("not-begun") > 0, "{report}");
    assert_eq!(made(&folder).len(), state("made") * 5);
}

#[test]
fn pages_of_another_person_eye_or_content_are_not_replaced() {
    let first = record("ring-implant");
    for (from, to, differs) in [
        ("name = \"Rosa Beispiel\"", "name = \"Rosa Muster\"", "patient.name"),
        ("birth_date = 1955", "birth_date = 1956", "patient.birth_date"),
        ("000-101", "000-102", "patient.record_number"),
        ("side = \"right\"", "side = \"left\"", "eye.side"),
        ("start = 2026-08-07T10:00:00", "start = 2026-08-07T09:50:00", "plan.start"),
        ("only_seeing_eye = \"no\"", "only_seeing_eye = \"unknown\"", "content"),
    ] {
        let folder = with(&[("case.toml", &first)]);
        assert_eq!(print(&folder, &["case.toml"], &[]).status.code(), Some(0));
        let before = (made(&folder), fs::read(folder.path().join("out/EX-01-r1-after-packet.json")).unwrap());
        assert!(first.contains(from), "{from}");
        fs::write(folder.path().join("case.toml"), first.replace(from, to)).unwrap();
        let again = print(&folder, &["case.toml"], &[]);
        assert_eq!(again.status.code(), Some(2), "{differs}");
        let told = said(&again);
        assert!(told.contains("EX-01-r1-after-packet.json") && told.contains(&format!("another {differs}:")), "{told}");
        assert!(!told.contains("Muster") && !told.contains("000-102"), "nothing private: {told}");
        let after = (made(&folder), fs::read(folder.path().join("out/EX-01-r1-after-packet.json")).unwrap());
        assert_eq!(before, after, "{differs}");
    }
}

#[test]
fn the_same_pages_are_issued_again_and_a_raised_revision_stands_beside_them() {
    let folder = with(&[("case.toml", &record("ring-implant"))]);
    for day in ["2026-08-14T20:00:00Z", "2026-08-15T20:00:00Z"] {
        assert_eq!(print(&folder, &["case.toml"], &["--issued", day]).status.code(), Some(0), "{day}");
    }
    let changed = record("ring-implant").replace("revision = 1", "revision = 2").replace("T10:00:00", "T09:50:00");
    fs::write(folder.path().join("case.toml"), changed).unwrap();
    assert_eq!(print(&folder, &["case.toml"], &[]).status.code(), Some(0));
    assert_eq!(made(&folder).len(), 10);
}

#[test]
fn pages_that_nothing_says_whose_they_are_stay() {
    let folder = with(&[("case.toml", &record("ring-implant"))]);
    fs::create_dir(folder.path().join("out")).unwrap();
    fs::write(folder.path().join("out/EX-01-r1-after-desk.txt"), "of whom?").unwrap();
    let refused = print(&folder, &["case.toml"], &[]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(said(&refused).contains("EX-01-r1-after-desk.txt stands there, and no packet.json"), "{}", said(&refused));
    assert_eq!(fs::read(folder.path().join("out/EX-01-r1-after-desk.txt")).unwrap(), b"of whom?");
}

/// Codes that a disk takes for one, and one code for two patients.
#[test]
fn cases_that_would_write_over_each_other_are_refused_and_the_others_made() {
    let [one, other, third] = [1, 2, 3].map(of_patient);
    let folder = with(&[("1.toml", &one), ("2.toml", &other.replace("B-2", "b-1")), ("3.toml", &third)]);
    let printed = print(&folder, &["1.toml", "2.toml", "3.toml"], &[]);
    assert_eq!(printed.status.code(), Some(2));
    let told = said(&printed);
    assert_eq!(told.matches("give each its own code").count(), 2, "{told}");
    assert!(made(&folder).iter().all(|name| name.starts_with("B-3-")) && made(&folder).len() == 5, "{told}");
}

/// Two eyes of which one record writes the number otherwise: until a person says whether they are of one patient, both leave
/// with warning signs and visits and without a drop plan.
#[test]
fn two_eyes_whose_numbers_are_written_in_two_ways_print_without_their_drop_plans() {
    let left = record("both-eyes-left").replace("000-110", "OOO 110");
    let folder = with(&[("right.toml", &record("both-eyes-right")), ("left.toml", &left), ("3.toml", &of_patient(3))]);
    let printed = print(&folder, &["right.toml", "left.toml", "3.toml"], &[]);
    assert_eq!(printed.status.code(), Some(1));
    let told = said(&printed);
    assert_eq!(told.matches("must first answer number-written-otherwise").count(), 2, "{told}");
    assert!(told.contains("3 cases: 1 made, 2 withheld"), "{told}");
    assert!(!told.contains("000-110") && !told.contains("OOO"), "nothing private: {told}");
    let read = |name: &str| fs::read_to_string(folder.path().join("out").join(name)).unwrap();
    for code in ["EX-10", "EX-11"] {
        let data: serde_json::Value = serde_json::from_str(&read(&format!("{code}-r1-after-packet.json"))).unwrap();
        assert_eq!(data["withheld_because"]["reason"], "findings");
        assert_eq!((&data["doses"], &data["both_eyes"]), (&serde_json::json!([]), &serde_json::Value::Null));
        let aftercare = read(&format!("{code}-r1-after-aftercare.txt"));
        assert!(aftercare.contains("ask your surgeon first") && aftercare.contains("Call us"), "{aftercare}");
        assert!(read(&format!("{code}-r1-after-surgeon.txt")).contains("One record number, written in two ways"));
    }
    assert!(!made(&folder).iter().any(|name| name.contains("both-eyes")), "{:?}", made(&folder));
    assert_eq!(print(&folder, &["left.toml"], &[]).status.code(), Some(0), "each by itself");
}

/// Of two eyes with one calendar only the page that was chosen is made, beside the data that says whose it is.
#[test]
fn a_chosen_page_of_two_eyes_is_made_alone() {
    for (page, files) in [
        ("both-eyes", vec!["EX-10_EX-11-both-eyes.txt", "EX-11-r1-after-packet.json"]),
        (
            "desk",
            vec![
                "EX-10-r1-after-desk.txt",
                "EX-10-r1-after-packet.json",
                "EX-11-r1-after-desk.txt",
                "EX-11-r1-after-packet.json",
            ],
        ),
    ] {
        let folder = with(&[("right.toml", &record("both-eyes-right")), ("left.toml", &record("both-eyes-left"))]);
        assert_eq!(print(&folder, &["right.toml", "left.toml"], &["--page", page]).status.code(), Some(0));
        assert_eq!(made(&folder), files);
        let data = fs::read(folder.path().join("out/EX-11-r1-after-packet.json")).unwrap();
        let data: serde_json::Value = serde_json::from_slice(&data).unwrap();
        assert_eq!(data["both_eyes"], "EX-10_EX-11-both-eyes");
        assert_eq!(data["documents"][0]["page"], page);
        whole(&folder.path().join("out"), "EX-11-r1-after");
    }
}

/// Page by page or all at once: the data list every page of the record that lies there.
#[test]
fn the_data_list_what_earlier_runs_of_the_same_record_made() {
    let folder = with(&[("case.toml", &record("ring-implant"))]);
    let out = folder.path().join("out");
    let listed = |more: &[&str]| {
        assert_eq!(print(&folder, &["case.toml"], more).status.code(), Some(0), "{more:?}");
        whole(&out, "EX-01-r1-after");
        let data = fs::read(out.join("EX-01-r1-after-packet.json")).unwrap();
        let data: serde_json::Value = serde_json::from_slice(&data).unwrap();
        let page = |page: &serde_json::Value| page["file"].as_str().unwrap().replace("EX-01-r1-after-", "");
        data["documents"].as_array().unwrap().iter().map(page).collect::<Vec<_>>()
    };
    assert_eq!(listed(&["--page", "desk"]), ["desk.txt"]);
    assert_eq!(listed(&["--page", "aftercare"]), ["desk.txt", "aftercare.txt"]);
    assert_eq!(listed(&["--page", "desk", "--as", "html"]), ["desk.txt", "aftercare.txt", "desk.html"]);
    fs::remove_file(out.join("EX-01-r1-after-desk.html")).unwrap();
    assert_eq!(listed(&["--page", "desk"]), ["aftercare.txt", "desk.txt"], "what was taken away is listed no longer");
    assert_eq!(listed(&[]), ["aftercare.txt", "surgeon.txt", "desk.txt"]);
}

/// In New York 13 August begins at 4:00 UTC.
#[test]
fn pages_are_not_issued_before_the_day_of_an_answer() {
    let answer = "\n[[answers]]\nfinding = \"detachment-young\"\nby = \"Dr. Ada Sample\"\n\
                  on = 2026-08-13\nreason = \"Examined again today.\"\n";
    let folder = with(&[("case.toml", &(record("young-detachment") + answer))]);
    for (issued, refused) in [("2026-08-13T03:59:59Z", true), ("2026-08-13T04:00:00Z", false)] {
        let told = said(&print(&folder, &["case.toml"], &["--issued", issued]));
        assert_eq!(told.contains("dated after the time of issue"), refused, "{issued}: {told}");
    }
}

/// A consent after the planned start, an aftercare before the patient leaves, a clock that is not set.
#[test]
fn a_time_of_issue_that_does_not_fit_the_record_must_be_said_to_be_meant() {
    // Planned for 10:00, last pulse 10:40, leaving 11:30 in New York, four hours behind UTC.
    let folder = with(&[("case.toml", &record("ring-implant"))]);
    for (moment, issued, why) in [
        ("before", "2026-08-07T14:00:00Z", None),
        ("before", "2026-08-07T14:00:01Z", Some("after the planned start")),
        ("before", "2025-08-06T14:00:00Z", None),
        ("before", "2025-08-06T13:59:59Z", Some("more than a year")),
        ("before", "1970-01-01T00:00:00Z", Some("more than a year")),
        ("after", "2026-08-07T14:39:59Z", Some("before the last pulse")),
        ("after", "2026-08-07T15:29:59Z", Some("before the patient leaves")),
        ("after", "2026-08-07T15:30:00Z", None),
        ("after", "2027-08-08T15:30:00Z", None),
        ("after", "2027-08-08T15:30:01Z", Some("more than a year")),
        ("after", "9999-12-31T23:59:59Z", Some("more than a year")),
    ] {
        let printed = print(&folder, &["case.toml"], &["-m", moment, "--issued", issued]);
        let told = said(&printed);
        assert_eq!(printed.status.code(), Some(if why.is_some() { 2 } else { 0 }), "{issued}: {told}");
        assert!(why.is_none_or(|why| told.contains(why) && told.contains("--issued-anyway")), "{issued}: {told}");
        let meant = print(&folder, &["case.toml"], &["-m", moment, "--issued", issued, "--issued-anyway"]);
        assert_eq!(meant.status.code(), Some(0), "{issued}: {}", said(&meant));
    }
}

/// What `check` prints of cases given together is what `print` withholds them for, and names nobody.
#[test]
fn cases_of_one_name_are_asked_about_before_the_treatment_too() {
    let left = record("both-eyes-left").replace("000-110", "000-111");
    let folder = with(&[("right.toml", &record("both-eyes-right")), ("left.toml", &left)]);
    let checked = |more: &[&str]| {
        let arguments = ["check", "-m", "before", "-p", &sample("practice"), "right.toml", "left.toml"];
        let arguments: Vec<String> = more.iter().chain(&arguments).map(|word| (*word).to_owned()).collect();
        let checked = command(folder.path(), &arguments).output().unwrap();
        assert_eq!(checked.status.code(), Some(1));
        String::from_utf8(checked.stdout).unwrap()
    };
    let masked = checked(&[]);
    assert_eq!(masked.matches("finding = \"namesake\"").count(), 2, "{masked}");
    assert!(masked.contains("Cases: EX-11.") && masked.contains("Cases: EX-10."), "{masked}");
    assert!(!masked.contains("000-11") && !masked.contains("Ejemplo"), "nothing private: {masked}");
    assert!(checked(&["--show-values"]).contains("EX-11 (000-111)"));
    let printed =
        print(&folder, &["right.toml", "left.toml"], &["--moment", "before", "--issued", "2026-08-04T14:00:00Z"]);
    assert_eq!(printed.status.code(), Some(1));
    assert!(made(&folder).iter().all(|name| !name.contains("consent")), "{:?}", made(&folder));
}

/// Two eyes of one patient on one day are asked about in both cases; four days apart nobody asks.
#[test]
fn both_eyes_on_one_day_are_asked_about_when_printed_together() {
    let left = record("both-eyes-left");
    let same_day = left.replace("2026-08-11T", "2026-08-07T").replace("2026-08-18T", "2026-08-14T");
    for (left, code, withheld) in [(&left, 0, 0), (&same_day, 1, 2)] {
        let folder = with(&[("right.toml", &record("both-eyes-right")), ("left.toml", left)]);
        let more = ["--moment", "before", "--issued", "2026-08-04T14:00:00Z"];
        let printed = print(&folder, &["right.toml", "left.toml"], &more);
        let told = said(&printed);
        assert_eq!(printed.status.code(), Some(code), "{told}");
        assert_eq!(told.matches("must first answer both-eyes-one-day").count(), withheld, "{told}");
    }
}
