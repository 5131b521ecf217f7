//! Files and streams. A file is replaced whole or not at all.

use std::collections::BTreeMap;
use std::fs;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use super::Status;
use super::report::Failure;
use crate::diag::SourceFile;
use crate::record::load;

/// Longest file read; a record is a few kilobytes. What is longer is refused by the loader.
const READ_LIMIT: u64 = 1 << 20;

/// Reads a record or profile; `-` is standard input.
pub(super) fn source(path: &Path) -> Result<SourceFile, Failure> {
    let (name, bytes) = match path.as_os_str() == "-" {
        true => ("standard input".to_owned(), limited(std::io::stdin().lock())?),
        false => (path.display().to_string(), limited(open(path)?)?),
    };
    load::source(&name, &bytes)
        .map_err(|report| Failure::Refused(Box::new((report, SourceFile { name, text: String::new() }))))
}

fn open(path: &Path) -> Result<fs::File, Failure> {
    fs::File::open(path).map_err(|error| Failure::Told(format!("{}: {error}", path.display())))
}

fn limited(reader: impl Read) -> Result<Vec<u8>, Failure> {
    let mut bytes = Vec::new();
    reader.take(READ_LIMIT).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// The practice's own texts: every file under its templates/ and locales/, by path.
pub(super) fn practice_files(folder: &Path) -> Result<BTreeMap<String, String>, Failure> {
    let mut files = BTreeMap::new();
    for top in ["templates", "locales"] {
        gather(&folder.join(top), top, &mut files)?;
    }
    Ok(files)
}

/// Largest font file read, bytes: the largest of one script hold a few million.
const FONT_LIMIT: u64 = 32 << 20;

/// The practice's own print fonts: every .ttf and .otf file in its fonts/, by path.
pub(super) fn practice_fonts(folder: &Path) -> Result<BTreeMap<String, Vec<u8>>, Failure> {
    let folder = folder.join("fonts");
    let mut fonts = BTreeMap::new();
    if !folder.exists() {
        return Ok(fonts);
    }
    let told = |path: &Path, error: &dyn std::fmt::Display| Failure::Told(format!("{}: {error}", path.display()));
    for entry in fs::read_dir(&folder).map_err(|error| told(&folder, &error))? {
        let path = entry.map_err(|error| told(&folder, &error))?.path();
        let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
        if ["ttf", "otf"].contains(&ending) {
            let mut data = Vec::new();
            open(&path)?.take(FONT_LIMIT).read_to_end(&mut data).map_err(|error| told(&path, &error))?;
            fonts.insert(format!("fonts/{}", path.file_name().unwrap_or_default().to_string_lossy()), data);
        }
    }
    Ok(fonts)
}

/// Endings of files a practice may have of its own.
const OWN: [&str; 3] = ["toml", "md", "typ"];

fn gather(folder: &Path, prefix: &str, files: &mut BTreeMap<String, String>) -> Result<(), Failure> {
    let told = |path: &Path, error: &dyn std::fmt::Display| Failure::Told(format!("{}: {error}", path.display()));
    if !folder.exists() {
        return Ok(());
    }
    for entry in fs::read_dir(folder).map_err(|error| told(folder, &error))? {
        let path = entry.map_err(|error| told(folder, &error))?.path();
        let file = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let name = format!("{prefix}/{file}");
        let what = fs::metadata(&path).map_err(|error| told(&path, &error))?;
        let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
        if file.starts_with('.') {
            continue; // desktops leave hidden files behind
        } else if what.is_dir() && prefix.matches('/').count() < 3 {
            gather(&path, &name, files)?;
        } else if what.is_file() && OWN.contains(&ending) {
            let read = source(&path)?;
            files.insert(name, read.text);
        } else {
            return Err(told(&path, &"only .toml, .md and .typ files belong here; move it away"));
        }
    }
    Ok(())
}

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
