//! A practice ready for use: its profile with all rules, drugs, statements and evidence behind it.

mod checked;
#[cfg(feature = "desk")]
mod confirm;
mod draft;
mod error;

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Deref;
use std::path::Path;
use std::sync::Arc;
#[cfg(feature = "typeset")]
use std::sync::OnceLock;

use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;
use sha2::{Digest, Sha256};

use crate::assets::Assets;
use crate::content::jurisdiction::{self, Jurisdiction};
use crate::content::{Catalogue, Library};
use crate::diag::Remarks;
use crate::document::coverage;
use crate::facts::{Moment, Source, beside};
use crate::files::read;
use crate::findings::Rules;
use crate::record::Record;
use crate::record::date::Date;
use crate::record::formulary::Formulary;
use crate::record::hash::hexadecimal;
use crate::record::language;
use crate::record::profile::{Confirmation, OwnNumbers, Profile, ResultsRule};
use crate::record::sides::Sides;
use crate::render::fonts::Fonts;
#[cfg(feature = "typeset")]
use crate::render::typeset::Typesetter;

pub use checked::{Checked, Gate};
#[cfg(feature = "desk")]
pub use confirm::with_confirmation;
pub use draft::Draft;
pub use error::{NotPrinted, PracticeError};

/// The files a profile is checked with: all that a clinic may edit, and the drugs read from them.
#[derive(Debug, Clone)]
pub struct Files {
    /// Built-in files with the practice's own in front.
    pub assets: Assets,
    /// All drugs.
    pub formulary: Formulary,
}

impl Files {
    /// Reads the drugs.
    ///
    /// # Errors
    /// The file and what is wrong with it.
    pub fn of(assets: Assets) -> Result<Self, PracticeError> {
        Ok(Self { formulary: Formulary::load(&assets)?, assets })
    }
}

/// Reads and checks the profile in a practice's folder, with the files beside it. Its texts may yet be incomplete.
///
/// # Errors
/// What was not read, or is wrong with the profile or the formulary.
pub fn profile(folder: &Path) -> Result<Checked<Profile>, PracticeError> {
    let (file, assets) = read::practice(folder)?;
    Ok(Checked::read(&file, Files::of(assets)?)?)
}

/// Reads the practice in a folder.
///
/// # Errors
/// As [`profile`] and [`Practice::assemble`].
pub fn open(folder: &Path) -> Result<Practice, PracticeError> {
    Practice::assemble(profile(folder)?)
}

/// A practice ready for use. It never changes, and a clone is the same practice.
#[derive(Debug, Clone)]
pub struct Practice(Arc<Parts>);

/// What a practice is made of.
#[derive(Debug, Clone)]
pub struct Parts {
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
    /// Words by which people name an eye.
    pub sides: Sides,
    libraries: BTreeMap<String, Library>,
    warnings: Remarks,
    hash: String,
    #[cfg(feature = "typeset")]
    typesetter: Arc<OnceLock<Typesetter>>,
}

impl Deref for Practice {
    type Target = Parts;

    fn deref(&self) -> &Parts {
        &self.0
    }
}

/// Whether a clinician has confirmed the clinical values as they now stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
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
    pub fn assemble(profile: Checked<Profile>) -> Result<Self, PracticeError> {
        let warnings = profile.warnings().clone();
        let (profile, Files { assets, formulary }) = profile.into_parts();
        let rules = rules(&assets, &formulary)?;
        let fonts = Fonts::of(&assets)?;
        let jurisdiction = Jurisdiction::load(&assets, &profile.practice.jurisdiction)?;
        let sides = Sides::load(&assets)?;
        let libraries = libraries(&profile, &assets, &jurisdiction)?;
        let mut parts = Parts {
            profile,
            assets,
            fonts,
            rules,
            formulary,
            jurisdiction,
            sides,
            libraries,
            warnings,
            hash: String::new(),
            #[cfg(feature = "typeset")]
            typesetter: Arc::default(),
        };
        if let Some(path) = parts.assets.own().find(|path| !parts.reads(path)) {
            return Err(PracticeError::Unread(path.to_owned()));
        }
        parts.hash = parts.computed_hash();
        Ok(Self(Arc::new(parts)))
    }

    /// The practice with its pages laid out by another typesetter, for a program that lays out apart by a path of its own.
    #[cfg(feature = "typeset")]
    #[must_use]
    pub fn typeset_by(&self, typesetter: Typesetter) -> Self {
        Self(Arc::new(Parts { typesetter: Arc::new(OnceLock::from(typesetter)), ..Parts::clone(&self.0) }))
    }

    /// The practice with its clinical values taken as confirmed, for proofreading: whoever edits them wants to read what
    /// would print. It says numbers of its own, invented ones where it has none. No packet is made of it.
    pub(crate) fn as_if_confirmed(&self) -> Self {
        let mut parts = Parts::clone(&self.0);
        let (clinician, on) = ("proofreading".into(), Date(NaiveDate::default()));
        let results = parts.profile.results.get_or_insert_with(ResultsRule::invented);
        results.in_consent.get_or_insert_with(OwnNumbers::invented);
        parts.profile.confirmation = Some(Confirmation { clinician, on, hash: self.hash.clone() });
        Self(Arc::new(parts))
    }
}

/// All rules; each selects drugs there are.
fn rules(assets: &Assets, formulary: &Formulary) -> Result<Rules, PracticeError> {
    let rules = Rules::load(assets)?;
    for rule in &rules.drugs {
        if let Some(lost) = rule.row.drugs.iter().find(|selector| formulary.select(selector).next().is_none()) {
            return Err(PracticeError::NoDrug { rule: rule.row.id.clone(), selector: lost.to_string() });
        }
    }
    Ok(rules)
}

/// The texts of each language; each names every language, and has what the jurisdiction asks for.
fn libraries(
    profile: &Profile,
    assets: &Assets,
    jurisdiction: &Jurisdiction,
) -> Result<BTreeMap<String, Library>, PracticeError> {
    let catalogue = Catalogue::load(assets)?;
    let mut libraries = BTreeMap::new();
    for language in &profile.practice.languages {
        libraries.insert(language.clone(), Library::of(&catalogue, language)?);
    }
    for language in libraries.keys() {
        for library in libraries.values() {
            library.locale.word(&format!("language.{language}"))?;
        }
    }
    for library in libraries.values() {
        if let Some(lost) = coverage::unknown_ids(jurisdiction, library).first() {
            let jurisdiction = profile.practice.jurisdiction.clone();
            return Err(PracticeError::NoSuchPart { jurisdiction, id: (*lost).to_owned() });
        }
    }
    Ok(libraries)
}

impl Parts {
    /// What a person should look at in the profile, although it holds nothing back.
    #[must_use]
    pub fn warnings(&self) -> &Remarks {
        &self.warnings
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

    /// What the facts of a record are derived from at a moment.
    #[must_use]
    pub fn source<'a>(&'a self, record: &'a Record, moment: Moment) -> Source<'a> {
        Source {
            record,
            profile: &self.profile,
            formulary: &self.formulary,
            sides: &self.sides,
            representative_below: self.jurisdiction.representative_below,
            beside: &beside::NOTHING,
            moment,
        }
    }

    /// The texts of a language.
    ///
    /// # Errors
    /// When the practice does not print in it: another region's variant may stand in, another language never.
    pub fn library(&self, language: &str) -> Result<&Library, NotPrinted> {
        let printed = &self.profile.practice.languages;
        let chosen = language::choose(language, printed.iter().map(String::as_str));
        chosen
            .and_then(|tag| self.libraries.get(tag))
            .ok_or_else(|| NotPrinted { language: language.to_owned(), printed: printed.clone() })
    }

    /// The language of the staff's pages: the first of the profile.
    #[must_use]
    pub fn staff_language(&self) -> &str {
        self.profile.practice.languages.first().map(String::as_str).unwrap_or_default()
    }

    /// Hash of everything a clinician confirms: thresholds, regimens, visits, choice of labels, and every file of
    /// rules, drugs, evidence, statements and wording, and the practice's own fonts.
    #[must_use]
    pub fn clinical_hash(&self) -> &str {
        &self.hash
    }

    /// Hash of what a profile says to readers, without its confirmation and the place of the register: names, phones and
    /// hours, which stand on pages, too.
    ///
    /// # Errors
    /// A value that JSON cannot hold; a profile that was loaded has none.
    pub fn profile_hash(&self) -> Result<String, serde_json::Error> {
        let mut profile = serde_json::to_value(&self.profile)?;
        for silent in ["confirmation", "register"] {
            profile.as_object_mut().and_then(|profile| profile.remove(silent));
        }
        let text = serde_json_canonicalizer::to_vec(&profile)?;
        Ok(hexadecimal(&Sha256::digest(text)))
    }

    fn computed_hash(&self) -> String {
        let profile = &self.profile;
        let mut values = serde_json::json!({
            "labels": profile.practice.labels,
            "thresholds": profile.thresholds,
            "regimens": profile.regimens,
            "visits": profile.visits,
        });
        // A practice that does not count its results keeps the hash it confirmed.
        if let Some(results) = &profile.results {
            values["results"] = serde_json::json!(results);
        }
        let mut hash = Sha256::new();
        add(&mut hash, "profile", &values.to_string());
        for path in self.confirmed_files() {
            for (layer, text) in self.assets.layers(&path) {
                add(&mut hash, &layer, &text);
            }
        }
        // What a digit looks like is part of what is confirmed.
        for (path, data) in self.assets.fonts() {
            add(&mut hash, path, &hexadecimal(&Sha256::digest(data)));
        }
        hexadecimal(&hash.finalize())
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
        // What only the front desk sees on its screen is no clinical value.
        let is_of_the_desk = |path: &String| path.starts_with("templates/desk/") || path.ends_with("/desk.toml");
        let files = rules.into_iter().filter(counts).chain(texts);
        files.filter(|path| !is_of_the_desk(path)).chain(fonts).collect()
    }

    /// How own results are counted, if the practice counts them: without a current confirmation no number of eyes is enough for
    /// a share.
    #[must_use]
    pub fn results_rule(&self) -> Option<ResultsRule> {
        let rule = self.profile.results.clone()?;
        Some(if self.confirmed() == Confirmed::Current { rule } else { rule.without_shares() })
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
