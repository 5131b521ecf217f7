//! A text before it is filled, read with the lexer of the template engine itself: what it names, how deep and how long it
//! is. The engine's parser trusts a text; one of a practice may be anything.

use minijinja::machinery::{Span, Token, tokenize};
use minijinja::syntax::SyntaxConfig;

use crate::assets::{DEPTH, Kind, Problem};

/// Most characters of one text, in bytes.
pub const LONGEST: usize = 65_536;

/// Most words and signs between two braces: a row of operators nests as deep as it is long.
const LONGEST_TAG: usize = 512;

/// A text taken apart.
#[derive(Debug)]
pub struct Template<'t>(Vec<(Token<'t>, Span)>);

impl<'t> Template<'t> {
    /// Takes a text apart.
    ///
    /// # Errors
    /// What cannot be read, is nested too deep or is too long, with its line.
    pub fn read(text: &'t str) -> Result<Self, Problem> {
        if text.len() > LONGEST {
            return Err(Problem::new(Kind::Limit, format!("a text holds at most {LONGEST} bytes: cut it in two")));
        }
        let tokens = tokenize(text, false, SyntaxConfig::default()).collect::<Result<Vec<_>, _>>();
        let tokens = tokens.map_err(|error| {
            let problem = Problem::new(Kind::Syntax, error.to_string());
            error.line().into_iter().fold(problem, Problem::on_line)
        })?;
        limited(&tokens)?;
        Ok(Self(tokens))
    }

    /// The ids that calls of some functions name, in the order of the text: `about("x")` names `x`.
    ///
    /// # Errors
    /// Where a function is named otherwise than in a call with one id in quotes: nobody could tell what it names.
    pub fn ids(&self, functions: &[&str]) -> Result<Vec<String>, Problem> {
        let mut ids = Vec::new();
        for (at, (token, span)) in self.0.iter().enumerate() {
            let Token::Ident(name) = token else { continue };
            if functions.contains(name) {
                ids.push(called_with(&self.0[at + 1..]).ok_or_else(|| {
                    let what = format!("write {name}(\"id\") with the id of an evidence entry in quotes");
                    Problem::new(Kind::Syntax, what).on_line(line(*span))
                })?);
            }
        }
        Ok(ids)
    }

    /// The text as CommonMark sees it: a word for each value, nothing for each condition.
    #[must_use]
    pub fn prose(&self) -> String {
        let words = self.0.iter().map(|(token, _)| match token {
            Token::TemplateData(text) => *text,
            Token::VariableEnd => "x",
            _ => "",
        });
        words.collect()
    }
}

/// The one text in quotes within the parentheses that open here.
fn called_with(tokens: &[(Token, Span)]) -> Option<String> {
    let mut rest = tokens.iter().map(|(token, _)| token);
    let Some(Token::ParenOpen) = rest.next() else { return None };
    let id = match rest.next()? {
        Token::Str(id) => (*id).to_owned(),
        Token::String(id) => id.to_string(),
        _ => return None,
    };
    match rest.next()? {
        Token::ParenClose => Some(id),
        Token::Comma => matches!(rest.next(), Some(Token::ParenClose)).then_some(id),
        _ => None,
    }
}

/// Words that may begin a tag. Without loops and macros each sign works once, so a text takes no longer than it is long.
const TAGS: [&str; 5] = ["if", "elif", "else", "endif", "set"];

/// What stands open at a place of a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Open {
    /// The parentheses of a call.
    Call,
    /// Parentheses around a part.
    Part,
    /// A list.
    List,
}

/// Refuses what would take the engine deeper than its stack goes (brackets in brackets, conditions in conditions, a long row
/// of `elif`, each of which stands in the one before, a long row of operators), and what makes values out of values again
/// and again, so that a short text would grow without end.
fn limited(tokens: &[(Token, Span)]) -> Result<(), Problem> {
    let (mut open, mut conditions, mut length) = (Vec::new(), Vec::new(), 0);
    let mut before = None;
    for (at, (token, span)) in tokens.iter().enumerate() {
        if let Some(what) = odd(before, token, tokens.get(at + 1).map(|(token, _)| token), open.last()) {
            return Err(Problem::new(Kind::Syntax, what).on_line(line(*span)));
        }
        match (before, token) {
            (_, Token::TemplateData(_) | Token::VariableStart | Token::BlockStart) => {
                open.clear();
                length = 0;
            }
            (_, Token::BracketOpen) => open.push(Open::List),
            (before, Token::ParenOpen) => open.push(if is_name(before) { Open::Call } else { Open::Part }),
            (_, Token::ParenClose | Token::BracketClose) => _ = open.pop(),
            (Some(Token::BlockStart), Token::Ident(word)) => nest(&mut conditions, word),
            _ => {}
        }
        before = Some(token);
        length += 1;
        let problem = |what: String| Err(Problem::new(Kind::Limit, what).on_line(line(*span)));
        if open.len().max(conditions.iter().sum()) > DEPTH {
            return problem(format!("this is nested more than {DEPTH} deep: say it in fewer steps"));
        }
        if length > LONGEST_TAG {
            return problem(format!("more than {LONGEST_TAG} words and signs between two braces: cut it in two"));
        }
    }
    Ok(())
}

/// What has no place in a text, in words.
fn odd(before: Option<&Token>, token: &Token, next: Option<&Token>, open: Option<&Open>) -> Option<String> {
    let written = |token: Option<&Token>| matches!(token, Some(Token::Str(_) | Token::String(_) | Token::Int(_)));
    match token {
        Token::Ident(word) if matches!(before, Some(Token::BlockStart)) && !TAGS.contains(word) => {
            Some(format!("{word} has no place in a text: a tag begins with {}", TAGS.join(", ")))
        }
        Token::Pipe | Token::BraceOpen | Token::Mul | Token::Pow => Some(format!("{token} has no place in a text")),
        Token::Plus if !(written(next) || matches!(next, Some(Token::BracketOpen))) => {
            Some("after + stands a text in quotes, or a list in brackets".into())
        }
        Token::Comma if !matches!(open, Some(Open::Call | Open::List)) => {
            Some("several values stand in brackets".into())
        }
        _ if open == Some(&Open::List)
            && !(written(Some(token)) || matches!(token, Token::Comma | Token::BracketClose)) =>
        {
            Some("a list holds texts in quotes".into())
        }
        _ => None,
    }
}

/// Whether parentheses after it are those of a call.
fn is_name(token: Option<&Token>) -> bool {
    matches!(token, Some(Token::Ident(word)) if !matches!(*word, "if" | "elif" | "in" | "not" | "and" | "or" | "is" | "else"))
}

/// How many steps deep each open condition is, after the word that begins a tag.
fn nest(conditions: &mut Vec<usize>, word: &str) {
    match word {
        "if" => conditions.push(1),
        "elif" => {
            if let Some(depth) = conditions.last_mut() {
                *depth += 1;
            }
        }
        "endif" => _ = conditions.pop(),
        _ => {}
    }
}

fn line(span: Span) -> usize {
    usize::from(span.start_line)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ids(text: &str) -> Result<Vec<String>, Problem> {
        Template::read(text)?.ids(&["about", "source"])
    }

    /// Every notation that the engine accepts.
    #[test]
    fn an_id_is_found_however_it_is_written() {
        for text in [
            "{{ about(\"x\") }}",
            "{{about('x')}}",
            "{{- about ( 'x' , ) -}}",
            "{{\n  about(\n    \"x\"\n  )\n}}",
            "{% if about(\"x\") == \"y\" %}z{% endif %}",
            "{% set y = about('x') %}{{ y }}",
            "{{ about(\"\\u0078\") }}",
            "{{ (about('x')) }}",
            "{{ 'about' ~ about('x') }}",
            "{# about('y') #}{% raw %}{{ about('z') }}{% endraw %}{{ about('x') }}",
            "} {{ '}}' ~ about('x') }}",
        ] {
            assert_eq!(ids(text), Ok(vec!["x".to_owned()]), "{text}");
        }
        assert_eq!(ids("{{ about('x') }} about(\"y\"){{ source('z') }}"), Ok(vec!["x".to_owned(), "z".to_owned()]));
    }

    /// What only running the text could tell is refused, so that nothing is missed.
    #[test]
    fn an_id_that_nobody_can_read_is_refused_at_its_line() {
        for text in
            ["{{ about(x) }}", "{{ about('x' ~ 'y') }}", "{% set f = about %}{{ f('x') }}", "{{ about(id='x') }}"]
        {
            let problem = ids(&format!("one\ntwo\n{text}")).expect_err(text);
            assert_eq!((problem.kind, problem.line), (Kind::Syntax, Some(3)), "{text}");
        }
    }

    #[test]
    fn prose_is_what_stands_between_the_braces() {
        let text = "A {{ x }} b.\n{% if y %}{# no #}c{%- else %} d{% endif %}";
        assert_eq!(Template::read(text).unwrap().prose(), "A x b.\nc d");
    }

    /// Each of these makes values out of values: forty times over they would fill any memory, or take for ever.
    #[test]
    fn what_could_grow_without_end_is_refused() {
        for text in [
            "{% set a = a + a %}",
            "{% set a = [a, a] %}",
            "{% set a = (a, a) %}",
            "{% set a = a, a %}",
            "{% set a = {'a': a} %}",
            "{{ ['a'] * 9 }}",
            "{{ 9 ** 9 }}",
            "{{ a | upper }}",
            "{% for a in b %}{% endfor %}",
            "{% with a = b %}{% endwith %}",
            "{% macro a(b) %}{% endmacro %}",
            "{% set a %}{% endset %}",
        ] {
            let problem = Template::read(text).expect_err(text);
            assert_eq!((problem.kind, problem.line), (Kind::Syntax, Some(1)), "{text}");
        }
        for text in
            ["{% set a = a + ['b', 'c'] + ['d'] %}", "{{ a + 'b' ~ c }}", "{% if a in ['b'] and (c or d) %}{% endif %}"]
        {
            assert!(Template::read(text).is_ok(), "{text}");
        }
    }

    /// At the limit the engine itself reads the text, in a thread with the usual stack; one step beyond is refused.
    #[test]
    fn depth_and_length_have_a_limit() {
        let brackets = |n: usize| format!("{{{{ {}1{} }}}}", "(".repeat(n), ")".repeat(n));
        let conditions = |n: usize| format!("{}x{}", "{% if 1 %}".repeat(n), "{% endif %}".repeat(n));
        let row = |n: usize| format!("{{% if 1 %}}a{}{{% endif %}}", "{% elif 1 %}b".repeat(n - 1));
        let operators = |n: usize| format!("{{{{ {} }}}}", vec!["1"; n].join("-"));
        let nots = |n: usize| format!("{{{{ {}1 }}}}", "not ".repeat(n));
        let long = |n: usize| "a".repeat(n);
        let cases: [(&dyn Fn(usize) -> String, usize); 6] = [
            (&brackets, DEPTH),
            (&conditions, DEPTH),
            (&row, DEPTH),
            (&operators, 255),
            (&nots, 509),
            (&long, LONGEST),
        ];
        for (text, most) in cases {
            let fits = text(most);
            assert!(Template::read(&fits).is_ok(), "{fits:.60}");
            assert!(minijinja::Environment::new().render_str(&fits, ()).is_ok(), "{fits:.60}");
            for many in [most + 1, most * 100] {
                let problem = Template::read(&text(many)).expect_err("too deep");
                assert_eq!(problem.kind, Kind::Limit, "{:.60}", text(many));
            }
        }
    }
}
