//! Which language stands in for which: a region's variant for another region of the same language and script, never
//! another language.

use fluent_langneg::{NegotiationStrategy, negotiate_languages};
use unic_langid::LanguageIdentifier;

/// The language of `offered` that serves whoever asks for `wanted`: itself, else the nearest variant of the same language
/// in the same script (`es-US` for `es-MX`), in the order offered; none when only other languages are offered.
#[must_use]
pub fn choose<'a>(wanted: &str, offered: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let parsed = offered.into_iter().filter_map(|tag| Some((tag, tag.parse::<LanguageIdentifier>().ok()?)));
    let (tags, ids): (Vec<&str>, Vec<LanguageIdentifier>) = parsed.filter(|(tag, _)| same(wanted, tag)).unzip();
    let wanted = [wanted.parse::<LanguageIdentifier>().ok()?];
    let found = negotiate_languages(&wanted, &ids, None, NegotiationStrategy::Filtering);
    let first = found.first().and_then(|found| ids.iter().position(|id| id == *found));
    tags.get(first.unwrap_or(0)).copied()
}

/// Whether two tags are one language in one script: `en-US` and `en-GB` are, `zh-TW` and `zh-CN` are not.
#[must_use]
pub fn same(one: &str, other: &str) -> bool {
    let (one, other) = (language_and_script(one), language_and_script(other));
    one.is_some() && one == other
}

/// Language and script, the script that is usual for the tag where none is written (CLDR, likely subtags).
fn language_and_script(tag: &str) -> Option<(String, Option<String>)> {
    let mut id: LanguageIdentifier = tag.parse().ok()?;
    id.maximize();
    Some((id.language.to_string(), id.script.map(|script| script.to_string())))
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
        ] {
            assert_eq!(choose(wanted, offered), found, "{wanted}");
        }
    }
}
