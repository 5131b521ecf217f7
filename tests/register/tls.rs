//! Connections over TCP: encrypted, the certificate of the server checked, the password out of the passfile.

use std::fs;
use std::net::TcpListener;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::Command;

use tempfile::TempDir;
use vitreoleaf::files::read::ReadError;
use vitreoleaf::register::{Place, Register, RegisterError};

use super::server::{self, OWNER, Server};

/// Whoever signs certificates, made for a test.
struct Authority(TempDir);

impl Authority {
    fn new() -> Self {
        let authority = Self(tempfile::tempdir().unwrap());
        let subject = ["-subj", "/CN=Example Practice", "-keyout", "ca.key", "-out", "ca.pem"];
        authority.openssl(&[&["req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"][..], &subject].concat());
        authority
    }

    fn openssl(&self, arguments: &[&str]) {
        let ended = Command::new("openssl").args(arguments).current_dir(self.0.path()).output().unwrap();
        assert!(ended.status.success(), "{}", String::from_utf8_lossy(&ended.stderr));
    }

    fn file(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    /// A key and a certificate for a server of this name.
    fn sign(&self, name: &str) {
        fs::write(self.file("names"), format!("subjectAltName={name}\n")).unwrap();
        self.openssl(&[
            "req",
            "-newkey",
            "rsa:2048",
            "-nodes",
            "-subj",
            "/CN=server",
            "-keyout",
            "server.key",
            "-out",
            "asked",
        ]);
        let signed = ["-CAkey", "ca.key", "-CAcreateserial", "-extfile", "names", "-days", "2", "-out", "server.pem"];
        self.openssl(&[&["x509", "-req", "-in", "asked", "-CA", "ca.pem"][..], &signed].concat());
    }
}

/// A server that lets roles in over TCP by their password, and only encrypted; its certificate is for this name.
fn encrypted(programs: &Path, authority: &Authority, name: &str) -> (Server, u16) {
    authority.sign(name);
    let port = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let server = Server::start(programs, |folder| {
        for file in ["server.key", "server.pem"] {
            fs::copy(authority.file(file), folder.join(file)).unwrap();
            fs::set_permissions(folder.join(file), fs::Permissions::from_mode(0o600)).unwrap();
            server::give(&folder.join(file));
        }
        let at = |file: &str| folder.join(file).display().to_string();
        fs::write(at("hba"), "local all owner trust\nhostssl all all 127.0.0.1/32 scram-sha-256\n").unwrap();
        let (certificate, key) =
            (format!("ssl_cert_file={}", at("server.pem")), format!("ssl_key_file={}", at("server.key")));
        let listens = ["ssl=on".into(), "listen_addresses=127.0.0.1".into(), format!("port={port}")];
        [listens.into(), vec![certificate, key, format!("hba_file={}", at("hba"))]].concat()
    });
    (server, port)
}

fn place(port: u16, parameters: &str, passfile: &Path) -> Place {
    let address = format!("postgres://{OWNER}@127.0.0.1:{port}/postgres{parameters}");
    Place::read(address.as_ref()).unwrap().with_passfile(Some(passfile.to_owned()))
}

#[test]
fn a_connection_is_encrypted_its_certificate_checked_and_its_password_read_from_the_passfile() {
    if server::shared().is_none() {
        return; // it has said so
    }
    let programs = server::programs().unwrap();
    let (authority, other) = (Authority::new(), Authority::new());
    let (server, port) = encrypted(&programs, &authority, "IP:127.0.0.1");
    server.client("postgres").batch_execute("ALTER ROLE owner PASSWORD 'a:pass\\word'").unwrap();

    let passfile = authority.file("pass");
    let keep = |text: &str, mode: u32| {
        fs::write(&passfile, text).unwrap();
        fs::set_permissions(&passfile, fs::Permissions::from_mode(mode)).unwrap();
    };
    let by = |authority: &Authority| format!("?sslrootcert={}", authority.file("ca.pem").display());
    let open = |parameters: &str| Register::open(&place(port, parameters, &passfile));
    assert!(matches!(open(&by(&authority)), Err(RegisterError::NoEntry)), "without a passfile");
    keep("*:*:*:*:another", 0o600);
    assert!(matches!(open(&by(&authority)), Err(RegisterError::NoEntry)), "another password");
    keep(&format!("localhost:{port}:postgres:{OWNER}:a\\:pass\\\\word\n"), 0o644);
    assert!(matches!(open(&by(&authority)), Err(RegisterError::Read(ReadError::Open(_)))), "others can read it");
    keep(&format!("localhost:{port}:postgres:{OWNER}:a\\:pass\\\\word\n"), 0o600);

    let register = open(&by(&authority)).unwrap();
    let encrypted = "SELECT count(*) FROM pg_stat_ssl JOIN pg_stat_activity USING (pid) WHERE ssl AND application_name = 'vitreoleaf'";
    assert_eq!(server.client("postgres").query_one(encrypted, &[]).unwrap().get::<_, i64>(0), 1);
    drop(register);

    let refused = |parameters: &str, why: &str| match open(parameters).err() {
        Some(RegisterError::NoAnswer(text)) => assert!(text.contains(why), "{text}"),
        other => panic!("{other:?}"),
    };
    refused(&by(&other), "certificate"); // of somebody else
    assert!(matches!(open(""), Err(RegisterError::NoEntry)), "the server lets nobody in unencrypted");
    fs::write(other.file("ca.pem"), "no certificate").unwrap();
    assert!(matches!(open(&by(&other)), Err(RegisterError::NoAuthority)));
}

#[test]
fn a_certificate_for_another_name_and_a_server_without_one_are_refused() {
    if server::shared().is_none() {
        return; // it has said so
    }
    let programs = server::programs().unwrap();
    let authority = Authority::new();
    let (_server, port) = encrypted(&programs, &authority, "DNS:other.example");
    let named = format!("?sslrootcert={}", authority.file("ca.pem").display());
    let refused = |port: u16| match Register::open(&place(port, &named, &authority.file("none"))).err() {
        Some(RegisterError::NoAnswer(text)) => text,
        other => panic!("{other:?}"),
    };
    assert!(refused(port).contains("certificate"), "{}", refused(port));
    let plain_port = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let settings = |_: &Path| vec!["listen_addresses=127.0.0.1".to_owned(), format!("port={plain_port}")];
    let _plain = Server::start(&programs, settings);
    assert!(refused(plain_port).contains("TLS"), "{}", refused(plain_port));
    assert!(Register::open(&place(plain_port, "", &authority.file("none"))).is_ok(), "on this machine it may be plain");
}
