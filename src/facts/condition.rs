//! Conditions of the files in `templates/`: `lens == 'implant' and opening in ['small', 'very_small']`.
//!
//! Only enumerated facts may stand in a condition, so that every name and every word is checked when the file loads,
//! and every condition can be walked in full.

use std::collections::BTreeSet;

use thiserror::Error;

use super::{Facts, Kind, definition};
use crate::assets::{self, DEPTH};

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

/// What is wrong with a condition.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum ConditionError {
    /// A quote without its end.
    #[error("a quote is not closed")]
    OpenQuote,
    /// A sign that means nothing here.
    #[error("'{0}' cannot stand in a condition")]
    Sign(char),
    /// Something is missing at the end.
    #[error("the condition ends too early")]
    EndsEarly,
    /// Something else stands where a sign or word has to be.
    #[error("'{wanted}' is expected where '{found}' stands")]
    Expected {
        /// What has to stand there.
        wanted: String,
        /// What stands there.
        found: String,
    },
    /// A word without quotes.
    #[error("a word in single quotes is expected where '{0}' stands")]
    NotQuoted(String),
    /// Something follows a condition that is whole.
    #[error("'{found}' is not expected in the condition {condition:?}")]
    Unexpected {
        /// What follows.
        found: String,
        /// The condition.
        condition: String,
    },
    /// No fact has this name.
    #[error("there is no fact called '{0}'")]
    UnknownFact(String),
    /// A fact that is a number, a date or a text.
    #[error("'{0}' is not an enumerated fact; use one of its bands")]
    NotEnumerated(String),
    /// A word that the fact never has.
    #[error("'{fact}' is never '{word}'; it is one of {allowed}")]
    UnknownWord {
        /// Name of the fact.
        fact: String,
        /// The word.
        word: String,
        /// The words it can have.
        allowed: String,
    },
    /// Too many parentheses or "not" within each other.
    #[error("the condition is nested more than {DEPTH} deep: say it in fewer steps")]
    TooDeep,
}

impl ConditionError {
    /// What kind of problem it is in the file that holds the condition.
    #[must_use]
    pub fn kind(&self) -> assets::Kind {
        match self {
            Self::UnknownFact(_) | Self::UnknownWord { .. } => assets::Kind::UnknownName,
            Self::NotEnumerated(_) => assets::Kind::Value,
            Self::TooDeep => assets::Kind::Limit,
            _ => assets::Kind::Syntax,
        }
    }
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
    pub fn parse(text: &str) -> Result<Self, ConditionError> {
        let mut parser = Parser { tokens: tokens(text)?, at: 0, depth: 0 };
        let node = parser.any()?;
        match parser.tokens.get(parser.at) {
            None => Ok(Self(node)),
            Some(rest) => Err(ConditionError::Unexpected { found: rest.clone(), condition: text.to_owned() }),
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
fn tokens(text: &str) -> Result<Vec<String>, ConditionError> {
    let mut tokens = Vec::new();
    let mut rest = text.trim_start();
    while let Some(first) = rest.chars().next() {
        let length = match first {
            '\'' => rest[1..].find('\'').map(|end| end + 2).ok_or(ConditionError::OpenQuote)?,
            '(' | ')' | '[' | ']' | ',' => 1,
            '=' if rest.starts_with("==") => 2,
            _ if first.is_ascii_alphabetic() => {
                rest.find(|c: char| !c.is_ascii_alphanumeric() && c != '_').unwrap_or(rest.len())
            }
            _ => return Err(ConditionError::Sign(first)),
        };
        tokens.push(rest[..length].trim_end_matches('\'').to_owned());
        rest = rest[length..].trim_start();
    }
    Ok(tokens)
}

struct Parser {
    tokens: Vec<String>,
    at: usize,
    /// How many parentheses and "not" are open here.
    depth: usize,
}

impl Parser {
    fn next(&mut self) -> Result<String, ConditionError> {
        let token = self.tokens.get(self.at).cloned().ok_or(ConditionError::EndsEarly)?;
        self.at += 1;
        Ok(token)
    }

    fn accept(&mut self, wanted: &str) -> bool {
        let found = self.tokens.get(self.at).is_some_and(|token| token == wanted);
        self.at += usize::from(found);
        found
    }

    fn expect(&mut self, wanted: &str) -> Result<(), ConditionError> {
        match self.next()? {
            token if token == wanted => Ok(()),
            found => Err(ConditionError::Expected { wanted: wanted.to_owned(), found }),
        }
    }

    fn any(&mut self) -> Result<Node, ConditionError> {
        self.joined("or", Self::all, Node::Any)
    }

    fn all(&mut self) -> Result<Node, ConditionError> {
        self.joined("and", Self::one, Node::All)
    }

    fn joined(
        &mut self,
        joint: &str,
        part: fn(&mut Self) -> Result<Node, ConditionError>,
        whole: fn(Vec<Node>) -> Node,
    ) -> Result<Node, ConditionError> {
        let first = part(self)?;
        let mut nodes = vec![first];
        while self.accept(joint) {
            nodes.push(part(self)?);
        }
        Ok(if nodes.len() == 1 { nodes.remove(0) } else { whole(nodes) })
    }

    fn one(&mut self) -> Result<Node, ConditionError> {
        if self.accept("not") {
            return Ok(Node::Not(Box::new(self.deeper(Self::one)?)));
        }
        if self.accept("(") {
            let node = self.deeper(Self::any)?;
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

    /// Deeper conditions would exhaust the stack, and nobody reads them.
    fn deeper(&mut self, part: fn(&mut Self) -> Result<Node, ConditionError>) -> Result<Node, ConditionError> {
        if self.depth == DEPTH {
            return Err(ConditionError::TooDeep);
        }
        self.depth += 1;
        let node = part(self);
        self.depth -= 1;
        node
    }

    fn words(&mut self) -> Result<Vec<String>, ConditionError> {
        self.expect("[")?;
        let mut words = vec![self.word()?];
        while self.accept(",") {
            words.push(self.word()?);
        }
        self.expect("]")?;
        Ok(words)
    }

    fn word(&mut self) -> Result<String, ConditionError> {
        let token = self.next()?;
        let word = token.strip_prefix('\'').map(str::to_owned);
        word.ok_or(ConditionError::NotQuoted(token))
    }
}

fn check(name: &str, words: &[String]) -> Result<(), ConditionError> {
    let Some(fact) = definition(name) else {
        return Err(ConditionError::UnknownFact(name.to_owned()));
    };
    let Kind::Choice(allowed) = fact.kind else {
        return Err(ConditionError::NotEnumerated(name.to_owned()));
    };
    match words.iter().find(|word| !allowed.contains(&word.as_str())) {
        Some(word) => {
            Err(ConditionError::UnknownWord { fact: name.to_owned(), word: word.clone(), allowed: allowed.join(", ") })
        }
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
            let error = Condition::parse(text).expect_err(text).to_string();
            assert!(error.contains(part), "{text}: {error}");
        }
    }

    /// At the limit, just beyond and far beyond, in a thread with the usual stack.
    #[test]
    fn depth_has_a_limit() {
        let parentheses = |n: usize| format!("{}lens == 'natural'{}", "(".repeat(n), ")".repeat(n));
        let nots = |n: usize| format!("{}lens == 'natural'", "not ".repeat(n));
        for text in [&parentheses as &dyn Fn(usize) -> String, &nots] {
            assert!(Condition::parse(&text(DEPTH)).is_ok());
            for n in [DEPTH + 1, 2_700, 100_000] {
                assert_eq!(Condition::parse(&text(n)), Err(ConditionError::TooDeep), "{n}");
            }
        }
    }

    #[test]
    fn names_are_those_it_looks_at() {
        let condition = Condition::parse("not (lens in ['natural', 'none'] or glaucoma == 'yes')").unwrap();
        assert_eq!(condition.names().into_iter().collect::<Vec<_>>(), ["glaucoma", "lens"]);
    }
}
