//! A practice ready for use: its profile with all rules, drugs, statements and evidence behind it.

use std::collections::{BTreeMap, BTreeSet};
#[cfg(feature = "typeset")]
use std::sync::{Arc, OnceLock};

use sha2::{Digest, Sha256};

use crate::assets::Assets;
use crate::content::Library;
use crate::content::jurisdiction::{self, Jurisdiction};
use crate::document::coverage;
use crate::findings::Rules;
use crate::record::formulary::Formulary;
use crate::record::language;
use crate::record::profile::Profile;
use crate::render::fonts::Fonts;
#[cfg(feature = "typeset")]
use crate::render::typeset::Typesetter;

/// A practice ready for use.
#[derive(Debug, Clone)]
pub struct Practice {
    /// The profile.
    pub profile: Profile,
    /// Built-in files with the practice's own in front.
    pub assets: Assets,
    /// The print fonts.
    pub fonts: Fonts,
    /// All rules.
    pub rules: Rules,
    /// All drugs.
    pub formulary: Formulary,
    /// What a consent must hold where the practice works.
    pub jurisdiction: Jurisdiction,
    libraries: BTreeMap<String, Library>,
    #[cfg(feature = "typeset")]
    typesetter: Arc<OnceLock<Typesetter>>,
}

/// Whether a clinician has confirmed the clinical values as they now stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Confirmed {
    /// Confirmed as they stand.
    Current,
    /// Nobody confirmed them.
    Missing,
    /// They changed since.
    Stale,
}

impl Practice {
    /// Loads everything behind a profile.
    ///
    /// # Errors
    /// The file and what is wrong with it.
    pub fn assemble(profile: Profile, assets: Assets) -> Result<Self, String> {
        let rules = Rules::load(&assets)?;
        let formulary = Formulary::load(&assets)?;
        let mut libraries = BTreeMap::new();
        for language in &profile.practice.languages {
            libraries.insert(language.clone(), Library::load(&assets, language)?);
        }
        for language in libraries.keys() {
            for library in libraries.values() {
                library.locale.word(&format!("language.{language}"))?;
            }
        }
        for rule in &rules.drugs {
            if let Some(lost) = rule.row.drugs.iter().find(|selector| formulary.select(selector).next().is_none()) {
                return Err(format!("rule {}: {lost} names no drug of the formulary", rule.row.id));
            }
        }
        let fonts = Fonts::of(&assets).map_err(|error| error.to_string())?;
        let jurisdiction = Jurisdiction::load(&assets, &profile.practice.jurisdiction)?;
        for library in libraries.values() {
            if let Some(lost) = coverage::unknown_ids(&jurisdiction, library).first() {
                return Err(format!(
                    "jurisdiction {}: {lost} is no statement, part or section of a page",
                    profile.practice.jurisdiction
                ));
            }
        }
        let practice = Self {
            profile,
            assets,
            fonts,
            rules,
            formulary,
            jurisdiction,
            libraries,
            #[cfg(feature = "typeset")]
            typesetter: Arc::default(),
        };
        let unread = practice.assets.own().find(|path| !practice.reads(path)).map(str::to_owned);
        match unread {
            Some(path) => Err(format!(
                "nothing reads {path} in the practice's folder: give it the name of the file it replaces, or the id of a statement"
            )),
            None => Ok(practice),
        }
    }

    /// Whether anything reads a file of the practice's own: it replaces a built-in one, belongs to a layout, or is a text of
    /// a language the practice prints in.
    fn reads(&self, path: &str) -> bool {
        let of_practice = path == format!("{}{}.toml", jurisdiction::FOLDER, self.profile.practice.jurisdiction);
        Assets::is_built_in(path)
            || of_practice
            || path.starts_with("templates/pages/")
            || self.libraries.values().any(|library| library.reads(path))
    }

    /// What lays its pages out; made at the first page and kept for all others.
    #[cfg(feature = "typeset")]
    #[must_use]
    pub fn typesetter(&self) -> &Typesetter {
        self.typesetter.get_or_init(|| Typesetter::new(&self.assets, &self.fonts))
    }

    /// The texts of a language.
    ///
    /// # Errors
    /// When the practice does not print in it: another region's variant may stand in, another language never.
    pub fn library(&self, language: &str) -> Result<&Library, String> {
        let printed = &self.profile.practice.languages;
        let chosen = language::choose(language, printed.iter().map(String::as_str));
        chosen
            .and_then(|tag| self.libraries.get(tag))
            .ok_or_else(|| format!("the practice prints in {}, not in {language}", printed.join(", ")))
    }

    /// The language of the staff's pages: the first of the profile.
    #[must_use]
    pub fn staff_language(&self) -> &str {
        self.profile.practice.languages.first().map(String::as_str).unwrap_or_default()
    }

    /// Hash of everything a clinician confirms: thresholds, regimens, visits, choice of labels, and every file of
    /// rules, drugs, evidence, statements and wording, and the practice's own fonts.
    #[must_use]
    pub fn clinical_hash(&self) -> String {
        let profile = &self.profile;
        let values = serde_json::json!({
            "labels": profile.practice.labels,
            "thresholds": profile.thresholds,
            "regimens": profile.regimens,
            "visits": profile.visits,
        });
        let mut hash = Sha256::new();
        add(&mut hash, "profile", &values.to_string());
        for path in self.confirmed_files() {
            for (layer, text) in self.assets.layers(&path) {
                add(&mut hash, &layer, &text);
            }
        }
        // What a digit looks like is part of what is confirmed.
        for (path, data) in self.assets.fonts() {
            let digest: String = Sha256::digest(data).iter().map(|byte| format!("{byte:02x}")).collect();
            add(&mut hash, path, &digest);
        }
        hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
    }

    /// Files a confirmation covers, sorted.
    #[must_use]
    pub fn confirmed_files(&self) -> Vec<String> {
        let folders: BTreeSet<String> = self.libraries.values().flat_map(Library::folders).collect();
        let texts = folders.iter().flat_map(|folder| self.assets.under(folder));
        let rules = self.assets.under("templates/");
        // The layout that comes with the program is the program's; one of the practice's own is confirmed like a text.
        let counts = |path: &String| path.ends_with(".toml") || self.assets.has_own(path);
        let fonts = self.assets.fonts().map(|(path, _)| path.to_owned());
        rules.into_iter().filter(counts).chain(texts).chain(fonts).collect()
    }

    /// Whether the confirmation of the profile is current.
    #[must_use]
    pub fn confirmed(&self) -> Confirmed {
        match &self.profile.confirmation {
            None => Confirmed::Missing,
            Some(confirmation) if confirmation.hash == self.clinical_hash() => Confirmed::Current,
            Some(_) => Confirmed::Stale,
        }
    }
}

/// Length before content, so that moving text from one file to the next changes the hash.
fn add(hash: &mut Sha256, name: &str, text: &str) {
    hash.update(format!("{name}\n{}\n", text.len()));
    hash.update(text);
}
