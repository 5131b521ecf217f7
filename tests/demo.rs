//! What `vitreoleaf demo` makes, made once for all tests.

use std::collections::BTreeMap;
#[cfg(feature = "desk")]
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::process::Command;
use std::sync::LazyLock;

#[cfg(feature = "desk")]
use vitreoleaf::desk::{Example, PASSPHRASE, TREATMENTS};
#[cfg(feature = "desk")]
use vitreoleaf::register::Register;

/// The register that the demo writes: another one each time, since its salts are.
const REGISTER: &str = "practice-register.sqlite3";

/// Every file the demo writes, by path.
static WRITTEN: LazyLock<BTreeMap<String, Vec<u8>>> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    let demo = Command::new(env!("CARGO_BIN_EXE_vitreoleaf")).arg("demo").arg(folder.path()).output().unwrap();
    assert!(demo.status.success(), "{}", String::from_utf8_lossy(&demo.stderr));
    files_under(folder.path())
});

/// Every file the demo writes but its register, by path.
pub(crate) static FILES: LazyLock<BTreeMap<String, Vec<u8>>> = LazyLock::new(|| {
    let mut files = WRITTEN.clone();
    files.remove(REGISTER);
    files
});

#[cfg(feature = "desk")]
#[test]
fn the_demo_has_a_register_with_the_invented_history_of_two_surgeons() {
    let folder = tempfile::tempdir().unwrap();
    let (written, own) = (folder.path().join("written"), folder.path().join("own"));
    fs::write(&written, &WRITTEN[REGISTER]).unwrap();
    let written = Register::in_file(&written).unwrap();
    let mut own = Register::in_file(&own).unwrap();
    Example::read().unwrap().fill(&mut own).unwrap();
    let day = Example::begins().date();
    let (sessions, outcomes) = (written.sessions(day).unwrap(), written.all_outcomes(day).unwrap());
    let surgeons: BTreeSet<&str> = sessions.iter().map(|session| session.surgeon.as_str()).collect();
    assert!(sessions.len() >= TREATMENTS as usize && surgeons.len() == 2, "{} {surgeons:?}", sessions.len());
    assert_eq!(
        (sessions, outcomes),
        (own.sessions(day).unwrap(), own.all_outcomes(day).unwrap()),
        "the same every time"
    );
    assert!(written.people().unwrap().iter().all(|person| person.passphrase.is(PASSPHRASE)));
    assert!(written.verify(None).unwrap().is_ok());
}

/// Every file under a folder, by its path there, with `/` on every system.
pub(crate) fn files_under(top: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut files = BTreeMap::new();
    let mut folders = vec![top.to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let parts = path.strip_prefix(top).unwrap().iter().map(|part| part.to_string_lossy());
                files.insert(parts.collect::<Vec<_>>().join("/"), fs::read(&path).unwrap());
            }
        }
    }
    files
}
