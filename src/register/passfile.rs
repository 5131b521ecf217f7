//! The passfile of PostgreSQL: one line for each password, `host:port:database:user:password`. A star stands for anything, a
//! backslash before a colon or a backslash takes its meaning away, lines that begin with # are remarks.

use super::place::{Host, Server};

/// How the file calls a server at a socket.
const AT_SOCKET: &str = "localhost";

/// The password of the first line that fits a server.
pub(super) fn password(text: &str, server: &Server) -> Option<String> {
    text.lines().filter(|line| !line.starts_with('#')).map(fields).find_map(|fields| {
        let [host, port, database, user, password] = <[Field; 5]>::try_from(fields).ok()?;
        let fits = is_host(&host, &server.host)
            && port.fits(&server.port.to_string())
            && database.fits(&server.database)
            && user.fits(&server.user);
        fits.then_some(password.text)
    })
}

/// One field of a line.
#[derive(Default)]
struct Field {
    text: String,
    /// Whether it is one star, written without a backslash.
    any: bool,
}

impl Field {
    fn fits(&self, value: &str) -> bool {
        self.any || self.text == value
    }
}

/// The fields of a line; all after the fourth colon is the password.
fn fields(line: &str) -> Vec<Field> {
    let (mut fields, mut field, mut start) = (Vec::new(), Field::default(), 0);
    let mut characters = line.char_indices();
    while let Some((at, character)) = characters.next() {
        match character {
            ':' if fields.len() < 4 => {
                field.any = &line[start..at] == "*";
                start = at + 1;
                fields.push(std::mem::take(&mut field));
            }
            '\\' => field.text.extend(characters.next().map(|(_, character)| character)),
            character => field.text.push(character),
        }
    }
    fields.push(field);
    fields
}

fn is_host(field: &Field, host: &Host) -> bool {
    match host {
        Host::Socket(folder) => field.fits(AT_SOCKET) || folder.to_str().is_some_and(|folder| field.fits(folder)),
        // `localhost` of an address is read as its number.
        Host::Network(number) => field.fits(number) || (number == "127.0.0.1" && field.fits(AT_SOCKET)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn server(host: Host) -> Server {
        let (user, database) = ("de:sk".into(), "eyes".into());
        Server { user, host, port: 5432, database, authority: None, passfile: None }
    }

    fn at(host: &str) -> Server {
        server(Host::Network(host.into()))
    }

    #[test]
    fn the_first_line_that_fits_counts() {
        let text = "# db:*:*:*:remark\nother:*:*:*:no\ndb:5433:*:*:no\ndb:*:eyes:de\\:sk:yes\n*:*:*:*:last\n";
        assert_eq!(password(text, &at("db")).as_deref(), Some("yes"));
        assert_eq!(password(text, &at("elsewhere")).as_deref(), Some("last"));
        assert_eq!(password("db:*:*:*:no", &at("elsewhere")), None);
        assert_eq!(password("", &at("db")), None);
    }

    #[test]
    fn a_password_may_hold_colons_backslashes_and_stars() {
        for (line, found) in
            [("*:*:*:*:a:b", "a:b"), ("*:*:*:*:a\\:b\\\\c", "a:b\\c"), ("*:*:*:*:*", "*"), ("*:*:*:*: ", " ")]
        {
            assert_eq!(password(line, &at("db")).as_deref(), Some(found), "{line}");
        }
        assert_eq!(password("\\*:*:*:*:a", &at("db")), None, "this host is called *");
        assert_eq!(password("*:*:*:a", &at("db")), None, "a line of four fields");
    }

    #[test]
    fn a_socket_is_called_by_its_folder_or_as_this_machine() {
        let socket = server(Host::Socket("/run/postgresql".into()));
        for line in ["localhost:*:*:*:a", "/run/postgresql:5432:*:*:a"] {
            assert_eq!(password(line, &socket).as_deref(), Some("a"), "{line}");
        }
        assert_eq!(password("127.0.0.1:*:*:*:a", &socket), None);
        assert_eq!(password("localhost:*:*:*:a", &at("127.0.0.1")).as_deref(), Some("a"));
    }
}
