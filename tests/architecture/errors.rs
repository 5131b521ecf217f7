//! No error is a string: whoever meets one can tell what it is and what lies behind it. Tests within the source may.

use syn::visit::{self, Visit};
use syn::{Attribute, GenericArgument, ImplItemType, ItemImpl, ItemMod, PathArguments, PathSegment, Type};

/// How often a source file takes text for an error.
pub(super) fn strings(text: &str) -> usize {
    let mut strings = Strings(0);
    strings.visit_file(&syn::parse_file(text).expect("the compiler has read it"));
    strings.0
}

struct Strings(usize);

impl<'ast> Visit<'ast> for Strings {
    fn visit_item_mod(&mut self, item: &'ast ItemMod) {
        if !item.attrs.iter().any(is_of_tests) {
            visit::visit_item_mod(self, item);
        }
    }

    /// `Result<_, String>`
    fn visit_path_segment(&mut self, segment: &'ast PathSegment) {
        if segment.ident == "Result" && second(&segment.arguments).is_some_and(is_text) {
            self.0 += 1;
        }
        visit::visit_path_segment(self, segment);
    }

    /// `type Err = String`
    fn visit_impl_item_type(&mut self, item: &'ast ImplItemType) {
        self.0 += usize::from((item.ident == "Err" || item.ident == "Error") && is_text(&item.ty));
        visit::visit_impl_item_type(self, item);
    }

    /// `impl From<SomeError> for String`, which a question mark would use unseen.
    fn visit_item_impl(&mut self, item: &'ast ItemImpl) {
        let of = item.trait_.as_ref().and_then(|(path, _)| path.segments.last());
        self.0 += usize::from(of.is_some_and(|of| of.ident == "From") && is_text(&item.self_ty));
        visit::visit_item_impl(self, item);
    }
}

fn is_of_tests(attribute: &Attribute) -> bool {
    attribute.path().is_ident("cfg") && attribute.parse_args::<syn::Path>().is_ok_and(|path| path.is_ident("test"))
}

fn second(arguments: &PathArguments) -> Option<&Type> {
    let PathArguments::AngleBracketed(of) = arguments else { return None };
    let mut types = of.args.iter().filter_map(|argument| match argument {
        GenericArgument::Type(of) => Some(of),
        _ => None,
    });
    types.nth(1)
}

fn is_text(of: &Type) -> bool {
    match of {
        Type::Path(path) => path.path.segments.last().is_some_and(|last| last.ident == "String" || last.ident == "str"),
        Type::Reference(reference) => is_text(&reference.elem),
        _ => false,
    }
}

mod tests {
    use super::strings;

    #[test]
    fn a_string_is_found_wherever_it_is_taken_for_an_error() {
        for text in [
            "fn f() -> Result<u8, String> { Ok(1) }",
            "fn f() -> std::result::Result<Vec<u8>, std::string::String> { Ok(1) }",
            "fn f() -> Result<u8, &'static str> { Ok(1) }",
            "fn f() { of.collect::<Result<_, String>>() }",
            "fn f(of: impl Fn() -> Result<u8, String>) {}",
            "impl FromStr for A { type Err = String; }",
            "impl From<AError> for String { }",
        ] {
            assert_eq!(strings(text), 1, "{text}");
        }
        for text in [
            "fn f() -> Result<String, AError> { Ok(1) }",
            "type Built<T> = Result<T, AError>;",
            "impl From<String> for A { }",
            "#[cfg(test)] mod tests { fn f() -> Result<u8, String> { Ok(1) } }",
        ] {
            assert_eq!(strings(text), 0, "{text}");
        }
    }
}
