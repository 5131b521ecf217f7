//! Connections to a PostgreSQL server: encrypted and its certificate checked as soon as they leave this machine.

use std::error::Error;
use std::sync::Arc;
use std::time::Duration;

use postgres::config::SslMode;
use postgres::{Client, Config, NoTls};
use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::PemObject;
use rustls::{ClientConfig, RootCertStore};
use tokio_postgres_rustls::MakeRustlsConnect;

use super::RegisterError;
use super::passfile::password;
use super::place::{Host, Server};
use crate::files::read;

/// How long a server may take to answer at first. Common practice, no source.
const ANSWER: Duration = Duration::from_secs(5);

/// After how long without a word it is asked whether it is still there. Common practice, no source.
const SILENCE: Duration = Duration::from_secs(30);

/// What holds for a connection: where the tables stand, how long a change waits for another program, and when a program that
/// hangs within a change is given up, so that it holds up nobody. Common practice, no source.
const SETTINGS: &str = "SET search_path = vitreoleaf; SET lock_timeout = '5s'; SET client_min_messages = warning; \
                        SET idle_in_transaction_session_timeout = '60s'; \
                        SELECT set_config('synchronous_commit', 'on', false) WHERE current_setting('synchronous_commit') = 'off'";

/// Opens a connection to a server that keeps what it calls saved.
pub(super) fn connect(server: &Server) -> Result<Client, RegisterError> {
    let config = config(server)?;
    let told = |error: postgres::Error| refused(&error);
    let connected = match config.get_ssl_mode() {
        SslMode::Disable => config.connect(NoTls),
        _ => config.connect(MakeRustlsConnect::new(checked_by(server)?)),
    };
    let mut client = connected.map_err(told)?;
    client.batch_execute(SETTINGS).map_err(told)?;
    let kept =
        client.query_one("SELECT current_setting('fsync'), current_setting('server_encoding')", &[]).map_err(told)?;
    match (kept.get(0), kept.get(1)) {
        ("off", _) => Err(RegisterError::NotDurable),
        (_, "UTF8") => Ok(client),
        (_, other) => Err(RegisterError::Encoding(other.to_owned())),
    }
}

fn config(server: &Server) -> Result<Config, RegisterError> {
    let mut config = Config::new();
    config.user(&server.user).dbname(&server.database).port(server.port).application_name("vitreoleaf");
    config.connect_timeout(ANSWER).keepalives_idle(SILENCE).tcp_user_timeout(SILENCE);
    match &server.host {
        Host::Socket(folder) => socket(&mut config, folder)?,
        Host::Network(host) => _ = config.host(host),
    }
    let encrypted = !server.host.is_here() || server.authority.is_some();
    config.ssl_mode(if encrypted { SslMode::Require } else { SslMode::Disable });
    let passfile = server.passfile.as_deref().map(read::secret).transpose()?.flatten();
    if let Some(password) = passfile.and_then(|text| password(&text, server)) {
        config.password(password);
    }
    Ok(config)
}

#[cfg(unix)]
fn socket(config: &mut Config, folder: &std::path::Path) -> Result<(), RegisterError> {
    config.host_path(folder);
    Ok(())
}

#[cfg(not(unix))]
fn socket(_: &mut Config, _: &std::path::Path) -> Result<(), RegisterError> {
    Err(super::place::NoPlace::Form.into()) // sockets in a folder are of Unix
}

/// By whom the certificate of a server must be signed: whoever the address names, else whom this machine trusts. Its name is
/// checked too.
fn checked_by(server: &Server) -> Result<ClientConfig, RegisterError> {
    let mut roots = RootCertStore::empty();
    roots.add_parsable_certificates(match &server.authority {
        Some(file) => CertificateDer::pem_slice_iter(&read::small(file)?).flatten().collect(),
        None => rustls_native_certs::load_native_certs().certs,
    });
    if roots.is_empty() {
        return Err(RegisterError::NoAuthority);
    }
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let config = ClientConfig::builder_with_provider(provider).with_safe_default_protocol_versions();
    let config = config.map_err(|error| RegisterError::NoAnswer(error.to_string()))?;
    Ok(config.with_root_certificates(roots).with_no_client_auth())
}

/// Why no connection was made. What the server says of itself holds nothing of a patient.
fn refused(error: &postgres::Error) -> RegisterError {
    let class = error.code().map(|code| &code.code()[..2]);
    // Without a password in the passfile the server's question for one fails on this side.
    if class == Some("28") || error.to_string() == "invalid configuration" {
        return RegisterError::NoEntry;
    }
    let mut reasons = vec![error.to_string()];
    let mut source = error.source();
    while let Some(reason) = source {
        reasons.push(reason.to_string());
        source = reason.source();
    }
    RegisterError::NoAnswer(reasons.join(": "))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mode(host: &str, authority: Option<&str>) -> SslMode {
        let server = Server {
            user: "desk".into(),
            host: Host::Network(host.into()),
            port: 5432,
            database: "eyes".into(),
            authority: authority.map(Into::into),
            passfile: None,
        };
        config(&server).unwrap().get_ssl_mode()
    }

    #[test]
    fn what_leaves_this_machine_is_encrypted() {
        assert_eq!(mode("127.0.0.1", None), SslMode::Disable);
        assert_eq!(mode("127.0.0.1", Some("ca.pem")), SslMode::Require);
        for host in ["10.0.0.1", "db.example", "127.0.0.1.example", "localhost"] {
            assert_eq!(mode(host, None), SslMode::Require, "{host}");
        }
    }
}
