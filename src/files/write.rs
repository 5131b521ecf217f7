//! Writing: the files of a packet are swapped into a folder together, or the folder stays as it was.
//!
//! They are written into a folder of our own beside their place, flushed and closed, one open at a time. Renaming that
//! folder is the moment from which they count; then each takes its place. A process that is killed leaves one of the two
//! folders behind. Whoever locks the folder next throws away what was not yet whole, and puts into place what was. One
//! process at a time holds the lock, so nothing that is still being written is ever swept.

use std::fs::{self, DirBuilder, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use same_file::Handle;

/// Held while files are swapped in.
const LOCK: &str = ".vitreoleaf-lock";

/// Files being written. They count for nothing yet.
const STAGED: &str = ".vitreoleaf-staged";

/// Files that are whole and take their places.
const WHOLE: &str = ".vitreoleaf-whole";

/// Within the folder of ours: what the new files replace, kept until all have taken their places.
const EARLIER: &str = ".earlier";

/// Why files were not written. Each names the file or folder.
#[derive(Debug, thiserror::Error)]
pub enum WriteError {
    /// The machine refused.
    #[error("{}: {source}", path.display())]
    Io {
        /// Which file or folder.
        path: PathBuf,
        /// What the machine says.
        source: io::Error,
    },
    /// A folder where a file is to stand.
    #[error("{} is a folder: move it away", .0.display())]
    Folder(PathBuf),
}

/// A folder that this process alone writes into while it holds this.
#[derive(Debug)]
pub struct Locked {
    folder: PathBuf,
    // Closing it gives the lock up.
    _lock: File,
}

impl Locked {
    /// Waits for the lock of a folder, which is made if it is missing, and finishes what a killed process left there.
    ///
    /// # Errors
    /// When the folder cannot be made, locked or tidied.
    pub fn wait(folder: &Path) -> Result<Self, WriteError> {
        // Joined to an empty path, a name would stand without a folder.
        let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
        private_folder().recursive(true).create(folder).map_err(told(folder))?;
        let path = folder.join(LOCK);
        let locked = Self { folder: folder.to_owned(), _lock: lock(&path).map_err(told(&path))? };
        locked.remove(STAGED)?;
        locked.finish()?;
        Ok(locked)
    }

    /// What stands in the folder under a name; nothing if there is no such file.
    ///
    /// # Errors
    /// When it cannot be read.
    pub fn read(&self, name: &str) -> Result<Option<Vec<u8>>, WriteError> {
        let path = self.folder.join(name);
        match fs::read(&path) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(told(&path)(error)),
        }
    }

    /// Whether a file stands in the folder under a name.
    #[must_use]
    pub fn has(&self, name: &str) -> bool {
        self.folder.join(name).exists()
    }

    /// Puts files into the folder, all or none; those of the same names are replaced.
    ///
    /// # Errors
    /// When one cannot be written or cannot take its place, as where another program holds the earlier one open: then the
    /// earlier ones stand as they stood.
    pub fn swap_in(&self, files: &[(&str, &[u8])]) -> Result<(), WriteError> {
        let staged = self.folder.join(STAGED);
        self.stage(&staged, files).inspect_err(|_| {
            let _ = self.remove(STAGED); // if it stays, the next process sweeps it
        })?;
        let whole = self.folder.join(WHOLE);
        fs::rename(&staged, &whole).map_err(told(&whole))?;
        flush(&self.folder)?;
        let names: Vec<&str> = files.iter().map(|(name, _)| *name).collect();
        self.place(&names).inspect_err(|_| self.put_back(&names))?;
        flush(&self.folder)?;
        self.remove(WHOLE)
    }

    /// Writes files beside their place, with what they are to replace.
    fn stage(&self, staged: &Path, files: &[(&str, &[u8])]) -> Result<(), WriteError> {
        let earlier = staged.join(EARLIER);
        private_folder().recursive(true).create(&earlier).map_err(told(&earlier))?;
        for (name, bytes) in files {
            let place = self.folder.join(name);
            if place.is_dir() {
                return Err(WriteError::Folder(place));
            }
            if place.exists() {
                keep(&place, &earlier.join(name)).map_err(told(&place))?;
            }
            let path = staged.join(name);
            write(&path, bytes).map_err(told(&path))?;
        }
        flush(staged)
    }

    /// Moves whole files to their places.
    fn place(&self, names: &[&str]) -> Result<(), WriteError> {
        names.iter().try_for_each(|name| {
            let place = self.folder.join(name);
            fs::rename(self.folder.join(WHOLE).join(name), &place).map_err(told(&place))
        })
    }

    /// Undoes [`Self::place`] as far as it came. Should even that fail, the folder of whole files stays for the next
    /// process to finish.
    fn put_back(&self, names: &[&str]) {
        let (whole, staged) = (self.folder.join(WHOLE), self.folder.join(STAGED));
        let placed = names.iter().filter(|name| !whole.join(name).exists());
        let undone = placed.map(|name| {
            let (place, earlier) = (self.folder.join(name), whole.join(EARLIER).join(name));
            if earlier.exists() { fs::rename(earlier, place) } else { fs::remove_file(place) }
        });
        if undone.collect::<io::Result<()>>().and_then(|()| fs::rename(whole, staged)).is_ok() {
            let _ = self.remove(STAGED);
        }
    }

    /// Puts whole files of a process that was killed into place.
    fn finish(&self) -> Result<(), WriteError> {
        let whole = self.folder.join(WHOLE);
        if !whole.exists() {
            return Ok(());
        }
        for entry in fs::read_dir(&whole).map_err(told(&whole))? {
            let name = entry.map_err(told(&whole))?.file_name();
            if name.as_os_str() != EARLIER {
                let place = self.folder.join(&name);
                fs::rename(whole.join(&name), &place).map_err(told(&place))?;
            }
        }
        flush(&self.folder)?;
        self.remove(WHOLE)
    }

    /// Removes a folder of ours if there is one.
    fn remove(&self, name: &str) -> Result<(), WriteError> {
        let path = self.folder.join(name);
        match fs::remove_dir_all(&path) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => Err(told(&path)(error)),
            _ => Ok(()),
        }
    }
}

impl Drop for Locked {
    /// Takes the lock's file away while it is held; `lock` sees to those who waited for it.
    fn drop(&mut self) {
        let _ = fs::remove_file(self.folder.join(LOCK));
    }
}

/// Opens and locks a file. Whoever held it before has taken it away: then what was locked is no longer the file of that
/// name, and another process may hold the one that is.
fn lock(path: &Path) -> io::Result<File> {
    loop {
        let file = private_file().create(true).truncate(false).open(path)?;
        file.lock()?;
        if is_named(&file, path)? {
            return Ok(file);
        }
    }
}

/// Whether an open file is the one that stands under a name.
fn is_named(file: &File, path: &Path) -> io::Result<bool> {
    match Handle::from_path(path) {
        Ok(named) => Ok(named == Handle::from_file(file.try_clone()?)?),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(false),
        Err(error) => Err(error),
    }
}

/// Keeps a file under a second name: as a link to it, or as a copy where the disk has no links.
fn keep(file: &Path, kept: &Path) -> io::Result<()> {
    fs::hard_link(file, kept).or_else(|_| fs::copy(file, kept).map(|_| ()))
}

/// Writes a file that did not exist, down to the disk.
fn write(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut file = private_file().create_new(true).open(path)?;
    file.write_all(bytes)?;
    file.sync_all()
}

/// Writes the names in a folder down to the disk.
#[cfg(unix)]
fn flush(folder: &Path) -> Result<(), WriteError> {
    File::open(folder).and_then(|folder| folder.sync_all()).map_err(told(folder))
}

/// Windows writes the names in a folder down by itself, and opens no folder as a file.
#[cfg(not(unix))]
fn flush(_: &Path) -> Result<(), WriteError> {
    Ok(())
}

/// A file that its owner alone may read; on Windows it has the rights of its folder.
fn private_file() -> OpenOptions {
    let mut options = OpenOptions::new();
    options.write(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options
}

/// A folder that its owner alone may open; on Windows it has the rights of the folder around it.
fn private_folder() -> DirBuilder {
    #[cfg_attr(not(unix), expect(unused_mut, reason = "only Unix sets a mode"))]
    let mut builder = DirBuilder::new();
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder
}

fn told(path: &Path) -> impl Fn(io::Error) -> WriteError {
    |source| WriteError::Io { path: path.to_owned(), source }
}

#[cfg(test)]
mod tests {
    use super::*;

    const OLD: [(&str, &[u8]); 2] = [("a.pdf", b"old a"), ("b.pdf", b"old b")];
    const NEW: [(&str, &[u8]); 3] = [("a.pdf", b"new a"), ("b.pdf", b"new b"), ("c.pdf", b"new c")];

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name());
        let mut names: Vec<String> = entries.map(|name| name.into_string().unwrap()).collect();
        names.sort();
        names
    }

    /// A folder in which the old files stand.
    fn with_old() -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        Locked::wait(folder.path()).unwrap().swap_in(&OLD).unwrap();
        folder
    }

    fn stands(folder: &Path, files: &[(&str, &[u8])]) {
        assert_eq!(names(folder), files.iter().map(|(name, _)| *name).collect::<Vec<_>>());
        for (name, bytes) in files {
            assert_eq!(fs::read(folder.join(name)).unwrap(), *bytes, "{name}");
        }
    }

    #[test]
    fn files_replace_those_of_their_names_and_nothing_is_left_over() {
        let folder = with_old();
        stands(folder.path(), &OLD);
        Locked::wait(folder.path()).unwrap().swap_in(&NEW).unwrap();
        stands(folder.path(), &NEW);
    }

    #[test]
    fn what_was_not_yet_whole_is_swept_and_what_was_whole_takes_its_place() {
        let folder = with_old();
        let locked = Locked::wait(folder.path()).unwrap();
        locked.stage(&folder.path().join(STAGED), &NEW).unwrap();
        drop(locked); // killed before the files count
        drop(Locked::wait(folder.path()).unwrap());
        stands(folder.path(), &OLD);
        let locked = Locked::wait(folder.path()).unwrap();
        locked.stage(&folder.path().join(WHOLE), &NEW).unwrap();
        locked.place(&["a.pdf"]).unwrap();
        drop(locked); // killed after the first took its place
        drop(Locked::wait(folder.path()).unwrap());
        stands(folder.path(), &NEW);
    }

    /// One file that cannot take its place, and the others go back: here a folder appears where it is to stand.
    #[test]
    fn files_that_cannot_take_their_places_leave_the_earlier_ones() {
        let folder = with_old();
        let locked = Locked::wait(folder.path()).unwrap();
        locked.stage(&folder.path().join(WHOLE), &NEW).unwrap();
        fs::create_dir_all(folder.path().join("c.pdf/full")).unwrap();
        let names = NEW.map(|(name, _)| name);
        locked.place(&names).unwrap_err();
        locked.put_back(&names);
        drop(locked);
        fs::remove_dir_all(folder.path().join("c.pdf")).unwrap();
        stands(folder.path(), &OLD);
    }

    #[test]
    fn a_folder_in_the_way_is_named_and_nothing_is_written() {
        let folder = with_old();
        fs::create_dir(folder.path().join("c.pdf")).unwrap();
        let error = Locked::wait(folder.path()).unwrap().swap_in(&NEW).unwrap_err();
        assert!(matches!(&error, WriteError::Folder(path) if path.ends_with("c.pdf")), "{error}");
        fs::remove_dir(folder.path().join("c.pdf")).unwrap();
        stands(folder.path(), &OLD);
    }

    /// Many at once: each finds the folder as another left it, whole.
    #[test]
    fn one_at_a_time_holds_the_lock() {
        let folder = tempfile::tempdir().unwrap();
        std::thread::scope(|scope| {
            for number in 0..8_u8 {
                let folder = folder.path();
                scope.spawn(move || {
                    for _ in 0..10 {
                        let locked = Locked::wait(folder).unwrap();
                        let (a, b) = (locked.read("a").unwrap(), locked.read("b").unwrap());
                        assert_eq!(a, b);
                        locked.swap_in(&[("a", &[number]), ("b", &[number])]).unwrap();
                    }
                });
            }
        });
        assert_eq!(names(folder.path()), ["a", "b"]);
    }

    #[cfg(unix)]
    #[test]
    fn folders_and_files_are_their_owners_alone() {
        use std::os::unix::fs::PermissionsExt;
        let top = tempfile::tempdir().unwrap();
        let folder = top.path().join("pages/today");
        Locked::wait(&folder).unwrap().swap_in(&NEW).unwrap();
        let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
        assert_eq!([mode(&folder), mode(folder.parent().unwrap())], [0o700; 2]);
        assert_eq!(mode(&folder.join("a.pdf")), 0o600);
    }
}
