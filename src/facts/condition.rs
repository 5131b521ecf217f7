//! Conditions of the files in `templates/`: `lens == 'implant' and opening in ['small', 'very_small']`.
//!
//! Only enumerated facts may stand in a condition, so that every name and every word is checked when the file loads,
//! and every condition can be walked in full.

use std::collections::BTreeSet;

use super::{Facts, Kind, definitions};

/// A checked condition.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Condition(Node);

#[derive(Debug, Clone, PartialEq, Eq)]
enum Node {
    Always,
    Is(String, Vec<String>),
    Not(Box<Node>),
    All(Vec<Node>),
    Any(Vec<Node>),
}

/// True, false, or open because a fact was not recorded, or is absent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Truth {
    /// It holds.
    True,
    /// It does not hold.
    False,
    /// It hangs on a fact that was not recorded.
    Open,
}

impl Condition {
    /// The condition that always holds.
    #[must_use]
    pub fn always() -> Self {
        Self(Node::Always)
    }

    /// Reads and checks a condition.
    ///
    /// # Errors
    /// A sentence that says what is wrong: the syntax, a name that is no enumerated fact, or a word it cannot have.
    pub fn parse(text: &str) -> Result<Self, String> {
        let mut parser = Parser { tokens: tokens(text)?, at: 0 };
        let node = parser.any()?;
        match parser.tokens.get(parser.at) {
            None => Ok(Self(node)),
            Some(rest) => Err(format!("'{rest}' is not expected in the condition {text:?}")),
        }
    }

    /// Whether it holds; a fact that was not recorded has the word `unknown` and nothing else.
    #[must_use]
    pub fn holds(&self, facts: &Facts) -> bool {
        self.settled(facts) == Truth::True
    }

    /// As [`Condition::holds`], but open while it hangs on a fact that is absent, because the record lacks a required key.
    #[must_use]
    pub fn settled(&self, facts: &Facts) -> Truth {
        self.0.truth(facts, false)
    }

    /// Whether it holds, could hold, or cannot: a fact that was not recorded leaves it open.
    #[must_use]
    pub fn truth(&self, facts: &Facts) -> Truth {
        self.0.truth(facts, true)
    }

    /// Names of the facts it looks at.
    #[must_use]
    pub fn names(&self) -> BTreeSet<&str> {
        self.questions().into_iter().map(|(name, _)| name).collect()
    }

    /// Each fact it looks at with the words it looks for, once for every place where it does.
    #[must_use]
    pub fn questions(&self) -> Vec<(&str, &[String])> {
        let mut questions = Vec::new();
        self.0.collect(&mut questions);
        questions
    }
}

impl Node {
    fn truth(&self, facts: &Facts, open: bool) -> Truth {
        match self {
            Self::Always => Truth::True,
            Self::Is(name, words) => {
                let Some(value) = facts.word(name) else { return Truth::Open };
                if words.iter().any(|word| word == value) {
                    Truth::True
                } else if open && value == "unknown" {
                    Truth::Open
                } else {
                    Truth::False
                }
            }
            Self::Not(node) => match node.truth(facts, open) {
                Truth::True => Truth::False,
                Truth::False => Truth::True,
                Truth::Open => Truth::Open,
            },
            Self::All(nodes) => fold(nodes, facts, open, Truth::False),
            Self::Any(nodes) => fold(nodes, facts, open, Truth::True),
        }
    }

    fn collect<'a>(&'a self, questions: &mut Vec<(&'a str, &'a [String])>) {
        match self {
            Self::Always => {}
            Self::Is(name, words) => questions.push((name, words)),
            Self::Not(node) => node.collect(questions),
            Self::All(nodes) | Self::Any(nodes) => {
                nodes.iter().for_each(|node| node.collect(questions));
            }
        }
    }
}

/// `decisive` settles the whole (false for "and", true for "or"); failing that, one open part leaves it open.
fn fold(nodes: &[Node], facts: &Facts, open: bool, decisive: Truth) -> Truth {
    let truths: Vec<Truth> = nodes.iter().map(|node| node.truth(facts, open)).collect();
    if truths.contains(&decisive) {
        decisive
    } else if truths.contains(&Truth::Open) {
        Truth::Open
    } else if decisive == Truth::False {
        Truth::True
    } else {
        Truth::False
    }
}

/// Names, quoted words (kept with their opening quote) and the signs `== ( ) [ ] ,`.
fn tokens(text: &str) -> Result<Vec<String>, String> {
    let mut tokens = Vec::new();
    let mut rest = text.trim_start();
    while let Some(first) = rest.chars().next() {
        let length = match first {
            '\'' => rest[1..].find('\'').map(|end| end + 2).ok_or("a quote is not closed")?,
            '(' | ')' | '[' | ']' | ',' => 1,
            '=' if rest.starts_with("==") => 2,
            _ if first.is_ascii_alphabetic() => {
                rest.find(|c: char| !c.is_ascii_alphanumeric() && c != '_').unwrap_or(rest.len())
            }
            _ => return Err(format!("'{first}' cannot stand in a condition")),
        };
        tokens.push(rest[..length].trim_end_matches('\'').to_owned());
        rest = rest[length..].trim_start();
    }
    Ok(tokens)
}

struct Parser {
    tokens: Vec<String>,
    at: usize,
}

impl Parser {
    fn next(&mut self) -> Result<String, String> {
        let token = self.tokens.get(self.at).cloned().ok_or("the condition ends too early")?;
        self.at += 1;
        Ok(token)
    }

    fn accept(&mut self, wanted: &str) -> bool {
        let found = self.tokens.get(self.at).is_some_and(|token| token == wanted);
        self.at += usize::from(found);
        found
    }

    fn expect(&mut self, wanted: &str) -> Result<(), String> {
        match self.next()? {
            token if token == wanted => Ok(()),
            token => Err(format!("'{wanted}' is expected where '{token}' stands")),
        }
    }

    fn any(&mut self) -> Result<Node, String> {
        self.joined("or", Self::all, Node::Any)
    }

    fn all(&mut self) -> Result<Node, String> {
        self.joined("and", Self::one, Node::All)
    }

    fn joined(
        &mut self,
        joint: &str,
        part: fn(&mut Self) -> Result<Node, String>,
        whole: fn(Vec<Node>) -> Node,
    ) -> Result<Node, String> {
        let first = part(self)?;
        let mut nodes = vec![first];
        while self.accept(joint) {
            nodes.push(part(self)?);
        }
        Ok(if nodes.len() == 1 { nodes.remove(0) } else { whole(nodes) })
    }

    fn one(&mut self) -> Result<Node, String> {
        if self.accept("not") {
            return Ok(Node::Not(Box::new(self.one()?)));
        }
        if self.accept("(") {
            let node = self.any()?;
            self.expect(")")?;
            return Ok(node);
        }
        let name = self.next()?;
        let words = if self.accept("in") {
            self.words()?
        } else {
            self.expect("==")?;
            vec![self.word()?]
        };
        check(&name, &words)?;
        Ok(Node::Is(name, words))
    }

    fn words(&mut self) -> Result<Vec<String>, String> {
        self.expect("[")?;
        let mut words = vec![self.word()?];
        while self.accept(",") {
            words.push(self.word()?);
        }
        self.expect("]")?;
        Ok(words)
    }

    fn word(&mut self) -> Result<String, String> {
        let token = self.next()?;
        let word = token.strip_prefix('\'').map(str::to_owned);
        word.ok_or_else(|| format!("a word in single quotes is expected where '{token}' stands"))
    }
}

fn check(name: &str, words: &[String]) -> Result<(), String> {
    let Some(fact) = definitions().find(|fact| fact.name == name) else {
        return Err(format!("there is no fact called '{name}'"));
    };
    let Kind::Choice(allowed) = fact.kind else {
        return Err(format!("'{name}' is not an enumerated fact; use one of its bands"));
    };
    match words.iter().find(|word| !allowed.contains(&word.as_str())) {
        Some(word) => Err(format!("'{name}' is never '{word}'; it is one of {}", allowed.join(", "))),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unknown_names_and_words_are_refused() {
        for (text, part) in [
            ("lense == 'natural'", "no fact called 'lense'"),
            ("lens == 'nature'", "never 'nature'"),
            ("age == 'old'", "not an enumerated fact"),
            ("lens == natural", "single quotes"),
            ("lens = 'natural'", "cannot stand"),
            ("lens == 'natural' lens == 'none'", "not expected"),
            ("(lens == 'natural'", "ends too early"),
            ("", "ends too early"),
        ] {
            let error = Condition::parse(text).expect_err(text);
            assert!(error.contains(part), "{text}: {error}");
        }
    }

    #[test]
    fn names_are_those_it_looks_at() {
        let condition = Condition::parse("not (lens in ['natural', 'none'] or glaucoma == 'yes')").unwrap();
        assert_eq!(condition.names().into_iter().collect::<Vec<_>>(), ["glaucoma", "lens"]);
    }
}
