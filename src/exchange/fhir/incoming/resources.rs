//! The resources of some files, wherever they lie: alone, in a bundle, in a bundle within a bundle.

use serde_json::Value;

use super::brought::Origin;
use crate::exchange::fhir::element::{at, list, text};

/// One resource and where it lies.
#[derive(Debug, Clone)]
pub(super) struct Resource<'v> {
    pub(super) kind: &'v str,
    pub(super) body: &'v Value,
    /// Its address in its bundle, if it has one.
    pub(super) full_url: Option<&'v str>,
    file: &'v str,
    /// Places in the bundles around it, from 1.
    place: Vec<usize>,
}

/// All resources of a file, those of bundles in their order. Bundles themselves are none.
pub(super) fn of_file<'v>(file: &'v str, value: &'v Value) -> Vec<Resource<'v>> {
    let mut found = Vec::new();
    gather(file, value, None, &[], &mut found);
    found
}

fn gather<'v>(
    file: &'v str,
    value: &'v Value,
    full_url: Option<&'v str>,
    place: &[usize],
    found: &mut Vec<Resource<'v>>,
) {
    match text(value, "resourceType") {
        Some("Bundle") => {
            for (number, entry) in (1..).zip(list(value, "entry")) {
                let place = [place, &[number]].concat();
                if let Some(resource) = at(entry, "resource") {
                    gather(file, resource, text(entry, "fullUrl"), &place, found);
                }
            }
        }
        Some(kind) => found.push(Resource { kind, body: value, full_url, file, place: place.to_vec() }),
        None => {}
    }
}

impl<'v> Resource<'v> {
    pub(super) fn id(&self) -> Option<&'v str> {
        text(self.body, "id")
    }

    /// Where it comes from, with an element of it.
    pub(super) fn origin(&self, element: &str) -> Origin {
        let id = self.id().map(|id| format!("/{id}")).unwrap_or_default();
        let place: Vec<String> = self.place.iter().map(usize::to_string).collect();
        let place = if place.is_empty() { String::new() } else { format!("entry {} ", place.join(".")) };
        Origin {
            file: self.file.to_owned(),
            resource: format!("{place}{}{id}", self.kind),
            element: element.to_owned(),
            ..Origin::default()
        }
    }

    /// The address of an extension that may turn its meaning round, anywhere in it: none is known here. Rules that a
    /// reader would have to know first (`implicitRules`) are such an element too.
    pub(super) fn modifier(&self) -> Option<&'v str> {
        text(self.body, "implicitRules").or_else(|| modifier(self.body))
    }

    /// The resource that a reference of it leads to: one that it contains, or one beside it.
    pub(super) fn referred<'r>(&self, reference: &str, all: &'r [Resource<'v>]) -> Option<&'v Value> {
        match reference.strip_prefix('#') {
            Some(id) => list(self.body, "contained").find(|contained| text(contained, "id") == Some(id)),
            None => all.iter().find(|other| other.is(reference)).map(|other| other.body),
        }
    }

    /// Whether a reference means this resource.
    pub(super) fn is(&self, reference: &str) -> bool {
        let reference = reference.split("/_history/").next().unwrap_or(reference);
        if self.full_url == Some(reference) {
            return true;
        }
        let own = self.id().map(|id| format!("{}/{id}", self.kind));
        own.is_some_and(|own| same_address(reference, &own, self.full_url))
    }
}

/// Whether a reference leads to a resource of this kind and id. Two addresses that are both whole must be equal.
fn same_address(reference: &str, own: &str, full_url: Option<&str>) -> bool {
    if !reference.contains("://") {
        return reference == own;
    }
    let whole = full_url.is_some_and(|url| url.contains("://"));
    !whole && reference.ends_with(&format!("/{own}"))
}

/// The address of an extension that may turn a meaning round, anywhere below.
pub(super) fn modifier(value: &Value) -> Option<&str> {
    match value {
        Value::Object(keys) => {
            let own = keys.get("modifierExtension").filter(|found| !found.is_null());
            let own = own.map(|found| list(found, "url").next().or_else(|| found.get(0)?.get("url")));
            match own {
                Some(url) => Some(url.and_then(Value::as_str).unwrap_or_default()),
                None => keys.values().find_map(modifier),
            }
        }
        Value::Array(entries) => entries.iter().find_map(modifier),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn resources_lie_alone_in_bundles_and_in_bundles_within_bundles() {
        let one = json!({ "resourceType": "Patient", "id": "p" });
        let bundle = json!({ "resourceType": "Bundle", "entry": [
            { "fullUrl": "urn:uuid:1", "resource": one }, { "request": {} },
            { "resource": { "resourceType": "Bundle", "entry": [{ "resource": one }] } },
        ] });
        let found = of_file("a.json", &bundle);
        let places: Vec<String> = found.iter().map(|resource| resource.origin("").resource).collect();
        assert_eq!(places, ["entry 1 Patient/p", "entry 3.1 Patient/p"]);
        assert!(found[0].is("urn:uuid:1") && found[0].is("Patient/p") && !found[1].is("urn:uuid:1"));
        assert_eq!(of_file("a.json", &json!([1])).len(), 0);
    }

    #[test]
    fn whole_addresses_must_be_equal() {
        assert!(same_address("https://a.example/fhir/Patient/1", "Patient/1", None));
        assert!(!same_address("https://a.example/fhir/Patient/1", "Patient/1", Some("https://b.example/Patient/1")));
        assert!(!same_address("Patient/11", "Patient/1", None));
    }

    #[test]
    fn a_modifier_is_found_however_deep_it_lies() {
        for (value, found) in [
            (json!({ "modifierExtension": [{ "url": "u", "valueBoolean": true }] }), true),
            (json!({ "dosage": [{ "timing": { "modifierExtension": [{ "url": "u" }] } }] }), true),
            (json!({ "implicitRules": "u" }), true),
            (json!({ "modifierExtension": [{ "valueBoolean": true }] }), true),
            (json!({ "modifierExtension": null, "extension": [{ "url": "u" }] }), false),
        ] {
            let mut body = value.clone();
            body["resourceType"] = json!("Condition");
            assert_eq!(of_file("a", &body)[0].modifier().is_some(), found, "{value}");
        }
    }
}
