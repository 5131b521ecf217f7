//! What a desk remembers of its machine from one start to the next, whichever register it works with: its port, and which
//! browsers were let in.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::error::DeskError;
use crate::files::read;
use crate::files::write::Locked;

/// The memory of a desk, in a file of its machine.
#[derive(Debug, Default)]
pub struct Memory {
    file: Option<PathBuf>,
    kept: Kept,
}

#[derive(Debug, Default, Serialize, Deserialize)]
#[serde(default)]
struct Kept {
    port: Option<u16>,
    /// Hashes of the cookies of those that were let in, the newest last.
    browsers: Vec<String>,
}

impl Memory {
    /// The memory in a file. One that is not there or cannot be read remembers nothing yet; the default never does.
    #[must_use]
    pub fn at(file: &Path) -> Self {
        let kept = read::small(file).ok().and_then(|bytes| serde_json::from_slice(&bytes).ok());
        Self { file: Some(file.to_owned()), kept: kept.unwrap_or_default() }
    }

    pub(super) fn port(&self) -> Option<u16> {
        self.kept.port
    }

    pub(super) fn browsers(&self) -> &[String] {
        &self.kept.browsers
    }

    pub(super) fn keep_port(&mut self, port: u16) -> Result<(), DeskError> {
        self.kept.port = Some(port);
        self.write()
    }

    /// Remembers a browser; at most so many, the oldest falls out.
    pub(super) fn keep_browser(&mut self, hash: String, most: usize) -> Result<(), DeskError> {
        self.kept.browsers.push(hash);
        let surplus = self.kept.browsers.len().saturating_sub(most);
        self.kept.browsers.drain(..surplus);
        self.write()
    }

    fn write(&self) -> Result<(), DeskError> {
        let Some((folder, name)) =
            self.file.as_deref().and_then(|file| Some((file.parent()?, file.file_name()?.to_str()?)))
        else {
            return Ok(());
        };
        let text = serde_json::to_string(&self.kept).map_err(|error| DeskError::Text(error.to_string()))?;
        Ok(Locked::wait(folder)?.swap_in(&[(name, text.as_bytes())])?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::create;

    #[test]
    fn what_is_kept_is_there_again_and_the_oldest_browser_falls_out() {
        let folder = create::temporary().unwrap();
        let file = folder.path().join("of this machine").join("desk.json");
        let mut memory = Memory::at(&file);
        assert_eq!((memory.port(), memory.browsers().len()), (None, 0));
        memory.keep_port(7).unwrap();
        ["a", "b", "c"].iter().for_each(|hash| memory.keep_browser((*hash).into(), 2).unwrap());
        let again = Memory::at(&file);
        assert_eq!((again.port(), again.browsers()), (Some(7), &["b".to_owned(), "c".to_owned()][..]));
        let mut never = Memory::default();
        never.keep_port(7).unwrap();
        assert_eq!(never.port(), Some(7), "as long as it runs");
    }
}
