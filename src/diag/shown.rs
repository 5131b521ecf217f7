//! A token of somebody's file, made safe to show on a terminal.

/// More characters than this are cut.
const MOST: usize = 40;

/// The token between backticks, cut to 40 characters, with control and direction characters written out as codes.
#[must_use]
pub fn shown(token: &str) -> String {
    let mut shown = String::from("`");
    for character in token.chars().take(MOST) {
        if is_visible(character) {
            shown.push(character);
        } else {
            shown.extend(character.escape_unicode());
        }
    }
    if token.chars().nth(MOST).is_some() {
        shown.push('…');
    }
    shown.push('`');
    shown
}

/// False for control characters and for those that change the direction or the line of what follows.
pub(crate) fn is_visible(character: char) -> bool {
    !character.is_control() && !is_layout_control(character)
}

/// Characters that change the direction of the text around them or break its line without being control characters.
pub(crate) fn is_layout_control(character: char) -> bool {
    matches!(character,
        '\u{061C}' | '\u{200E}' | '\u{200F}' | '\u{2028}' | '\u{2029}'
        | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_is_cut_and_cannot_steer_a_terminal() {
        assert_eq!(shown("a\u{1b}[2J\u{202E}b"), r"`a\u{1b}[2J\u{202e}b`");
        assert_eq!(shown(&"x".repeat(41)), format!("`{}…`", "x".repeat(40)));
    }
}
