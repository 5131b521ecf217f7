//! The print fonts: two faces of one crate, then those of the practice's own `fonts/` folder for other scripts. No system
//! fonts: the same page has the same bytes everywhere.

use std::sync::LazyLock;

use typst::foundations::Bytes;
use typst::text::Font;
use typst_kit::fonts::FontStore;

use crate::assets::Assets;

/// The family every page is set in first, as `theme.typ` names it.
const FAMILY: &str = "Noto Sans";

static FACES: LazyLock<Vec<Font>> = LazyLock::new(|| {
    [notosans::REGULAR_TTF, notosans::BOLD_TTF].into_iter().flat_map(|data| Font::iter(Bytes::new(data))).collect()
});

/// The fonts of one practice.
#[derive(Debug, Clone)]
pub struct Fonts {
    faces: Vec<Font>,
}

impl Fonts {
    /// The built-in faces and the practice's own.
    ///
    /// # Errors
    /// A file that is no font, or one that would stand in for the built-in family.
    pub fn of(assets: &Assets) -> Result<Self, String> {
        let mut faces = FACES.clone();
        for (path, data) in assets.fonts() {
            let own: Vec<Font> = Font::iter(Bytes::new(data.clone())).collect();
            if own.is_empty() {
                return Err(format!("{path} is no font: put .ttf or .otf files there"));
            }
            if own.iter().any(|face| family(face) == FAMILY) {
                return Err(format!("{path}: pages are set in {FAMILY} already; take the file away"));
            }
            faces.extend(own);
        }
        Ok(Self { faces })
    }

    /// Families besides the built-in one, each once, in the order of their files.
    #[must_use]
    pub fn families(&self) -> Vec<&str> {
        let mut families: Vec<&str> = Vec::new();
        for name in self.faces.iter().map(family).filter(|name| *name != FAMILY) {
            if !families.contains(&name) {
                families.push(name);
            }
        }
        families
    }

    /// Whether a page can show this character: some family has it in all of its faces, or it has no shape at all.
    #[must_use]
    pub fn printable(&self, character: char) -> bool {
        let has = |name: &str| {
            let mut faces = self.faces.iter().filter(|face| family(face) == name);
            faces.all(|face| face.info().coverage.contains(u32::from(character)))
        };
        isolates(character) || has(FAMILY) || self.families().into_iter().any(has)
    }

    pub(super) fn store(&self) -> FontStore {
        let mut store = FontStore::new();
        store.extend(self.faces.iter().map(|face| (face.clone(), face.info().clone())));
        store
    }
}

fn family(face: &Font) -> &str {
    face.info().family.as_str()
}

/// What sets a run of the other direction apart, and takes no room.
fn isolates(character: char) -> bool {
    matches!(character, '\u{2066}'..='\u{2069}' | '\u{200E}' | '\u{200F}')
}
