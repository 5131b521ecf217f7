//! What is written: files and streams. A file is replaced whole or not at all.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use super::Status;
use super::report::Failure;

/// Writes files into a folder, each whole or not at all: first all beside their place, then all into it.
pub(super) fn write_all(folder: &Path, files: &[(String, &[u8])]) -> Result<(), Failure> {
    let told = |path: &Path, error: std::io::Error| Failure::Told(format!("{}: {error}", path.display()));
    let mut ready: Vec<(tempfile::NamedTempFile, PathBuf)> = Vec::new();
    for (name, bytes) in files {
        let path = folder.join(name);
        let parent = path.parent().unwrap_or(folder);
        if path.is_dir() {
            return Err(Failure::Told(format!("{} is a folder: move it away", path.display())));
        }
        fs::create_dir_all(parent).map_err(|error| told(parent, error))?;
        let mut file = tempfile::NamedTempFile::new_in(parent).map_err(|error| told(parent, error))?;
        file.write_all(bytes).map_err(|error| told(&path, error))?;
        file.as_file().sync_all().map_err(|error| told(&path, error))?;
        ready.push((file, path));
    }
    for (file, path) in ready {
        file.persist(&path).map_err(|error| told(&path, error.error))?;
    }
    Ok(())
}

/// Writes to standard output.
pub(super) fn stdout(bytes: &[u8]) -> Result<Status, Failure> {
    let mut out = std::io::stdout().lock();
    out.write_all(bytes)?;
    out.flush()?;
    Ok(Status::Done)
}
