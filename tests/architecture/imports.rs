//! Every path that a source file names, read with `syn`: imports in groups, inline paths of expressions and types, and
//! paths within macros.

use std::collections::BTreeMap;

use proc_macro2::{TokenStream, TokenTree};
use syn::visit::{self, Visit};
use syn::{ItemMod, ItemUse, Macro, UseTree, Visibility};

/// A path by its names from the root: `["crate", "plan", "Dose"]`, `["std", "fs", "read"]`.
pub(super) type Path = Vec<String>;

/// What one file names.
#[derive(Debug, Default)]
pub(super) struct Imports {
    /// Every path it names, its own crate's from `crate` on. A glob ends in `*`.
    pub(super) paths: Vec<Path>,
    /// What it hands on under another path (`pub use drug::Drug`): the name, and what stands behind it.
    pub(super) handed_on: Vec<(String, Path)>,
}

/// Reads one file. `module` is its own path from `crate` on.
pub(super) fn read(text: &str, module: &[&str]) -> Imports {
    let file = syn::parse_file(text).expect("the compiler has read it");
    let module = module.iter().map(|name| (*name).to_owned()).collect();
    let mut reader = Reader { module, known: BTreeMap::new(), found: Imports::default() };
    reader.visit_file(&file);
    reader.resolved()
}

struct Reader {
    module: Path,
    /// What stands behind a name: what was imported under it, or the module declared here.
    known: BTreeMap<String, Path>,
    found: Imports,
}

impl Reader {
    fn add(&mut self, path: &[String]) {
        self.found.paths.push(absolute(&self.module, path));
    }

    /// Each name of a tree of imports with its path.
    fn tree(&mut self, before: &Path, tree: &UseTree, public: bool) {
        let longer = |name: &dyn ToString| [before.clone(), vec![name.to_string()]].concat();
        match tree {
            UseTree::Path(path) => self.tree(&longer(&path.ident), &path.tree, public),
            UseTree::Group(group) => group.items.iter().for_each(|tree| self.tree(before, tree, public)),
            UseTree::Name(name) => self.import(&longer(&name.ident), &name.ident.to_string(), public),
            UseTree::Rename(renamed) => self.import(&longer(&renamed.ident), &renamed.rename.to_string(), public),
            UseTree::Glob(_) => self.import(&longer(&"*"), "*", public),
        }
    }

    fn import(&mut self, path: &[String], name: &str, public: bool) {
        // `use super::{self, x}` names the module itself.
        let path = if path.last().is_some_and(|last| last == "self") { &path[..path.len() - 1] } else { path };
        let path = absolute(&self.module, path);
        self.known.insert(name.to_owned(), path.clone());
        if public {
            self.found.handed_on.push((name.to_owned(), path.clone()));
        }
        self.found.paths.push(path);
    }

    /// What was found, with names that were imported or declared resolved: `use std::env; env::var("X")`.
    fn resolved(self) -> Imports {
        let Self { known, mut found, .. } = self;
        let resolve = |path: &mut Path| {
            let behind = path.first().and_then(|first| known.get(first)).filter(|behind| behind.len() > 1);
            if let Some(behind) = behind {
                path.splice(..1, behind.iter().cloned());
            }
        };
        found.paths.iter_mut().for_each(resolve);
        found.handed_on.iter_mut().for_each(|(_, path)| resolve(path));
        found
    }

    /// Macros hold anything: a row of names with `::` between them is a path.
    fn tokens(&mut self, tokens: TokenStream) {
        let mut path = Path::new();
        let mut colons = 0;
        for token in tokens {
            match token {
                TokenTree::Ident(name) if colons == 2 => path.push(name.to_string()),
                TokenTree::Ident(name) => self.end(&mut path, Some(name.to_string())),
                TokenTree::Punct(sign) if sign.as_char() == ':' => {
                    colons += 1;
                    continue;
                }
                TokenTree::Group(group) => {
                    self.end(&mut path, None);
                    self.tokens(group.stream());
                }
                _ => self.end(&mut path, None),
            }
            colons = 0;
        }
        self.end(&mut path, None);
    }

    fn end(&mut self, path: &mut Path, next: Option<String>) {
        let ended = std::mem::replace(path, next.into_iter().collect());
        if ended.len() > 1 {
            self.add(&ended);
        }
    }
}

impl<'ast> Visit<'ast> for Reader {
    fn visit_item_use(&mut self, item: &'ast ItemUse) {
        self.tree(&Path::new(), &item.tree, !matches!(item.vis, Visibility::Inherited));
    }

    fn visit_item_mod(&mut self, item: &'ast ItemMod) {
        self.module.push(item.ident.to_string());
        self.known.insert(item.ident.to_string(), self.module.clone());
        visit::visit_item_mod(self, item);
        self.module.pop();
    }

    fn visit_path(&mut self, path: &'ast syn::Path) {
        let names: Path = path.segments.iter().map(|segment| segment.ident.to_string()).collect();
        self.add(&names);
        visit::visit_path(self, path);
    }

    fn visit_visibility(&mut self, _: &'ast Visibility) {} // `pub(in crate::record)` uses nothing

    fn visit_macro(&mut self, called: &'ast Macro) {
        let mut name: Path = called.path.segments.iter().map(|segment| segment.ident.to_string()).collect();
        name.last_mut().expect("a macro has a name").push('!');
        self.add(&name);
        self.tokens(called.tokens.clone());
    }
}

/// A path from the root: `self`, `super` and the crate's own name resolved.
fn absolute(module: &[String], path: &[String]) -> Path {
    let mut names = path.iter().peekable();
    let mut base = match names.peek().map(|name| name.as_str()) {
        Some("self" | "super") => module.to_vec(),
        Some("vitreoleaf") => {
            names.next();
            vec!["crate".to_owned()]
        }
        _ => Path::new(),
    };
    while let Some(step) = names.next_if(|name| *name == "super" || *name == "self") {
        if step == "super" {
            base.pop();
        }
    }
    base.extend(names.cloned());
    base
}

mod tests {
    use super::*;

    fn paths(text: &str) -> Vec<String> {
        let found = read(text, &["crate", "plan", "usage"]).paths;
        found.iter().map(|path| path.join("::")).collect()
    }

    /// However it is written, the same path is found.
    #[test]
    fn a_path_is_found_in_any_notation() {
        for text in [
            "use crate::cli::io;",
            "use crate::{cli::io, facts};",
            "use crate::{facts, cli::{args, io}};",
            "use crate::cli::io as edge;",
            "pub(crate) use crate::cli::io;",
            "use super::super::cli::io;",
            "mod inner { use super::super::super::cli::io; }",
            "use vitreoleaf::cli::io;",
            "fn f() { let _ = crate::cli::io; }",
            "fn f() { use crate::cli::io; }",
            "const A: crate::cli::io = 1;",
            "fn f(of: Option<crate::cli::io>) {}",
            "impl crate::cli::io for X {}",
            "fn f<T: crate::cli::io>() {}",
            "fn f() { g!(\"{}\", h(&[crate::cli::io])) }",
        ] {
            assert!(paths(text).contains(&"crate::cli::io".to_owned()), "{text}: {:?}", paths(text));
        }
    }

    #[test]
    fn the_world_outside_is_found_too() {
        for (text, path) in [
            ("use std::{fs, io};", "std::fs"),
            ("use std::fs as files;", "std::fs"),
            ("use ::std::fs::read;", "std::fs::read"),
            ("fn f() { std::fs::read(\"x\"); }", "std::fs::read"),
            ("use std::*;", "std::*"),
            ("fn f() { println!(\"x\"); }", "println!"),
            ("fn f() { std::println!(\"x\"); }", "std::println!"),
            ("fn f() { vec![std::fs::read(1)]; }", "std::fs::read"),
            ("use std::env; fn f() { env::var(\"X\"); }", "std::env::var"),
            ("use chrono::Utc as Clock; fn f() { Clock::now() }", "chrono::Utc::now"),
        ] {
            assert!(paths(text).contains(&path.to_owned()), "{text}: {:?}", paths(text));
        }
    }

    #[test]
    fn words_that_are_no_path_are_none() {
        let text = "/// See [`crate::cli`].\npub(in crate::cli) fn f() { let _ = \"crate::cli\"; } // crate::cli";
        assert!(paths(text).iter().all(|path| !path.contains("cli")), "{:?}", paths(text));
    }

    #[test]
    fn what_a_folder_hands_on_is_known_by_its_new_name() {
        let found = read("mod drug;\npub use drug::{Drug, Form as Shape};", &["crate", "record"]).handed_on;
        let names: Vec<(&str, String)> = found.iter().map(|(name, path)| (name.as_str(), path.join("::"))).collect();
        let wanted = [("Drug", "crate::record::drug::Drug".into()), ("Shape", "crate::record::drug::Form".into())];
        assert_eq!(names, wanted);
    }
}
