//! A sealed Typst world: the print fonts, our layout files, the virtual `document.json` and `fonts.json`. No disk, no
//! network, no packages, no clock.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use typst::diag::{FileError, FileResult, SourceDiagnostic};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Feature, Library, LibraryExt, World, WorldExt};
use typst_kit::files::{FileLoader, FileStore};
use typst_kit::fonts::FontStore;

use super::error::Stop;
use super::fonts::{self, Fonts};
use crate::assets::Assets;

/// Folder of the layout files in the assets.
pub(super) const PAGES: &str = "templates/pages/";

static LIBRARY: LazyLock<LazyHash<Library>> = LazyLock::new(|| {
    let features = [Feature::A11yExtras].into_iter().collect();
    LazyHash::new(Library::builder().with_features(features).build())
});

static MAIN: LazyLock<FileId> = LazyLock::new(|| id("page.typ"));
static DOCUMENT: LazyLock<FileId> = LazyLock::new(|| id("document.json"));

/// Only constant names are interned: an id lives as long as the process.
fn id(path: &str) -> FileId {
    let path = VirtualPath::new(path).expect("layout files have plain names");
    RootedPath::new(VirtualRoot::Project, path).intern()
}

/// The layout files of a practice and the names of its fonts, by name.
struct Layout(BTreeMap<String, Bytes>);

impl FileLoader for Layout {
    fn load(&self, id: FileId) -> FileResult<Bytes> {
        if !matches!(id.root(), VirtualRoot::Project) {
            return Err(FileError::AccessDenied);
        }
        let path = id.vpath().get_without_slash();
        self.0.get(path).cloned().ok_or_else(|| FileError::NotFound(path.into()))
    }
}

/// What all pages of a practice are made from. Each file is read and parsed once, at its first use.
pub(super) struct Shared {
    files: FileStore<Layout>,
    fonts: FontStore,
    files_are_built_in: bool,
}

impl Shared {
    pub(super) fn new(assets: &Assets, fonts: &Fonts) -> Self {
        let layout = assets.under(PAGES).into_iter().filter_map(|path| {
            let text = assets.get(&path)?.into_owned();
            Some((path.strip_prefix(PAGES)?.to_owned(), Bytes::from_string(text)))
        });
        let families = serde_json::json!(fonts.families()).to_string();
        let families = ("fonts.json".to_owned(), Bytes::from_string(families));
        Self {
            files: FileStore::new(Layout(layout.chain([families]).collect())),
            fonts: store(assets, fonts),
            files_are_built_in: !assets.own().any(|path| path.starts_with(PAGES)),
        }
    }
}

/// The faces under the families that the print fonts know them by.
fn store(assets: &Assets, fonts: &Fonts) -> FontStore {
    let own: BTreeMap<&str, Bytes> = assets.fonts().map(|(path, data)| (path, Bytes::new(data.clone()))).collect();
    let mut store = FontStore::new();
    store.extend(fonts.faces().iter().filter_map(|face| {
        let data = match &face.source {
            fonts::Source::BuiltIn(data) => Bytes::new(*data),
            fonts::Source::Own(path) => own.get(path.as_str())?.clone(),
        };
        let font = Font::new(data, face.index)?;
        let mut info = font.info().clone();
        info.family.clone_from(&face.family);
        Some((font, info))
    }));
    store
}

/// One page set before its layout.
pub(super) struct PageWorld<'a> {
    shared: &'a Shared,
    document: Bytes,
}

impl<'a> PageWorld<'a> {
    pub(super) fn new(shared: &'a Shared, document: &serde_json::Value) -> Self {
        Self { shared, document: Bytes::from_string(document.to_string()) }
    }

    /// Where the layout stops. A layout of the practice's own might put text of the case into its messages, so of those
    /// only the place is told.
    pub(super) fn stops(&self, diagnostics: &[SourceDiagnostic]) -> Vec<Stop> {
        let stop = |diagnostic: &SourceDiagnostic| Stop {
            place: self.place(diagnostic),
            message: self.shared.files_are_built_in.then(|| diagnostic.message.to_string()),
        };
        diagnostics.iter().map(stop).collect()
    }

    fn place(&self, diagnostic: &SourceDiagnostic) -> Option<(String, usize)> {
        let file = diagnostic.span.id()?;
        let range = self.range(diagnostic.span)?;
        let source = self.source(file).ok()?;
        let line = source.lines().byte_to_line(range.start)? + 1;
        Some((format!("{PAGES}{}", file.vpath().get_without_slash()), line))
    }
}

impl World for PageWorld<'_> {
    fn library(&self) -> &LazyHash<Library> {
        &LIBRARY
    }

    fn book(&self) -> &LazyHash<FontBook> {
        self.shared.fonts.book()
    }

    fn main(&self) -> FileId {
        *MAIN
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        self.shared.files.source(id)
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        match id == *DOCUMENT {
            true => Ok(self.document.clone()),
            false => self.shared.files.file(id),
        }
    }

    fn font(&self, index: usize) -> Option<Font> {
        self.shared.fonts.font(index)
    }

    /// The layout may not ask for the date.
    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None
    }
}
