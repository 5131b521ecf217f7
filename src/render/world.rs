//! A sealed Typst world: the print fonts, our layout files, the virtual `document.json` and `fonts.json`. No disk, no
//! network, no packages, no clock.

use std::sync::LazyLock;

use typst::diag::{FileError, FileResult, SourceDiagnostic};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Feature, Library, LibraryExt, World, WorldExt};
use typst_kit::files::{FileLoader, FileStore};
use typst_kit::fonts::FontStore;

use super::fonts::Fonts;
use crate::assets::Assets;

/// Folder of the layout files in the assets.
const PAGES: &str = "templates/pages/";

static LIBRARY: LazyLock<LazyHash<Library>> = LazyLock::new(|| {
    let features = [Feature::A11yExtras].into_iter().collect();
    LazyHash::new(Library::builder().with_features(features).build())
});

/// Only constant names are interned: an id lives as long as the process.
fn id(path: &str) -> FileId {
    let path = VirtualPath::new(path).expect("layout files have plain names");
    RootedPath::new(VirtualRoot::Project, path).intern()
}

struct Sealed<'a> {
    assets: &'a Assets,
    document: Bytes,
    families: Bytes,
}

impl FileLoader for Sealed<'_> {
    fn load(&self, id: FileId) -> FileResult<Bytes> {
        if !matches!(id.root(), VirtualRoot::Project) {
            return Err(FileError::AccessDenied);
        }
        match id.vpath().get_without_slash() {
            "document.json" => Ok(self.document.clone()),
            "fonts.json" => Ok(self.families.clone()),
            path => match self.assets.get(&format!("{PAGES}{path}")) {
                Some(text) => Ok(Bytes::from_string(text.into_owned())),
                None => Err(FileError::NotFound(path.into())),
            },
        }
    }
}

pub(super) struct PageWorld<'a> {
    files: FileStore<Sealed<'a>>,
    fonts: FontStore,
    files_are_built_in: bool,
}

impl<'a> PageWorld<'a> {
    pub(super) fn new(assets: &'a Assets, fonts: &Fonts, document: &serde_json::Value) -> Self {
        let bytes = |value: &serde_json::Value| Bytes::new(value.to_string().into_bytes());
        let (document, families) = (bytes(document), bytes(&serde_json::json!(fonts.families())));
        Self {
            files: FileStore::new(Sealed { assets, document, families }),
            fonts: fonts.store(),
            files_are_built_in: !assets.own().any(|path| path.starts_with(PAGES)),
        }
    }

    /// Messages of the layout with their place. A layout of the practice's own might put text of the case into its
    /// messages, so of those only the place is told.
    pub(super) fn describe(&self, diagnostics: &[SourceDiagnostic]) -> String {
        let lines = diagnostics.iter().map(|diagnostic| {
            let place = self.place(diagnostic).unwrap_or_else(|| "layout".into());
            match self.files_are_built_in {
                true => format!("{place}: {}", diagnostic.message),
                false => format!("{place}: the layout stops here"),
            }
        });
        lines.collect::<Vec<_>>().join("\n")
    }

    fn place(&self, diagnostic: &SourceDiagnostic) -> Option<String> {
        let file = diagnostic.span.id()?;
        let range = self.range(diagnostic.span)?;
        let source = self.source(file).ok()?;
        let line = source.lines().byte_to_line(range.start)? + 1;
        Some(format!("{PAGES}{}:{line}", file.vpath().get_without_slash()))
    }
}

impl World for PageWorld<'_> {
    fn library(&self) -> &LazyHash<Library> {
        &LIBRARY
    }

    fn book(&self) -> &LazyHash<FontBook> {
        self.fonts.book()
    }

    fn main(&self) -> FileId {
        id("page.typ")
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        self.files.source(id)
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        self.files.file(id)
    }

    fn font(&self, index: usize) -> Option<Font> {
        self.fonts.font(index)
    }

    /// The layout may not ask for the date.
    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None
    }
}
