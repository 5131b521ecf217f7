//! The command line: exit codes, streams, whole files, nothing private.

use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};

fn run(args: &[&str], folder: &Path) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_vitreoleaf"));
    command.args(args).current_dir(folder).env_remove("VITREOLEAF_PRACTICE").output().unwrap()
}

fn samples() -> String {
    format!("{}/output-samples", env!("CARGO_MANIFEST_DIR"))
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn print(case: &str, more: &[&str], folder: &Path) -> Output {
    let (case, practice) = (format!("{}/{case}/case.toml", samples()), format!("{}/practice", samples()));
    // Before the treatments that are planned, after those that are done.
    let before = more.contains(&"before") || case.contains("young-detachment");
    let issued = if before { "2026-08-03T14:00:00Z" } else { "2026-08-07T16:00:00Z" };
    let mut args = vec!["print", &case, "-p", &practice, "--issued", issued];
    args.extend(more);
    run(&args, folder)
}

#[test]
fn exit_codes_are_those_of_the_help() {
    let folder = tempfile::tempdir().unwrap();
    assert_eq!(print("ring-implant", &[], folder.path()).status.code(), Some(0));
    assert_eq!(print("young-detachment", &[], folder.path()).status.code(), Some(1));
    assert_eq!(print("no-such-case", &[], folder.path()).status.code(), Some(2));
    assert_eq!(run(&["print"], folder.path()).status.code(), Some(2));
    let help = text(&run(&["--help"], folder.path()).stdout);
    for code in ["0  everything was made", "1  pages for the patient were withheld", "2  refused"] {
        assert!(help.contains(code), "{help}");
    }
}

#[test]
fn a_page_goes_to_standard_output_and_nothing_else_does() {
    let folder = tempfile::tempdir().unwrap();
    let made = print("ring-implant", &["--page", "consent", "-m", "before", "--out", "-"], folder.path());
    assert!(made.stdout.starts_with(b"%PDF-1.7"), "{}", text(&made.stderr));
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
    let report = print("ring-implant", &[], folder.path());
    assert!(report.stdout.is_empty());
}

/// A page in each form; the form says what it is.
#[test]
fn a_page_is_made_for_paper_for_a_browser_and_for_an_email() {
    let folder = tempfile::tempdir().unwrap();
    let stream = |form: &str| {
        let made = print("ring-implant", &["--page", "aftercare", "--as", form, "--out", "-"], folder.path());
        assert_eq!(made.status.code(), Some(0), "{}", text(&made.stderr));
        made.stdout
    };
    assert!(stream("pdf").starts_with(b"%PDF-1.7"));
    assert!(stream("html").starts_with(b"<!DOCTYPE html>\n<html lang=\"en-US\" dir=\"ltr\">"));
    assert!(text(&stream("text")).starts_with("Example. Invented people. Not for use.\n\nRosa Beispiel\n"));
    assert_eq!(print("ring-implant", &["--as", "pdf,html,text"], folder.path()).status.code(), Some(0));
    let names: Vec<_> = fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    for form in ["pdf", "html", "txt"] {
        assert!(names.contains(&format!("EX-01-r1-after-aftercare.{form}").into()), "{names:?}");
    }
}

/// A language that is not whole can be listed before a practice prints in it; the entries it prints are TOML.
#[test]
fn what_a_language_lacks_is_listed_and_can_be_signed() {
    let folder = tempfile::tempdir().unwrap();
    let practice = format!("{}/practice", samples());
    let list = |language: &str, more: &[&str]| {
        let done = run(&[&["translations", "-p", &practice, "-l", language], more].concat(), folder.path());
        assert_eq!(done.status.code(), Some(0), "{}", text(&done.stderr));
        text(&done.stdout)
    };
    let told = list("el", &[]);
    assert!(told.contains("risk-lens: missing"), "{told}");
    assert!(!told.contains("words/surgeon"), "staff read the clinic's own language");
    let told = list("ar", &[]);
    assert!(told.contains("step-wash: not reviewed"), "{told}");
    let entry: toml::Table = toml::from_str(&list("ar", &["--entries", "reviewed"])).unwrap();
    let texts = entry["reviewed"][0]["texts"].as_table().unwrap();
    assert!(texts.contains_key("step-wash") && texts.contains_key("words/consent"));
    let found: serde_json::Value = serde_json::from_str(&list("ar", &["--format", "json"])).unwrap();
    let rows = found["languages"][0]["texts"].as_array().unwrap();
    assert!(rows.iter().any(|row| row["text"] == "step-wash" && row["state"] == "unreviewed"));
}

#[test]
fn a_record_comes_from_standard_input() {
    let folder = tempfile::tempdir().unwrap();
    let practice = format!("{}/practice", samples());
    let mut child = Command::new(env!("CARGO_BIN_EXE_vitreoleaf"))
        .args(["facts", "-", "-p", &practice, "--format", "json"])
        .current_dir(folder.path())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let record = fs::read(format!("{}/ring-implant/case.toml", samples())).unwrap();
    std::io::Write::write_all(&mut child.stdin.take().unwrap(), &record).unwrap();
    let facts: serde_json::Value = serde_json::from_slice(&child.wait_with_output().unwrap().stdout).unwrap();
    assert_eq!(facts["facts"]["session_energy_mj"], 24.0 * 4.5 + 96.0 * 5.5);
}

/// With twenty records on one line, "add the treatment" helps only with the name of the file.
#[test]
fn every_command_tells_which_case_it_cannot_make() {
    let folder = tempfile::tempdir().unwrap();
    let (ready, early) = (samples() + "/ring-implant/case.toml", samples() + "/small-opening-long-eye/case.toml");
    let practice = samples() + "/practice";
    for command in ["blocks", "check", "explain", "plan", "print"] {
        let more: &[&str] = if command == "print" { &["--issued", "2026-08-07T16:00:00Z"] } else { &[] };
        let told = run(&[&[command, &ready, &early, "-p", &practice, "-m", "after"], more].concat(), folder.path());
        assert_eq!(told.status.code(), Some(2), "{command}");
        let told = text(&told.stderr);
        assert!(told.contains(&format!("error: {early}: ")), "{command}: {told}");
        assert!(!told.contains(&format!("error: {ready}: ")), "{command}: {told}");
    }
}

/// A record half filled in is checked as far as it goes, and nothing of it prints.
#[test]
fn a_draft_is_checked_and_not_printed() {
    let folder = tempfile::tempdir().unwrap();
    let record = fs::read_to_string(format!("{}/young-detachment/case.toml", samples())).unwrap();
    let place = record.lines().find(|line| line.starts_with("place")).expect("a place");
    fs::write(folder.path().join("case.toml"), record.replace(place, "")).unwrap();
    let practice = format!("{}/practice", samples());
    let checked = run(&["check", "case.toml", "-p", &practice], folder.path());
    assert_eq!(checked.status.code(), Some(2));
    let told = text(&checked.stdout);
    for said in
        ["stop    detachment-young [open]", "open for the front desk:\n    write plan.place (", "open for the surgeon:"]
    {
        assert!(told.contains(said), "{said}: {told}");
    }
    assert!(text(&checked.stderr).contains("error: case.toml: nothing can be printed"), "{}", text(&checked.stderr));
    let json = run(&["check", "case.toml", "-p", &practice, "--format", "json"], folder.path());
    let json: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    assert_eq!((&json[0]["prints"], &json[0]["open"]["desk"][0]["keys"][0]["key"]), (&false.into(), &"place".into()));
    let printed = run(&["print", "case.toml", "-p", &practice, "--out", "out"], folder.path());
    assert_eq!(printed.status.code(), Some(2));
    assert!(text(&printed.stderr).contains("`place` is missing from `plan`"), "{}", text(&printed.stderr));
    assert!(!folder.path().join("out").exists());
}

/// A refused record leaves the folder as it was.
#[test]
fn a_refused_record_writes_nothing_and_is_told_at_its_line() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("case.toml");
    let record = fs::read_to_string(format!("{}/ring-implant/case.toml", samples())).unwrap();
    fs::write(&path, record.replace("lens = \"implant\"", "lense = \"implant\"")).unwrap();
    let practice = format!("{}/practice", samples());
    let out = folder.path().join("out");
    let refused = run(&["print", "case.toml", "-p", &practice, "--out", "out"], folder.path());
    assert_eq!(refused.status.code(), Some(2));
    let told = text(&refused.stderr);
    assert!(told.contains("lense") && told.contains("`lens`") && told.contains("case.toml:"), "{told}");
    assert!(!out.exists());
}

/// HIP-2: neither name, birth date nor record number in what is said, in file names or in the metadata.
#[test]
fn nothing_private_is_said_or_named() {
    let folder = tempfile::tempdir().unwrap();
    let made = print("ring-implant", &["--out", "."], folder.path());
    let said = text(&made.stderr) + &text(&made.stdout);
    let names = fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name());
    let names: String = names.map(|name| name.to_string_lossy().into_owned()).collect();
    for private in ["Rosa", "1955", "000-101"] {
        assert!(!said.contains(private) && !names.contains(private), "{private}");
    }
}

/// HIP-4: pages are readable by their owner only, and no temporary file stays behind.
#[cfg(unix)]
#[test]
fn pages_are_private_files_and_nothing_is_left_over() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    print("ring-implant", &[], folder.path());
    for entry in fs::read_dir(folder.path()).unwrap() {
        let entry = entry.unwrap();
        assert_eq!(entry.metadata().unwrap().permissions().mode() & 0o777, 0o600, "{:?}", entry.file_name());
        assert!(entry.file_name().to_string_lossy().starts_with("EX-01-"), "{:?}", entry.file_name());
    }
}

/// A warning is shown like a refusal: without private values, unless somebody asks for them.
#[test]
fn a_warning_shows_nothing_private_unless_asked() {
    let folder = tempfile::tempdir().unwrap();
    let record = fs::read_to_string(format!("{}/ring-implant/case.toml", samples())).unwrap();
    fs::write(folder.path().join("case.toml"), record.replace("Rosa Beispiel", "Rosa Bei\u{ad}spiel")).unwrap();
    let practice = format!("{}/practice", samples());
    for command in [&["check"][..], &["print", "--as", "text", "--issued", "2026-08-07T16:00:00Z"]] {
        let told = |more: &[&str]| {
            let told = run(&[command, &["case.toml", "-p", &practice], more].concat(), folder.path());
            text(&told.stderr)
        };
        let (masked, shown) = (told(&[]), told(&["--show-values"]));
        assert!(masked.contains("warning[unseen-character]") && !masked.contains("Rosa"), "{masked}");
        assert!(shown.contains("warning[unseen-character]") && shown.contains("Rosa"), "{shown}");
    }
}

/// A refused record is told with its lines, but neither name, birth date, record number nor free text of it is.
#[test]
fn a_refused_record_shows_nothing_private_unless_asked() {
    let folder = tempfile::tempdir().unwrap();
    let record = fs::read_to_string(format!("{}/ring-implant/case.toml", samples())).unwrap();
    let wrong =
        record.replace("name = \"Rosa Beispiel\"", "name = Rosa Beispiel   # Rosa").replace("1955-03-02", "02.03.1955");
    fs::write(folder.path().join("case.toml"), wrong.replace("record_number = \"", "record = \"")).unwrap();
    let practice = format!("{}/practice", samples());
    for format in ["human", "json"] {
        let told = |more: &[&str]| {
            let args = [&["check", "case.toml", "-p", &practice, "--format", format], more].concat();
            let told = run(&args, folder.path());
            text(&told.stderr) + &text(&told.stdout)
        };
        let masked = told(&[]);
        for private in ["Rosa", "Beispiel", "1955", "000-101"] {
            assert!(!masked.contains(private), "{private}: {masked}");
        }
        assert!(masked.contains("/patient/name") || masked.contains("name = **** ********"), "{masked}");
        assert!(format == "json" || told(&["--show-values"]).contains("name = Rosa Beispiel"));
    }
}

#[test]
fn schema_completions_and_manual_are_printed() {
    let folder = tempfile::tempdir().unwrap();
    let schema = run(&["schema", "record"], folder.path()).stdout;
    let schema: serde_json::Value = serde_json::from_slice(&schema).unwrap();
    assert!(schema["properties"]["eye"].is_object());
    for output in ["packet", "explain", "translations"] {
        let printed = run(&["schema", output], folder.path());
        let printed: serde_json::Value = serde_json::from_slice(&printed.stdout).unwrap();
        let named = vitreoleaf::review::schema::of(output).unwrap();
        assert_eq!(printed, serde_json::to_value((named.schema)()).unwrap(), "{output}");
    }
    let help = text(&run(&["schema", "--help"], folder.path()).stdout);
    assert!(vitreoleaf::review::schema::ALL.iter().all(|named| help.contains(named.name)), "{help}");
    assert!(text(&run(&["completions", "bash"], folder.path()).stdout).contains("vitreoleaf"));
    assert!(text(&run(&["man"], folder.path()).stdout).contains(".TH vitreoleaf"));
}

/// A reader that goes away is no error.
/// What the package of Cargo.toml takes from the folder is there: a page for each command that the help lists, and no other.
#[test]
fn what_a_package_needs_is_written() {
    let folder = tempfile::tempdir().unwrap();
    assert_eq!(run(&["manual", "made"], folder.path()).status.code(), Some(0));
    let made: Vec<String> = std::fs::read_dir(folder.path().join("made"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    let manifest: toml::Value = toml::from_str(include_str!("../Cargo.toml")).unwrap();
    let assets = manifest["package"]["metadata"]["deb"]["assets"].as_array().unwrap().iter();
    for asset in assets.filter_map(|asset| asset[0].as_str()?.strip_prefix("target/manual/")) {
        let ending = asset.strip_prefix('*').unwrap_or(asset);
        assert!(made.iter().any(|name| name.ends_with(ending)), "{asset}: {made:?}");
    }
    for page in ["vitreoleaf.1", "vitreoleaf-print.1", "vitreoleaf-register-verify.1"] {
        assert!(made.iter().any(|name| name == page), "{page}: {made:?}");
    }
    assert!(!made.iter().any(|name| name.contains("apart") || name.contains("help") || name.contains("-manual")));
}

#[test]
fn a_closed_pipe_is_no_error() {
    let folder = tempfile::tempdir().unwrap();
    let mut child = Command::new(env!("CARGO_BIN_EXE_vitreoleaf"))
        .args(["facts", "--format", "json"])
        .current_dir(folder.path())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let done = child.wait_with_output().unwrap();
    assert_eq!(done.status.code(), Some(0), "{}", text(&done.stderr));
}

/// Two cases with one code would overwrite each other: nothing is written.
#[test]
fn two_cases_of_one_code_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let record = fs::read_to_string(format!("{}/ring-implant/case.toml", samples())).unwrap();
    fs::write(folder.path().join("a.toml"), &record).unwrap();
    fs::write(folder.path().join("b.toml"), record.replace("Rosa Beispiel", "Ana Beispiel")).unwrap();
    let practice = format!("{}/practice", samples());
    let args = ["print", "a.toml", "b.toml", "-p", &practice, "--out", "out", "--issued", "2026-08-07T16:00:00Z"];
    let refused = run(&args, folder.path());
    assert_eq!(refused.status.code(), Some(2));
    assert!(text(&refused.stderr).contains("give each its own code"));
    assert!(!folder.path().join("out").exists());
}

/// A page that was issued and is withheld now is named, so that somebody takes it out of use: here the practice changed.
#[test]
fn an_earlier_issue_that_is_withheld_now_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let profile = fs::read_to_string(format!("{}/practice/profile.toml", samples())).unwrap();
    let again = |profile: &str| {
        fs::create_dir_all(folder.path().join("own")).unwrap();
        fs::write(folder.path().join("own/profile.toml"), profile).unwrap();
        let case = format!("{}/ring-implant/case.toml", samples());
        let args = ["print", &case, "-p", "own", "-m", "before", "--out", "out", "--issued", "2026-08-03T14:00:00Z"];
        run(&args, folder.path())
    };
    assert_eq!(again(&profile).status.code(), Some(0));
    let unconfirmed = again(profile.split("[confirmation]").next().unwrap());
    assert_eq!(unconfirmed.status.code(), Some(1));
    let told = text(&unconfirmed.stderr);
    assert!(told.contains("EX-01-r1-before-consent.pdf was issued earlier"), "{told}");
}

/// `plain` and `audit` end with 0 on the demo and with 1 where a statement is not plain; both also write JSON.
#[test]
fn plain_and_audit_fail_with_the_text() {
    let folder = tempfile::tempdir().unwrap();
    let (case, practice) = (samples() + "/ring-implant/case.toml", samples() + "/practice");
    let own = folder.path().join("own");
    fs::create_dir_all(own.join("locales/en-US/statements")).unwrap();
    fs::copy(practice.clone() + "/profile.toml", own.join("profile.toml")).unwrap();
    let hard = "The ophthalmological photodisruption necessitates considerable deliberation.";
    fs::write(own.join("locales/en-US/statements/what-laser.md"), hard).unwrap();
    for command in ["plain", "audit"] {
        let sound = run(&[command, &case, "-p", &practice, "-m", "before", "--format", "json"], folder.path());
        assert_eq!(sound.status.code(), Some(0), "{command}: {}", text(&sound.stdout));
        let pages: serde_json::Value = serde_json::from_slice(&sound.stdout).unwrap();
        assert_eq!(pages.as_array().unwrap().len(), 1);
        let hard = run(&[command, &case, "-p", "own", "-m", "before"], folder.path());
        assert_eq!(hard.status.code(), Some(1), "{command}: {}", text(&hard.stdout));
        let told = text(&hard.stdout);
        assert!(told.contains("FAILS   what-laser") || told.contains("FAILED  PEM-3"), "{told}");
    }
}

/// `check --pages` tells what `print` would refuse, and repeats nothing private; without it nothing is laid out.
#[test]
fn check_tells_what_print_would_refuse() {
    let folder = tempfile::tempdir().unwrap();
    let record = fs::read_to_string(format!("{}/ring-implant/case.toml", samples())).unwrap();
    let case = folder.path().join("case.toml");
    fs::write(&case, record.replace("Rosa Beispiel", "Rosa \u{738B}")).unwrap();
    let practice = format!("{}/practice", samples());
    let check = |more: &[&str]| {
        let args = ["check", case.to_str().unwrap(), "-p", &practice, "-m", "before"];
        run(&[&args[..], more].concat(), folder.path())
    };
    assert_eq!(check(&[]).status.code(), Some(0));
    let told = check(&["--pages"]);
    assert_eq!(told.status.code(), Some(2));
    let told = text(&told.stdout);
    assert!(told.contains("no consent is printed: the patient's name holds U+738B"), "{told}");
    assert!(!told.contains("Rosa"), "{told}");
    let value: serde_json::Value = serde_json::from_slice(&check(&["--pages", "--format", "json"]).stdout).unwrap();
    assert_eq!(value[0]["refused_pages"][0]["page"], "consent");
}
