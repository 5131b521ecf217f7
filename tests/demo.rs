//! What `vitreoleaf demo` makes, made once for all tests.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::Command;
use std::sync::LazyLock;

/// Every file the demo writes, by path.
pub(crate) static FILES: LazyLock<BTreeMap<String, Vec<u8>>> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    let demo = Command::new(env!("CARGO_BIN_EXE_vitreoleaf")).arg("demo").arg(folder.path()).output().unwrap();
    assert!(demo.status.success(), "{}", String::from_utf8_lossy(&demo.stderr));
    files_under(folder.path())
});

/// Every file under a folder, by its path there, with `/` on every system.
pub(crate) fn files_under(top: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut files = BTreeMap::new();
    let mut folders = vec![top.to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let parts = path.strip_prefix(top).unwrap().iter().map(|part| part.to_string_lossy());
                files.insert(parts.collect::<Vec<_>>().join("/"), fs::read(&path).unwrap());
            }
        }
    }
    files
}
