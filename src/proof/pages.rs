//! What patients read over many whole records: each page read aloud, each text judged once.

use std::collections::{BTreeMap, BTreeSet};

use super::Fault;
use super::wording::{Hit, Voice, Weekdays, Wording};
use crate::document::part::Part;
use crate::document::reading::{self, Passage};
use crate::facts::Moment;
use crate::packet::Case;
use crate::plain::measure::Measure;
use crate::plain::score::Scored;
use crate::plain::{JudgeError, names, score};
use crate::practice::{Checked, Practice};
use crate::record::Record;

/// Reads the pages of these records in one language: wording, weekdays, medical words, voice, and how plain each
/// statement is.
///
/// # Errors
/// When the practice does not print in the language, or the rules of the language cannot be read.
pub fn faults(
    practice: &Practice,
    language: &str,
    records: &[(Checked<Record>, Moment)],
) -> Result<Vec<Fault>, JudgeError> {
    let library = practice.library(language)?;
    let mut reader = Reader {
        wording: Wording::load(&practice.assets, library.lineage())?,
        measure: Measure::load(&practice.assets, library.lineage())?,
        weekdays: Weekdays::new(&library.locale),
        seen: BTreeSet::new(),
        voices: BTreeMap::new(),
        faults: BTreeSet::new(),
    };
    for (record, moment) in records {
        let mut record = Record::clone(record);
        language.clone_into(&mut record.patient.language);
        if let Err(error) = reader.record(record, practice, *moment) {
            reader.faults.insert(Fault::new("cases", format!("a page cannot be made: {error}")));
        }
    }
    Ok(reader.faults.into_iter().collect())
}

struct Reader<'l> {
    wording: Wording,
    measure: Measure,
    weekdays: Weekdays<'l>,
    /// Lines of a page and texts of a statement that were judged already.
    seen: BTreeSet<(String, Vec<String>)>,
    voices: BTreeMap<String, Voice>,
    faults: BTreeSet<Fault>,
}

impl Reader<'_> {
    fn record(&mut self, record: Record, practice: &Practice, moment: Moment) -> Result<(), JudgeError> {
        let checked = Checked::of_right_form(record, practice.clone()).map_err(JudgeError::Record)?;
        self.page(&Case::new(&checked, moment)?)
    }

    fn page(&mut self, case: &Case) -> Result<(), JudgeError> {
        let document = case.unissued()?;
        let names = names::of(case);
        let page = reading::read(&document);
        let word = document.page.word();
        let mut hits = self.wording.unexplained(&page);
        hits.extend(self.passive(&page));
        hits.extend(self.weekdays.wrong_in_calendars(&document));
        self.add(word, hits);
        for Passage { id, text, .. } in page.iter().filter(|passage| passage.block != "references") {
            self.words(if id.is_empty() { word } else { id }, text, &names);
        }
        for (id, texts) in score::statements(&page) {
            self.statement(&id, texts, &names);
        }
        for passage in page.iter().filter(|passage| passage.id.is_empty() || Part::is(&passage.id)) {
            self.own_words(word, passage, &names);
        }
        Ok(())
    }

    /// The page's own words and those of the practice are too short to be scored one by one; their sentences are measured.
    fn own_words(&mut self, page: &str, passage: &Passage, names: &[String]) {
        if let Some(scored) = self.scored(page, passage.running.clone(), names) {
            self.sentences(page, &scored);
        }
    }

    /// Too many passive sentences on a page; each text is cut into its sentences once.
    fn passive(&mut self, page: &[Passage]) -> Option<Hit> {
        let mut voices = Vec::new();
        for text in page.iter().flat_map(|passage| &passage.running) {
            let known = self.voices.get(text).cloned();
            let voice = known.unwrap_or_else(|| self.wording.voice(text, &self.measure.stops));
            self.voices.insert(text.clone(), voice.clone());
            voices.push(voice);
        }
        self.wording.passive(&voices)
    }

    fn words(&mut self, id: &str, text: &str, names: &[String]) {
        if self.seen.insert((id.to_owned(), vec![text.to_owned()])) {
            let mut hits = self.wording.lines(&names::left_out(text, names));
            hits.extend(self.weekdays.wrong(text));
            self.add(id, hits);
        }
    }

    fn statement(&mut self, id: &str, texts: Vec<String>, names: &[String]) {
        let Some(scored) = self.scored(id, texts, names) else { return };
        for score in scored.scores.iter().filter(|score| !score.passes) {
            let value = score.value.unwrap_or_default();
            self.faults.insert(Fault::new(id, format!("not plain enough: {} is {value:.1}", score.formula.name())));
        }
        self.sentences(id, &scored);
    }

    /// The score of texts that were not judged before.
    fn scored(&mut self, id: &str, texts: Vec<String>, names: &[String]) -> Option<Scored> {
        if self.seen.contains(&(id.to_owned(), texts.clone())) {
            return None;
        }
        let left: Vec<String> = texts.iter().map(|text| names::left_out(text, names)).collect();
        self.seen.insert((id.to_owned(), texts));
        Some(score::scored(&left, &self.measure))
    }

    fn sentences(&mut self, id: &str, scored: &Scored) {
        let most = self.measure.longest_sentence;
        let long = scored.long_sentences.iter().map(|sentence| format!("more than {most} words: {sentence}"));
        let unknown = scored.unknown_words.iter().map(|word| format!("plain.toml lacks the syllables of \"{word}\""));
        let faults = long.chain(unknown).map(|what| Fault::new(id, format!("not plain enough: {what}")));
        self.faults.extend(faults);
    }

    fn add(&mut self, id: &str, hits: Vec<Hit>) {
        self.faults.extend(hits.into_iter().map(|hit| Fault::new(id, format!("{}: {}", hit.rule, hit.what))));
    }
}
