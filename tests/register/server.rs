//! A PostgreSQL server of the tests' own, at a socket in a folder that goes with it. It is installed where the tests run as root
//! on Debian; where it cannot be had, what needs it is skipped, and says so.

use std::fs;
use std::io::{Write, stderr};
use std::os::unix::fs::chown;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError, Weak};
use std::thread::sleep;
use std::time::Duration;

use postgres::{Client, NoTls};
use tempfile::TempDir;
use vitreoleaf::register::{Place, Register};

/// Runs a server for as long as somebody holds the other end of its standard input: it ends with the tests, however they end.
const WHILE_WANTED: &str = "\"$@\" & server=$!; read _; kill -INT $server; wait $server";

/// The role that made the databases.
pub(super) const OWNER: &str = "owner";

/// A running server.
pub(super) struct Server {
    folder: TempDir,
    process: Child,
    port: u16,
    databases: AtomicUsize,
}

/// The server that all tests share while one of them needs it; nothing where none can be had.
pub(super) fn shared() -> Option<Arc<Server>> {
    static SHARED: Mutex<Weak<Server>> = Mutex::new(Weak::new());
    let mut shared = SHARED.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(running) = shared.upgrade() {
        return Some(running);
    }
    let Some(programs) = programs() else {
        let _ = stderr().write_all(
            b"SKIPPED: no PostgreSQL (on Debian: apt-get install postgresql), its register was not tested\n",
        );
        return None;
    };
    let server = Arc::new(Server::start(&programs, |_| Vec::new()));
    *shared = Arc::downgrade(&server);
    Some(server)
}

/// Where the programs of the server lie.
pub(super) fn programs() -> Option<PathBuf> {
    static ASKED: Mutex<()> = Mutex::new(());
    let _one_at_a_time = ASKED.lock();
    found().or_else(|| {
        if user().is_some() || !Path::new("/usr/bin/apt-get").exists() {
            return None; // it is there already, or nobody here may install it
        }
        for order in [&["update", "-qq"][..], &["install", "-y", "-qq", "postgresql"]] {
            let mut install = Command::new("apt-get");
            let _ = install.args(order).env("DEBIAN_FRONTEND", "noninteractive").stdout(Stdio::null()).status();
        }
        found()
    })
}

fn found() -> Option<PathBuf> {
    let versions = fs::read_dir("/usr/lib/postgresql").into_iter().flatten().flatten();
    let debian = versions.map(|version| version.path().join("bin"));
    let path = std::env::var_os("PATH").unwrap_or_default();
    debian.chain(std::env::split_paths(&path)).find(|folder| folder.join("initdb").exists())
}

/// The user of the server, by number and group: it does not run as root.
fn user() -> Option<(u32, u32)> {
    let passwd = fs::read_to_string("/etc/passwd").ok()?;
    let line = passwd.lines().find_map(|line| line.strip_prefix("postgres:"))?;
    let mut fields = line.split(':').skip(1);
    Some((fields.next()?.parse().ok()?, fields.next()?.parse().ok()?))
}

/// Gives a file to the user of the server, if it is ours to give: whoever may is root.
pub(super) fn give(path: &Path) -> Option<(u32, u32)> {
    user().filter(|(user, group)| chown(path, Some(*user), Some(*group)).is_ok())
}

fn as_user(command: &mut Command, folder: &Path) {
    if let Some((user, group)) = give(folder) {
        command.uid(user).gid(group);
    }
    command.current_dir(folder).stdout(Stdio::null()).stderr(Stdio::null());
}

impl Server {
    /// Makes and starts one. `prepare` puts files into its folder and gives settings as `name=value`. Words are sorted as people
    /// do, unless somebody says otherwise.
    pub(super) fn start(programs: &Path, prepare: impl FnOnce(&Path) -> Vec<String>) -> Self {
        let folder = tempfile::Builder::new().prefix("pg").tempdir_in("/tmp").unwrap();
        let mut make = Command::new(programs.join("initdb"));
        as_user(&mut make, folder.path());
        make.args(["-D", "data", "-A", "trust", "-U", OWNER, "-E", "UTF8"]);
        make.args(["--locale=C.UTF-8", "--locale-provider=icu", "--icu-locale=en-US"]);
        assert!(make.status().unwrap().success(), "initdb");
        let settings = prepare(folder.path());
        let mut start = Command::new("sh");
        as_user(&mut start, folder.path());
        start.args(["-c", WHILE_WANTED, "sh"]).arg(programs.join("postgres"));
        start.args(["-D", "data", "-k"]).arg(folder.path()).args(["-c", "listen_addresses="]);
        settings.iter().for_each(|setting| _ = start.args(["-c", setting]));
        let process = start.stdin(Stdio::piped()).spawn().unwrap();
        let port = settings.iter().find_map(|setting| setting.strip_prefix("port=")?.parse().ok()).unwrap_or(5432);
        let server = Self { folder, process, port, databases: AtomicUsize::new(0) };
        server.wait();
        server
    }

    /// Waits until it answers.
    fn wait(&self) {
        for _ in 0..300 {
            if self.connect("postgres").is_ok() {
                return;
            }
            sleep(Duration::from_millis(100));
        }
        panic!("the server does not start");
    }

    pub(super) fn folder(&self) -> &Path {
        self.folder.path()
    }

    fn connect(&self, database: &str) -> Result<Client, postgres::Error> {
        let mut config = postgres::Config::new();
        config.host_path(self.folder.path()).port(self.port).user(OWNER).dbname(database).connect(NoTls)
    }

    /// A client of the owner's that knows nothing of the program.
    pub(super) fn client(&self, database: &str) -> Client {
        let mut client = self.connect(database).unwrap();
        client.batch_execute("SET search_path = vitreoleaf").unwrap();
        client
    }

    /// A new, empty database.
    pub(super) fn database(&self) -> String {
        let name = format!("register{}", self.databases.fetch_add(1, Ordering::Relaxed));
        self.connect("postgres").unwrap().batch_execute(&format!("CREATE DATABASE {name}")).unwrap();
        name
    }

    /// The address of a database for a role.
    pub(super) fn address(&self, role: &str, database: &str) -> String {
        format!("postgres://{role}@:{}/{database}?host={}", self.port, self.folder.path().display())
    }

    /// A database as a role sees it.
    pub(super) fn place(&self, role: &str, database: &str) -> Place {
        Place::read(self.address(role, database).as_ref()).unwrap()
    }

    /// A new, empty register.
    pub(super) fn register(&self) -> (String, Register) {
        let database = self.database();
        let register = Register::open(&self.place(OWNER, &database)).unwrap();
        (database, register)
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        drop(self.process.stdin.take());
        let _ = self.process.wait();
    }
}
