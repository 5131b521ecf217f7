//! Looking into JSON that somebody else wrote: what is not there, or has another form, is nothing.

use serde_json::Value;

/// One coded meaning.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Coding {
    pub(super) system: String,
    pub(super) code: String,
    pub(super) display: Option<String>,
}

/// The text at a path of keys between slashes.
pub(super) fn text<'v>(value: &'v Value, path: &str) -> Option<&'v str> {
    at(value, path)?.as_str().map(str::trim).filter(|text| !text.is_empty())
}

/// What stands at a path of keys between slashes.
pub(super) fn at<'v>(value: &'v Value, path: &str) -> Option<&'v Value> {
    path.split('/').try_fold(value, |value, key| value.get(key)).filter(|value| !value.is_null())
}

/// The entries at a path. One that stands without its list counts as a list of one.
pub(super) fn list<'v>(value: &'v Value, path: &str) -> impl Iterator<Item = &'v Value> {
    let found = at(value, path);
    let entries = found.and_then(Value::as_array).map(Vec::as_slice).or(found.map(std::slice::from_ref));
    entries.unwrap_or_default().iter()
}

/// The codings of a concept at a path, in their order. A bare word is a code without a system.
pub(super) fn codings(value: &Value, path: &str) -> Vec<Coding> {
    list(value, path).flat_map(of_concept).collect()
}

fn of_concept(concept: &Value) -> Vec<Coding> {
    if let Some(code) = concept.as_str() {
        return vec![Coding { system: String::new(), code: code.to_owned(), display: None }];
    }
    list(concept, "coding").filter_map(coding).collect()
}

/// A coding with a code.
pub(super) fn coding(value: &Value) -> Option<Coding> {
    Some(Coding {
        system: text(value, "system").unwrap_or_default().to_owned(),
        code: text(value, "code")?.to_owned(),
        display: text(value, "display").map(str::to_owned),
    })
}

/// The first code of a concept at a path, whatever its system: for lists of words that FHIR itself fixes.
pub(super) fn word(value: &Value, path: &str) -> Option<String> {
    codings(value, path).into_iter().next().map(|coding| coding.code)
}

/// What a concept at a path says in words: its text, else what a coding shows.
pub(super) fn says(value: &Value, path: &str) -> Option<String> {
    let shown = |concept: &Value| list(concept, "coding").find_map(|coding| text(coding, "display")).map(str::to_owned);
    list(value, path).find_map(|concept| text(concept, "text").map(str::to_owned).or_else(|| shown(concept)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn what_has_another_form_is_nothing() {
        let value = json!({ "a": { "b": [1, null], "c": " " }, "s": "active", "n": null });
        assert_eq!((text(&value, "a/c"), text(&value, "a/b"), text(&value, "n")), (None, None, None));
        assert_eq!(list(&value, "a/b").count(), 2);
        assert_eq!((list(&value, "s").count(), list(&value, "n").count(), list(&value, "x/y").count()), (1, 0, 0));
        assert_eq!(word(&value, "s").as_deref(), Some("active"));
    }

    #[test]
    fn a_concept_says_its_text_first() {
        let value =
            json!({ "code": { "coding": [{ "system": "s", "code": "1", "display": "one" }, { "display": "x" }] } });
        assert_eq!(says(&value, "code").as_deref(), Some("one"));
        assert_eq!(codings(&value, "code").len(), 1);
        assert_eq!(says(&json!({ "code": { "text": "t" } }), "code").as_deref(), Some("t"));
    }
}
