//! Which language stands in for which: a region's variant for another region of the same language and script, never
//! another language.
//!
//! A tag is read as `unic-langid` reads it. What it leaves unsaid, the usual script and region, ICU4X adds from the CLDR
//! data that also writes dates and numbers: one source, so that choice and pages cannot differ.

use icu::locale::{LanguageIdentifier, LocaleExpander};

/// The language of `offered` that serves whoever asks for `wanted`: itself, else the nearest variant of the same language
/// in the same script (`es-US` for `es-MX`), in the order offered; none when only other languages are offered.
#[must_use]
pub fn choose<'a>(wanted: &str, offered: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let whole = whole(wanted)?;
    let serving = offered.into_iter().filter_map(|tag| {
        let offered = self::whole(tag).filter(|offered| is_same(offered, &whole))?;
        Some((tag != wanted, offered.region != whole.region, tag))
    });
    serving.min_by_key(|(other, elsewhere, _)| (*other, *elsewhere)).map(|(.., tag)| tag)
}

/// Whether two tags are one language in one script: `en-US` and `en-GB` are, `zh-TW` and `zh-CN` are not.
#[must_use]
pub fn same(one: &str, other: &str) -> bool {
    whole(one).zip(whole(other)).is_some_and(|(one, other)| is_same(&one, &other))
}

fn is_same(one: &LanguageIdentifier, other: &LanguageIdentifier) -> bool {
    (one.language, one.script) == (other.language, other.script)
}

/// A tag with the script and the region that are usual for it where none is written (CLDR, likely subtags).
fn whole(tag: &str) -> Option<LanguageIdentifier> {
    let tag: unic_langid::LanguageIdentifier = tag.parse().ok()?;
    let mut whole = LanguageIdentifier::try_from_str(&tag.to_string()).ok()?;
    LocaleExpander::new_extended().maximize(&mut whole);
    Some(whole)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4647 lookup, narrowed to one language: what is offered for another language is no answer.
    #[test]
    fn a_variant_stands_in_and_another_language_never() {
        let offered = ["en-US", "es-US", "en-GB", "de", "zh-CN", "sr-Latn"];
        for (wanted, found) in [
            ("es-US", Some("es-US")),
            ("es-MX", Some("es-US")),
            ("es", Some("es-US")),
            ("en-GB", Some("en-GB")),
            ("en-AU", Some("en-US")),
            ("de-AT", Some("de")),
            ("fr-FR", None),
            ("zh-TW", None),
            ("sr-RS", None),
            ("sr-Latn-ME", Some("sr-Latn")),
            ("not a tag", None),
            ("zh-Hans", Some("zh-CN")),
            ("zh-SG", Some("zh-CN")),
            ("en-us", Some("en-US")),
        ] {
            assert_eq!(choose(wanted, offered), found, "{wanted}");
        }
    }

    /// Of several variants the one of the same region comes first, also where the region is only the usual one; then the
    /// order of the profile counts.
    #[test]
    fn the_nearest_variant_stands_in() {
        let offered = ["en-GB", "en-US", "de-AT", "de-CH"];
        for (wanted, found) in [("en", "en-US"), ("en-Latn-US", "en-US"), ("en-NZ", "en-GB"), ("de", "de-AT")] {
            assert_eq!(choose(wanted, offered), Some(found), "{wanted}");
        }
        assert!(same("sr", "sr-Cyrl-RS") && !same("sr", "sr-Latn"));
    }
}
