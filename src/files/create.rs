//! A file that is not there yet.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Why a file was not made. Each names it.
#[derive(Debug, thiserror::Error)]
pub enum CreateError {
    /// Something stands there already.
    #[error("{} is there already: choose another name, or move it away", .0.display())]
    Exists(PathBuf),
    /// The machine refused.
    #[error("{}: {source}", path.display())]
    Io {
        /// Which file.
        path: PathBuf,
        /// What the machine says.
        source: io::Error,
    },
}

/// Whether a file may be written, as far as the machine tells without writing.
#[must_use]
pub fn may_write(path: &Path) -> bool {
    use io::ErrorKind::{PermissionDenied, ReadOnlyFilesystem};
    let opened = std::fs::OpenOptions::new().write(true).open(path);
    !opened.is_err_and(|error| matches!(error.kind(), PermissionDenied | ReadOnlyFilesystem))
}

/// Makes a file, whole or not at all, readable by its owner alone.
///
/// # Errors
/// When something stands there already, which is left as it is, or the machine refuses.
pub fn create(path: &Path, bytes: &[u8]) -> Result<(), CreateError> {
    let told = |source| CreateError::Io { path: path.to_owned(), source };
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(told)?;
    file.write_all(bytes).map_err(told)?;
    file.persist_noclobber(path).map_err(|error| match error.error.kind() {
        io::ErrorKind::AlreadyExists => CreateError::Exists(path.to_owned()),
        _ => told(error.error),
    })?;
    Ok(())
}

/// Takes a file away that was made and does not count.
pub fn take_back(path: &Path) {
    let _ = std::fs::remove_file(path); // if it stays, whoever makes it again is told that it is there
}

/// A folder for a while, its owner's alone; it goes when this is dropped.
pub type Temporary = tempfile::TempDir;

/// Makes such a folder.
///
/// # Errors
/// When the machine refuses.
pub fn temporary() -> Result<Temporary, CreateError> {
    let path = std::env::temp_dir();
    tempfile::Builder::new().prefix("vitreoleaf").tempdir_in(&path).map_err(|source| CreateError::Io { path, source })
}
