//! Words by which people name an eye (`templates/sides.toml`): a text must not name the other one.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::eye::Side;
use crate::assets::{Assets, LoadError, layers};

const FILE: &str = "templates/sides.toml";

/// Words by language.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Sides(BTreeMap<String, Words>);

#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Words {
    right: Vec<String>,
    left: Vec<String>,
}

impl Sides {
    /// Reads the words; those of the practice's own folder join them.
    ///
    /// # Errors
    /// The file and what is wrong with it.
    pub fn load(assets: &Assets) -> Result<Self, LoadError> {
        let mut all = Self::default();
        for (path, text) in assets.layers(FILE) {
            let layer: BTreeMap<String, Words> = layers::table(&text).map_err(|problem| problem.in_file(&path))?;
            for (language, words) in layer {
                let known = all.0.entry(language).or_default();
                known.right.extend(words.right);
                known.left.extend(words.left);
            }
        }
        Ok(all)
    }

    /// Whether a text names an eye in one of these languages, given by their tags.
    ///
    /// ```
    /// use vitreoleaf::{assets::Assets, record::{eye::Side, sides::Sides}};
    ///
    /// let sides = Sides::load(&Assets::default()).unwrap();
    /// assert!(sides.names(Side::Left, "a ring in the left eye", ["en-US"]));
    /// assert!(!sides.names(Side::Left, "the ring that is left", ["en-US"]));
    /// ```
    #[must_use]
    pub fn names<'a>(&self, side: Side, text: &str, languages: impl IntoIterator<Item = &'a str>) -> bool {
        let written = words(text);
        let language = |tag: &'a str| self.0.get(tag.split('-').next().unwrap_or(tag));
        let phrases = languages.into_iter().filter_map(language).flat_map(|words| match side {
            Side::Right => &words.right,
            Side::Left => &words.left,
        });
        phrases.into_iter().any(|phrase| stands_in(phrase, &written))
    }
}

fn words(text: &str) -> Vec<&str> {
    text.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).collect()
}

/// Whether a phrase stands in a text as whole words. An abbreviation in capitals would else be found in "os" and "le".
fn stands_in(phrase: &str, written: &[&str]) -> bool {
    let exact = phrase.chars().all(char::is_uppercase);
    let same = |(one, other): (&&str, &&str)| one == other || (!exact && one.to_lowercase() == other.to_lowercase());
    let phrase = words(phrase);
    written.windows(phrase.len().max(1)).any(|part| part.iter().zip(&phrase).all(same))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(side: Side, text: &str, language: &str) -> bool {
        Sides::load(&Assets::default()).expect("the words of the program").names(side, text, [language])
    }

    #[test]
    fn an_eye_is_named_by_whole_words_of_its_language() {
        for (text, language) in [
            ("Ring in the LEFT-eye", "en-US"),
            ("floater OS", "en-GB"),
            ("un anillo en el ojo izquierdo", "es-US"),
            ("Ring im linken Auge", "de"),
            ("un anneau dans l’œil gauche", "fr"),
            ("حلقة في العين اليسرى", "ar"),
        ] {
            assert!(names(Side::Left, text, language), "{text}");
            assert!(!names(Side::Right, text, language), "{text}");
        }
        for (text, language) in [
            ("what is left of it blurs the eye", "en-US"),
            ("os", "en-US"),
            ("a ring right before the eye", "en-US"),
            ("the cleft eyebrow", "en-US"),
            ("links between strands", "en-US"),
        ] {
            assert!(!names(Side::Left, text, language) && !names(Side::Right, text, language), "{text}");
        }
    }
}
