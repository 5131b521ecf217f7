//! The boxes of the drop calendar for HTML: each drug has the shape and the colour that it has on paper.

use super::colours::DRUGS;

/// Outlines in a square of 24: circle, square, triangle, diamond, hexagon.
const OUTLINES: [&str; 5] = [
    "<circle cx=\"12\" cy=\"12\" r=\"10\"",
    "<path d=\"M2 2h20v20h-20z\"",
    "<path d=\"M12 2l10 19h-20z\"",
    "<path d=\"M12 2l10 10l-10 10l-10-10z\"",
    "<path d=\"M7 3h10l5 9l-5 9h-10l-5-9z\"",
];

const CHECK: &str = "<path d=\"M7 12.500l4 4l6.500-8\" fill=\"none\" stroke=\"#fff\" stroke-width=\"2.500\"/>";

/// The shape of a drug, empty to be ticked or filled with a check mark. The words beside it say what it stands for.
pub(super) fn shape(number: usize, given: bool) -> String {
    let (outline, colour) = (OUTLINES[number % OUTLINES.len()], DRUGS[number % DRUGS.len()]);
    let (fill, check, title) = if given { (colour, CHECK, "☑") } else { ("#fff", "", "☐") };
    let drawn = format!("{outline} fill=\"{fill}\" stroke=\"{colour}\" stroke-width=\"2\"/>{check}");
    format!("<svg role=\"img\" class=\"box\" viewBox=\"0 0 24 24\"><title>{title}</title>{drawn}</svg> ")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As on paper: the sixth drug has the shape of the first again; what was given is filled and checked.
    #[test]
    fn shapes_come_again() {
        assert_eq!(shape(0, false), shape(5, false));
        assert_ne!(shape(0, false), shape(1, false));
        assert!(shape(2, true).contains(CHECK) && !shape(2, false).contains(CHECK));
    }
}
