//! Several programs at once, programs that are killed, and a disk that is full: nothing is lost and no number is given twice.

use std::io::{Read, Write, stderr};
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::Duration;

use vitreoleaf::register::{Place, Register, RegisterError};

use super::{file, issue, open};

/// How many issues all writers make together.
fn issues() -> usize {
    if std::env::var_os("VITREOLEAF_EVERY").is_some() { 10_000 } else { 200 }
}

/// Tries until no other program holds the register.
pub(super) fn insist<T>(mut what: impl FnMut() -> Result<T, RegisterError>) -> T {
    loop {
        match what() {
            Ok(done) => return done,
            Err(RegisterError::Busy) => {}
            Err(error) => panic!("{error}"),
        }
    }
}

/// Issues of a writer, ten of each case.
fn write(place: &Place, writer: &str, count: usize) -> Vec<i64> {
    let mut store: Register = insist(|| Register::open(place));
    let mut case = 0;
    let mut issue = |at: usize| {
        if at.is_multiple_of(10) {
            case = insist(|| store.add(&file(&format!("{writer}-{at}"), "Rosa", None)));
        }
        insist(|| store.issue(&issue(case), &[("a.pdf", &at.to_le_bytes())]))
    };
    (0..count).map(&mut issue).collect()
}

/// Tells this program, started once more, who it is of several that write at once.
const ONE_OF: &str = "VITREOLEAF_ONE_OF";

/// Whether this program is one of several that write at once; then it writes, and tells the numbers that it was given.
pub(super) fn is_one_of() -> bool {
    let (Some(address), Some(writer)) = (std::env::var_os(WRITER), std::env::var_os(ONE_OF)) else { return false };
    let (writer, count) = writer.to_str().unwrap().split_once(' ').unwrap();
    let numbers = write(&Place::read(Path::new(&address)).unwrap(), writer, count.parse().unwrap());
    let lines: String = numbers.iter().map(|number| format!("{number}\n")).collect();
    stderr().write_all(lines.as_bytes()).unwrap();
    true
}

/// Several programs that write at once lose no issue, and no number is given twice. Each is this one, started once more for the
/// test that asks.
pub(super) fn write_at_once(address: &str, writers: &[&str], test: &str) {
    let count = issues() / writers.len();
    let start = |writer: &&str| {
        let mut program = Command::new(std::env::current_exe().unwrap());
        program.args(["--exact", test]).env(WRITER, address).env(ONE_OF, format!("{writer} {count}"));
        program.stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap()
    };
    let programs: Vec<_> = writers.iter().map(start).collect();
    let ended: Vec<_> = programs.into_iter().map(|program| program.wait_with_output().unwrap()).collect();
    let told: String = ended.iter().map(|ended| String::from_utf8_lossy(&ended.stderr).into_owned()).collect();
    assert!(ended.iter().all(|ended| ended.status.success()), "{told}");
    let mut numbers: Vec<i64> = told.lines().map(|line| line.parse().unwrap()).collect();
    numbers.sort_unstable();
    numbers.dedup();
    assert_eq!(numbers.len(), issues());
    let store = Register::open(&Place::read(address.as_ref()).unwrap()).unwrap();
    let kept = store.all().unwrap().iter().map(|case| store.issues(*case).unwrap().len()).sum::<usize>();
    assert_eq!(kept, issues());
    let found = store.verify(None).unwrap().unwrap();
    assert_eq!(found.head.number, i64::try_from(issues() * 3).unwrap(), "an issue, its file, the case as it was");
}

#[test]
fn two_programs_lose_no_issue_and_no_number_is_given_twice() {
    if is_one_of() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("register.sqlite3");
    let test = "register::faults::two_programs_lose_no_issue_and_no_number_is_given_twice";
    write_at_once(file.to_str().unwrap(), &["A", "B"], test);
}

#[test]
fn several_programs_that_make_the_register_at_once_find_one_form() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.sqlite3");
    std::thread::scope(|scope| {
        let opened: Vec<_> = (0..8).map(|_| scope.spawn(|| drop(insist(|| open(&path))))).collect();
        opened.into_iter().for_each(|one| one.join().unwrap());
    });
    let steps = "SELECT count(*), count(DISTINCT number) FROM migration";
    let connection = rusqlite::Connection::open(&path).unwrap();
    let (all, distinct): (i64, i64) = connection.query_row(steps, [], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
    assert!(all > 0 && all == distinct);
}

/// Tells this program, started once more, to write to a place until it is killed.
const WRITER: &str = "VITREOLEAF_WRITER";

/// Files of each issue of such a writer.
const FILES: [(&str, &[u8]); 3] = [("a.pdf", &[7; 20_000]), ("b.pdf", b"two"), ("c.pdf", b"three")];

/// Writes until somebody kills it, once it has said that it begins.
fn write_until_killed(place: &Place) {
    let mut store = insist(|| Register::open(place));
    let _ = stderr().write_all(b".");
    loop {
        let case = insist(|| store.add(&super::CaseFile::default()));
        insist(|| store.issue(&issue(case), &FILES));
    }
}

/// Kills writers within their changes and sees that each issue is whole or not there.
pub(super) fn killed_while_it_writes(address: &str) {
    let kills = if std::env::var_os("VITREOLEAF_EVERY").is_some() { 500 } else { 10 };
    let (program, test) = (
        std::env::current_exe().unwrap(),
        "register::faults::a_program_that_is_killed_while_it_writes_leaves_whole_issues",
    );
    for kill in 0..kills {
        let mut writer = Command::new(&program);
        writer.args(["--exact", test]).env(WRITER, address).stdout(Stdio::null()).stderr(Stdio::piped());
        let mut writer = writer.spawn().unwrap();
        writer.stderr.as_mut().unwrap().read_exact(&mut [0]).expect("it begins");
        sleep(Duration::from_millis(kill * 37 % 151));
        writer.kill().unwrap();
        writer.wait().unwrap();
    }
    let place = Place::read(address.as_ref()).unwrap();
    let store = Register::open(&place).unwrap();
    let issued: Vec<i64> =
        store.all().unwrap().iter().flat_map(|case| store.issues(*case).unwrap()).map(|one| one.id).collect();
    let rows = store.verify(None).unwrap().unwrap().head.number;
    assert_eq!(rows, i64::try_from(issued.len() * (FILES.len() + 2)).unwrap(), "no part of an issue without the rest");
    assert!(!issued.is_empty(), "they were killed before they wrote");
    for number in issued {
        assert_eq!(store.issued_file(number, 2).unwrap().unwrap().1, FILES[2].1);
    }
}

#[test]
fn a_program_that_is_killed_while_it_writes_leaves_whole_issues() {
    if let Some(address) = std::env::var_os(WRITER) {
        write_until_killed(&Place::read(Path::new(&address)).unwrap());
    }
    let folder = tempfile::tempdir().unwrap();
    killed_while_it_writes(folder.path().join("register.sqlite3").to_str().unwrap());
}

/// A small disk of its own, for as long as it is needed; nothing where nobody may have one.
#[cfg(target_os = "linux")]
pub(super) struct SmallDisk(tempfile::TempDir);

#[cfg(target_os = "linux")]
impl SmallDisk {
    pub(super) fn new(size: &str) -> Option<Self> {
        let folder = tempfile::tempdir().unwrap();
        let mut mount = Command::new("mount");
        mount.args(["-t", "tmpfs", "-o", &format!("size={size}"), "tmpfs"]).arg(folder.path()).stderr(Stdio::null());
        if mount.status().is_ok_and(|ended| ended.success()) {
            return Some(Self(folder));
        }
        let _ = stderr().write_all(b"SKIPPED: only root may have a small disk, a full one was not tested\n");
        None
    }

    pub(super) fn path(&self) -> &Path {
        self.0.path()
    }

    /// Makes room.
    pub(super) fn grow(&self, size: &str) {
        let mut mount = Command::new("mount");
        mount.args(["-o", &format!("remount,size={size}")]).arg(self.path());
        assert!(mount.status().unwrap().success());
    }
}

#[cfg(target_os = "linux")]
impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(self.path()).status();
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_refuses_the_issue_and_loses_nothing() {
    let Some(disk) = SmallDisk::new("2m") else { return };
    full(&disk.path().join("register.sqlite3").as_path().into(), || disk.grow("16m"));
}

/// Issues until the disk is full, and goes on once there is room.
#[cfg(target_os = "linux")]
pub(super) fn full(place: &Place, make_room: impl FnOnce()) {
    let mut store = Register::open(place).unwrap();
    let case = store.add(&file("A-1", "Rosa", None)).unwrap();
    // Bytes that nothing makes shorter.
    let mut number = 1_u64;
    let mut noise = || {
        number = number.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        number.to_be_bytes()[0]
    };
    let mut page = || (0..50_000).map(|_| noise()).collect::<Vec<u8>>();
    let mut issued = 0;
    let refused = loop {
        match store.issue(&issue(case), &[("a.pdf", &page())]) {
            Ok(_) => issued += 1,
            Err(error) => break error,
        }
    };
    assert!(matches!(refused, RegisterError::Full), "{refused:?}");
    assert_eq!((issued > 0, store.issues(case).unwrap().len()), (true, issued));
    assert!(store.verify(None).unwrap().is_ok());
    make_room();
    store.issue(&issue(case), &[("a.pdf", &page())]).unwrap();
    drop(store);
    let store = Register::open(place).unwrap();
    assert_eq!(store.issues(case).unwrap().len(), issued + 1);
    assert!(store.verify(None).unwrap().is_ok());
}
