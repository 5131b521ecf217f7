//! Copies of files that may be large, each known by its hash.

use std::fs::File;
use std::io::{self, Read, Write};
use std::path::Path;

use sha2::{Digest, Sha256};

use super::create::CreateError;
use crate::record::hash::hexadecimal;

/// What was read or written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Digested {
    /// Its length, bytes.
    pub bytes: u64,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
}

/// Reads a file for its hash.
///
/// # Errors
/// When it cannot be read.
pub fn digest(path: &Path) -> Result<Digested, CreateError> {
    let mut file = File::open(path).map_err(told(path))?;
    pass_on(&mut file, &mut io::sink()).map_err(told(path))
}

/// Copies a file to a place where nothing stands yet, readable by its owner alone: whole and on the disk, or not at all.
///
/// # Errors
/// When something stands there, or the machine refuses.
pub fn copy(from: &Path, to: &Path) -> Result<Digested, CreateError> {
    through(from, to, |read, write| pass_on(read, write).map_err(told(to)))
}

/// Writes what is made of one file into another as [`copy`] does.
///
/// # Errors
/// As [`copy`], or what goes wrong in the making.
pub fn through<T, E: From<CreateError>>(
    from: &Path,
    to: &Path,
    make: impl FnOnce(&mut dyn Read, &mut dyn Write) -> Result<T, E>,
) -> Result<T, E> {
    let mut source = File::open(from).map_err(told(from))?;
    let folder = to.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(told(to))?;
    let made = make(&mut source, &mut file)?;
    file.as_file().sync_all().map_err(told(to))?;
    file.persist_noclobber(to).map_err(|error| match error.error.kind() {
        io::ErrorKind::AlreadyExists => CreateError::Exists(to.to_owned()),
        _ => told(to)(error.error),
    })?;
    Ok(made)
}

fn pass_on(from: &mut dyn Read, to: &mut dyn Write) -> io::Result<Digested> {
    let (mut hash, mut bytes) = (Sha256::new(), 0);
    let mut part = vec![0; 1 << 16];
    loop {
        let count = from.read(&mut part)?;
        if count == 0 {
            break;
        }
        to.write_all(&part[..count])?;
        hash.update(&part[..count]);
        bytes += count as u64;
    }
    let sha256 = hexadecimal(&hash.finalize());
    Ok(Digested { bytes, sha256 })
}

fn told(path: &Path) -> impl Fn(io::Error) -> CreateError + '_ {
    |source| CreateError::Io { path: path.to_owned(), source }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_copy_has_the_hash_of_what_was_copied_and_replaces_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let (from, to) = (folder.path().join("from"), folder.path().join("to"));
        std::fs::write(&from, vec![7; (1 << 16) + 1]).unwrap();
        let copied = copy(&from, &to).unwrap();
        assert_eq!((copied.bytes, &copied), ((1 << 16) + 1, &digest(&to).unwrap()));
        assert!(matches!(copy(&from, &to), Err(CreateError::Exists(_))));
        assert!(copy(&folder.path().join("none"), &folder.path().join("other")).is_err());
        assert!(!folder.path().join("other").exists());
    }
}
