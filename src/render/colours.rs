//! The colours of drawings, those of `templates/pages/theme.typ`: a picture in a browser has none of its own.

/// Text and outlines.
pub(super) const INK: &str = "#16202a";
/// Lines and what is drawn grey.
pub(super) const RULE: &str = "#75828b";
/// What is meant.
pub(super) const ACCENT: &str = "#083f58";
/// Harm, and what must be kept free.
pub(super) const DANGER: &str = "#a81e16";
/// Light, clear tissue, and a likely range.
pub(super) const CLEAR: &str = "#b4cdd9";
/// A pale ground.
pub(super) const MIST: &str = "#e8f0f4";
/// The retina.
pub(super) const RETINA: &str = "#d98f80";
/// The nerve of the eye.
pub(super) const NERVE: &str = "#f6e2dc";
/// Paper.
pub(super) const WHITE: &str = "#ffffff";
/// Each drug of a calendar in its order.
pub(super) const DRUGS: [&str; 5] = [ACCENT, "#6a2371", "#4b5100", "#7a3a00", "#333333"];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colours_are_those_of_the_theme() {
        let theme = include_str!("../../templates/pages/theme.typ");
        let all = [INK, RULE, ACCENT, DANGER, CLEAR, MIST, RETINA, NERVE].into_iter().chain(DRUGS);
        all.for_each(|colour| assert!(theme.contains(colour), "{colour} is not in theme.typ"));
    }
}
