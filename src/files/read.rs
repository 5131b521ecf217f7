//! Reading: records, profiles, and what lies in a practice's folder.

use std::collections::BTreeMap;
use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use crate::assets::Assets;
use crate::diag::{Refused, Remarks, SourceFile};
use crate::record::load;

/// Longest text read, bytes; a record is a few kilobytes. What is longer is refused by the loader.
const TEXT_LIMIT: u64 = 1 << 20;

/// Largest table read, bytes: some hundred thousand outcomes.
const TABLE_LIMIT: u64 = 64 << 20;

/// Largest font file read, bytes: the largest of one script hold a few million.
const FONT_LIMIT: u64 = 32 << 20;

/// Endings of texts a practice may have of its own.
const OWN: [&str; 3] = ["toml", "md", "typ"];

/// Endings of print fonts.
const FONTS: [&str; 2] = ["ttf", "otf"];

/// Folders within `locales/`: a statement lies in the second.
const DEEPEST: usize = 2;

/// Why something was not read. Each names the file.
#[derive(Debug, thiserror::Error)]
pub enum ReadError {
    /// The machine refused.
    #[error("{}: {source}", path.display())]
    Io {
        /// Which file or folder.
        path: PathBuf,
        /// What the machine says.
        source: io::Error,
    },
    /// A folder where a file is wanted.
    #[error("{} is a folder: name the file in it", .0.display())]
    Folder(PathBuf),
    /// A link that leads out of the practice's folder.
    #[error("{} leads out of the practice's folder: put the file itself there", .0.display())]
    LeadsOut(PathBuf),
    /// A file that nothing reads.
    #[error("{}: only .toml, .md and .typ files belong here; move it away", .0.display())]
    NotOurs(PathBuf),
    /// A secret that others can read.
    #[error("{} holds a secret and can be read by others: make it readable by you alone (chmod 600)", .0.display())]
    Open(PathBuf),
    /// A file that is no text.
    #[error(transparent)]
    Refused(#[from] Refused),
}

/// Reads a small file as it is.
///
/// # Errors
/// When it cannot be read.
pub fn small(path: &Path) -> Result<Vec<u8>, ReadError> {
    bytes(path, TEXT_LIMIT)
}

/// Reads a small text that only its owner may read; nothing if there is none. Who may read a file is not asked on Windows,
/// where a folder of one's own holds it.
///
/// # Errors
/// When others can read it, it cannot be read, or it is no text.
pub fn secret(path: &Path) -> Result<Option<String>, ReadError> {
    if !path.exists() {
        return Ok(None);
    }
    if may_others(path).map_err(told(path))? {
        return Err(ReadError::Open(path.to_owned()));
    }
    let text = String::from_utf8(bytes(path, TEXT_LIMIT)?).map_err(|_| io::ErrorKind::InvalidData.into());
    text.map(Some).map_err(told(path))
}

#[cfg(unix)]
fn may_others(path: &Path) -> io::Result<bool> {
    use std::os::unix::fs::PermissionsExt;
    Ok(fs::metadata(path)?.permissions().mode() & 0o077 != 0)
}

#[cfg(not(unix))]
fn may_others(_: &Path) -> io::Result<bool> {
    Ok(false)
}

/// Reads a record or a profile; `-` is standard input.
///
/// # Errors
/// When it cannot be read, is a folder, or is no text.
pub fn source(path: &Path) -> Result<SourceFile, ReadError> {
    if path.as_os_str() == "-" {
        let bytes = limited(io::stdin().lock(), TEXT_LIMIT).map_err(told(path))?;
        return text("standard input", &bytes);
    }
    if path.is_dir() {
        return Err(ReadError::Folder(path.to_owned()));
    }
    text(&path.display().to_string(), &bytes(path, TEXT_LIMIT)?)
}

/// Reads a table as it is; `-` is standard input. What is longer than a table can be is cut off.
///
/// # Errors
/// When it cannot be read, or is a folder.
pub fn table(path: &Path) -> Result<Vec<u8>, ReadError> {
    match path {
        path if path.as_os_str() == "-" => limited(io::stdin().lock(), TABLE_LIMIT).map_err(told(path)),
        path if path.is_dir() => Err(ReadError::Folder(path.to_owned())),
        path => bytes(path, TABLE_LIMIT),
    }
}

/// Reads a finished file as it is, up to so many bytes; `-` is standard input.
///
/// # Errors
/// When it cannot be read, or is a folder.
pub fn finished(path: &Path, most: usize) -> Result<Vec<u8>, ReadError> {
    let most = u64::try_from(most).unwrap_or(u64::MAX);
    match path {
        path if path.as_os_str() == "-" => limited(io::stdin().lock(), most).map_err(told(path)),
        path if path.is_dir() => Err(ReadError::Folder(path.to_owned())),
        path => bytes(path, most),
    }
}

/// Reads the profile of a practice and the files it has of its own: texts under `templates/` and `locales/`, fonts in
/// `fonts/`. Hidden files are left alone.
///
/// # Errors
/// When one cannot be read, leads out of the folder, or is none that the program reads.
pub fn practice(folder: &Path) -> Result<(SourceFile, Assets), ReadError> {
    let root = folder.canonicalize().map_err(told(folder))?;
    let profile = folder.join("profile.toml");
    within(&root, &profile)?;
    let mut texts = BTreeMap::new();
    for top in ["templates", "locales"] {
        gather(&root, &folder.join(top), top, &mut texts)?;
    }
    Ok((source(&profile)?, Assets::new(texts).with_fonts(fonts(&root, &folder.join("fonts"))?)))
}

fn gather(root: &Path, folder: &Path, name: &str, texts: &mut BTreeMap<String, String>) -> Result<(), ReadError> {
    for (path, file) in entries(root, folder)? {
        let name = format!("{name}/{file}");
        if path.is_dir() && name.matches('/').count() <= DEEPEST {
            gather(root, &path, &name, texts)?;
        } else if path.is_file() && ends_in(&path, &OWN) {
            texts.insert(name, source(&path)?.text);
        } else {
            return Err(ReadError::NotOurs(path));
        }
    }
    Ok(())
}

fn fonts(root: &Path, folder: &Path) -> Result<BTreeMap<String, Vec<u8>>, ReadError> {
    let fonts = entries(root, folder)?.into_iter().filter(|(path, _)| ends_in(path, &FONTS));
    fonts.map(|(path, file)| Ok((format!("fonts/{file}"), bytes(&path, FONT_LIMIT)?))).collect()
}

/// What lies in a folder that there may be, by name. Desktops leave hidden files behind: they are left out.
fn entries(root: &Path, folder: &Path) -> Result<Vec<(PathBuf, String)>, ReadError> {
    if !folder.exists() {
        return Ok(Vec::new());
    }
    within(root, folder)?;
    let mut entries = Vec::new();
    for entry in fs::read_dir(folder).map_err(told(folder))? {
        let path = entry.map_err(told(folder))?.path();
        let file = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        if !file.starts_with('.') {
            within(root, &path)?;
            entries.push((path, file));
        }
    }
    entries.sort();
    Ok(entries)
}

/// Refuses what leads out of the practice's folder: its files are hashed and confirmed, and a folder that is handed on
/// must not bring the files of another place along.
fn within(root: &Path, path: &Path) -> Result<(), ReadError> {
    let real = path.canonicalize().map_err(told(path))?;
    if real.starts_with(root) { Ok(()) } else { Err(ReadError::LeadsOut(path.to_owned())) }
}

fn ends_in(path: &Path, endings: &[&str]) -> bool {
    path.extension().and_then(|ending| ending.to_str()).is_some_and(|ending| endings.contains(&ending))
}

fn bytes(path: &Path, limit: u64) -> Result<Vec<u8>, ReadError> {
    fs::File::open(path).and_then(|file| limited(file, limit)).map_err(told(path))
}

fn limited(reader: impl Read, limit: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    reader.take(limit).read_to_end(&mut bytes)?;
    Ok(bytes)
}

fn text(name: &str, bytes: &[u8]) -> Result<SourceFile, ReadError> {
    let file = SourceFile { name: name.to_owned(), text: String::new() };
    let refused = |report| Refused(Remarks { report, written: Box::new(file.clone()), file });
    Ok(load::source(name, bytes).map_err(refused)?)
}

fn told(path: &Path) -> impl Fn(io::Error) -> ReadError {
    |source| ReadError::Io { path: path.to_owned(), source }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(files: &[(&str, &str)]) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        for (name, text) in files {
            let path = folder.path().join(name);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, text).unwrap();
        }
        folder
    }

    #[test]
    fn a_practice_is_its_profile_its_texts_and_its_fonts() {
        let files = [("profile.toml", "a = 1"), ("locales/en-US/statements/own.md", "Own."), ("fonts/own.ttf", "font")];
        let folder = folder(&[&files[..], &[("fonts/licence.txt", "read me"), ("templates/.hidden", "")]].concat());
        let (profile, assets) = practice(folder.path()).unwrap();
        assert_eq!(profile.text, "a = 1");
        assert_eq!(assets.own().collect::<Vec<_>>(), ["locales/en-US/statements/own.md"]);
        assert_eq!(assets.fonts().map(|(path, _)| path).collect::<Vec<_>>(), ["fonts/own.ttf"]);
    }

    #[test]
    fn a_file_that_nothing_reads_and_a_folder_too_deep_are_named() {
        for stray in ["templates/notes.txt", "locales/en-US/statements/deep/own.md"] {
            let folder = folder(&[("profile.toml", "a = 1"), (stray, "x")]);
            let error = practice(folder.path()).unwrap_err();
            assert!(matches!(error, ReadError::NotOurs(_)), "{stray}: {error}");
        }
    }

    #[cfg(unix)]
    #[test]
    fn a_secret_is_read_by_its_owner_alone() {
        use std::os::unix::fs::PermissionsExt;
        let folder = folder(&[("pass", "a")]);
        let path = folder.path().join("pass");
        for (mode, read) in [(0o600, true), (0o400, true), (0o640, false), (0o604, false), (0o610, false)] {
            fs::set_permissions(&path, fs::Permissions::from_mode(mode)).unwrap();
            assert_eq!(secret(&path).is_ok_and(|text| text.as_deref() == Some("a")), read, "{mode:o}");
        }
        assert!(matches!(secret(&folder.path().join("none")), Ok(None)));
    }

    #[test]
    fn a_folder_is_no_record() {
        let folder = folder(&[]);
        let error = source(folder.path()).unwrap_err();
        assert!(error.to_string().ends_with("is a folder: name the file in it"), "{error}");
    }

    #[cfg(unix)]
    #[test]
    fn a_link_may_stay_within_the_folder_and_not_lead_out_of_it() {
        use std::os::unix::fs::symlink;
        let other = folder(&[("profile.toml", "secret = 1"), ("templates/findings.toml", "secret = 1")]);
        for (link, to) in [
            ("profile.toml", "profile.toml"),
            ("templates/findings.toml", "profile.toml"),
            ("templates", "templates"),
            ("fonts", "templates"),
            ("fonts/own.ttf", "profile.toml"),
        ] {
            let folder = folder(&[("real.toml", "a = 1")]);
            let path = folder.path().join(link);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            symlink(other.path().join(to), &path).unwrap();
            let _ = symlink("real.toml", folder.path().join("profile.toml"));
            let error = practice(folder.path()).unwrap_err();
            assert!(error.to_string().contains(&path.display().to_string()), "{link}: {error}");
            assert!(matches!(error, ReadError::LeadsOut(_)), "{link}: {error}");
            fs::remove_file(path).unwrap();
            let _ = symlink("real.toml", folder.path().join("profile.toml"));
            assert_eq!(practice(folder.path()).unwrap().0.text, "a = 1", "a link within");
        }
    }
}
