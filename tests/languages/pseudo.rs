//! A language made from the source in code: every letter of the files is accented, so that a letter without an accent on a
//! page came from somewhere else. It is filed as Greek: CLDR then writes dates and times in letters that are not Latin.

use std::collections::BTreeMap;

use vitreoleaf::assets::Assets;

/// The tag it is filed under.
pub(crate) const TAG: &str = "el";

/// The files of the language, as a practice would add them.
pub(crate) fn files() -> BTreeMap<String, String> {
    let assets = Assets::default();
    let source = "locales/en-US/";
    let name = format!("[language]\n{TAG} = \"Pseudo\"\n");
    let mut files = BTreeMap::from([(format!("{source}words.toml"), name)]);
    let rules = ["plain.toml", "wording.toml", "glossary.toml"];
    for path in assets.under(source).into_iter().filter(|path| !rules.iter().any(|file| path.ends_with(file))) {
        let text = assets.get(&path).unwrap();
        let text = match path.ends_with(".toml") {
            true => words(toml::from_str(&text).unwrap()),
            false => turned(&text, accent),
        };
        files.insert(path.replace("en-US", TAG), text);
    }
    files
}

fn words(mut table: toml::Table) -> String {
    bracket(&mut table);
    table["language"].as_table_mut().unwrap().insert(TAG.into(), "[Ṗšéúđó]".into());
    toml::to_string(&table).unwrap()
}

fn bracket(table: &mut toml::Table) {
    for (_, value) in table.iter_mut() {
        match value {
            toml::Value::Table(inner) => bracket(inner),
            toml::Value::String(text) => *text = format!("«{}»", turned(text, accent)),
            _ => {}
        }
    }
}

/// What Arabic does not have yet of statements and words, each letter turned into an Arabic one: the pages of a language that is
/// written from right to left can be laid out before they are translated.
pub(crate) fn arabic_stand_ins() -> BTreeMap<String, String> {
    const LETTERS: &str = "ابتثجحخدذرزسشصضطظعغفقكلمنه";
    let arabic = |letter: char| {
        let at = u32::from(letter.to_ascii_lowercase()).checked_sub(u32::from('a'));
        at.and_then(|at| LETTERS.chars().nth(at as usize)).unwrap_or(letter)
    };
    let assets = Assets::default();
    let paths = assets.under("locales/en-US/statements/").into_iter();
    let missing = paths.filter(|path| assets.get(&path.replace("en-US", "ar")).is_none());
    let statements = missing.map(|path| (path.replace("en-US", "ar"), turned(&assets.get(&path).unwrap(), arabic)));
    let of = |tag: &str| toml::from_str(&assets.get(&format!("locales/{tag}/words.toml")).unwrap()).unwrap();
    let words = lacking(of("en-US"), &of("ar"), &|text| turned(text, arabic));
    statements.chain([("locales/ar/words.toml".into(), toml::to_string(&words).unwrap())]).collect()
}

/// The words of one table that another lacks.
fn lacking(of: toml::Table, there: &toml::Table, turn: &impl Fn(&str) -> String) -> toml::Table {
    let keep = of.into_iter().filter_map(|(key, value)| match (value, there.get(&key)) {
        (toml::Value::Table(inner), found) if !inner.contains_key("other") => {
            let empty = toml::Table::new();
            let inner = lacking(inner, found.and_then(toml::Value::as_table).unwrap_or(&empty), turn);
            (!inner.is_empty()).then_some((key, toml::Value::Table(inner)))
        }
        (toml::Value::Table(counted), None) => Some((key, toml::Value::Table(in_arabic_counts(&counted, turn)))),
        (toml::Value::String(text), None) => Some((key, toml::Value::String(turn(&text)))),
        _ => None,
    });
    keep.collect()
}

/// The text of many in every plural category of Arabic (CLDR).
fn in_arabic_counts(counted: &toml::Table, turn: &impl Fn(&str) -> String) -> toml::Table {
    let other = turn(counted["other"].as_str().unwrap());
    let counts = ["zero", "one", "two", "few", "many", "other"];
    counts.map(|count| (count.to_owned(), toml::Value::String(other.clone()))).into_iter().collect()
}

/// A text with the letters outside braces turned, and those inside the texts of lists within them.
fn turned(text: &str, letter_of: impl Fn(char) -> char) -> String {
    let (mut out, mut depth, mut in_list, mut quoted) = (String::new(), 0, false, false);
    for letter in text.chars() {
        match letter {
            '{' => depth += 1,
            '}' => depth -= 1,
            '[' if depth > 0 => in_list = out.ends_with("reasons + "),
            ']' => in_list = false,
            '"' if in_list => quoted = !quoted,
            _ => {}
        }
        out.push(if depth == 0 || quoted { letter_of(letter) } else { letter });
    }
    out
}

fn accent(letter: char) -> char {
    const PLAIN: &str = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ";
    const ACCENTED: &str = "àƀćđéƒğħíĵķłṁñóṗɋřšţúṽŵẋýžÀƁĆĐÉƑĞĦÍĴĶŁṀÑÓṖɊŘŠŢÚṼŴẊÝŽ";
    PLAIN.chars().position(|plain| plain == letter).and_then(|at| ACCENTED.chars().nth(at)).unwrap_or(letter)
}
