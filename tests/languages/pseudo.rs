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
    let unread = ["desk.toml", "plain.toml", "wording.toml", "glossary.toml"]; // by patients
    for path in assets.under(source).into_iter().filter(|path| !unread.iter().any(|file| path.ends_with(file))) {
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
