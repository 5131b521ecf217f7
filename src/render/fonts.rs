//! The print fonts: two faces of one crate, then those of the practice's own `fonts/` folder for other scripts. No system
//! fonts: the same page has the same bytes everywhere.
//!
//! What a font can show is asked of the font itself, without the typesetter.

use std::sync::{Arc, LazyLock};

use ttf_parser::{Face as Parsed, name_id};

use crate::assets::Assets;

/// The family every page is set in first, as `theme.typ` names it.
const FAMILY: &str = "Noto Sans";

static BUILT_IN: LazyLock<Vec<Face>> = LazyLock::new(|| {
    let files = [notosans::REGULAR_TTF, notosans::BOLD_TTF];
    files.into_iter().flat_map(|data| faces(&Source::BuiltIn(data), data)).collect()
});

/// Why a font file of the practice's own is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum FontError {
    /// No font can be read from the file.
    #[error("{0} is no font: put .ttf or .otf files there")]
    NoFont(String),
    /// It would stand in for the built-in family.
    #[error("{0}: pages are set in {FAMILY} already; take the file away")]
    BuiltIn(String),
}

/// The file a face is read from.
#[derive(Debug, Clone)]
pub enum Source {
    /// One that comes with the program.
    BuiltIn(&'static [u8]),
    /// One of the practice's own, by its path.
    Own(String),
}

/// One face: a family in one weight and slant.
#[derive(Debug, Clone)]
pub struct Face {
    /// Where it is read from.
    pub source: Source,
    /// Its place in the file, which may hold several.
    pub index: u32,
    /// The name of its family.
    pub family: String,
    /// Code points it has a shape for, in order.
    shapes: Arc<[u32]>,
}

impl Face {
    fn has(&self, character: char) -> bool {
        self.shapes.binary_search(&u32::from(character)).is_ok()
    }
}

/// The fonts of one practice.
#[derive(Debug, Clone)]
pub struct Fonts {
    faces: Vec<Face>,
}

impl Fonts {
    /// The built-in faces and the practice's own.
    ///
    /// # Errors
    /// A file that is no font, or one that would stand in for the built-in family.
    pub fn of(assets: &Assets) -> Result<Self, FontError> {
        let mut all = BUILT_IN.clone();
        for (path, data) in assets.fonts() {
            let own = faces(&Source::Own(path.to_owned()), data);
            if own.is_empty() {
                return Err(FontError::NoFont(path.to_owned()));
            }
            if own.iter().any(|face| face.family == FAMILY) {
                return Err(FontError::BuiltIn(path.to_owned()));
            }
            all.extend(own);
        }
        Ok(Self { faces: all })
    }

    /// Families besides the built-in one, each once, in the order of their files.
    #[must_use]
    pub fn families(&self) -> Vec<&str> {
        let mut families: Vec<&str> = Vec::new();
        for face in self.faces.iter().filter(|face| face.family != FAMILY) {
            if !families.contains(&face.family.as_str()) {
                families.push(&face.family);
            }
        }
        families
    }

    /// Whether a page can show this character: some family has it in all of its faces, or it has no shape at all.
    ///
    /// ```
    /// use vitreoleaf::{assets::Assets, render::fonts::Fonts};
    ///
    /// let fonts = Fonts::of(&Assets::default())?;
    /// assert!(fonts.printable('ß') && !fonts.printable('明'));
    /// # Ok::<(), vitreoleaf::render::fonts::FontError>(())
    /// ```
    #[must_use]
    pub fn printable(&self, character: char) -> bool {
        let has = |name: &str| {
            let mut faces = self.faces.iter().filter(|face| face.family == name);
            faces.all(|face| face.has(character))
        };
        isolates(character) || has(FAMILY) || self.families().into_iter().any(has)
    }

    /// The first character of a text that no family has.
    #[must_use]
    pub fn missing(&self, text: &str) -> Option<char> {
        text.chars().find(|character| !self.printable(*character))
    }

    /// All faces, the built-in ones first.
    #[must_use]
    pub fn faces(&self) -> &[Face] {
        &self.faces
    }
}

/// The faces of one file; none when it is no font or its family has no name.
fn faces(source: &Source, data: &[u8]) -> Vec<Face> {
    let count = ttf_parser::fonts_in_collection(data).unwrap_or(1);
    let parsed = (0..count).filter_map(|index| Some((index, Parsed::parse(data, index).ok()?)));
    let face = |(index, parsed): (u32, Parsed)| {
        let family = name(&parsed, name_id::TYPOGRAPHIC_FAMILY).or_else(|| name(&parsed, name_id::FAMILY))?;
        Some(Face { source: source.clone(), index, family, shapes: shapes(&parsed).into() })
    };
    parsed.filter_map(face).collect()
}

fn name(face: &Parsed, id: u16) -> Option<String> {
    face.names().into_iter().filter(|name| name.name_id == id).find_map(|name| name.to_string())
}

/// Code points of the face that lead to a glyph, in order.
fn shapes(face: &Parsed) -> Vec<u32> {
    let mut shapes = Vec::new();
    let tables = face.tables().cmap.into_iter().flat_map(|cmap| cmap.subtables);
    for table in tables.filter(|table| table.is_unicode()) {
        table.codepoints(|point| shapes.extend(table.glyph_index(point).map(|_| point)));
    }
    shapes.sort_unstable();
    shapes.dedup();
    shapes
}

/// What sets a run of the other direction apart, and takes no room.
fn isolates(character: char) -> bool {
    matches!(character, '\u{2066}'..='\u{2069}' | '\u{200E}' | '\u{200F}')
}
