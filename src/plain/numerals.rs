//! Syllables of a numeral as it is read aloud: "53" is "fifty-three", "8:00" is "eight", "1,000" is "one thousand".

/// Syllables of the number words of one language.
#[derive(Debug)]
pub struct Numbers {
    /// 0 to 29 where the language has a word for each; later ones are tens and units.
    small: &'static [u32],
    /// 20, 30 .. 90.
    tens: [u32; 8],
    /// Between tens and units ("und", "y").
    joint: u32,
    /// 100, 200 .. 900 before other words.
    hundreds: [u32; 9],
    /// 100 with nothing after it ("cien").
    hundred_alone: u32,
    /// The word for a thousand.
    thousand: u32,
    /// The word for a million.
    million: u32,
    /// Whether the word for one is left out before a thousand.
    bare_thousand: bool,
    /// The word for the decimal mark.
    point: u32,
}

/// "Fifty-three".
pub const ENGLISH: Numbers = Numbers {
    small: &[2, 1, 1, 1, 1, 1, 1, 2, 1, 1, 1, 3, 1, 2, 2, 2, 2, 3, 2, 2],
    tens: [2, 2, 2, 2, 2, 3, 2, 2],
    joint: 0,
    hundreds: [3, 3, 3, 3, 3, 3, 4, 3, 3],
    hundred_alone: 3,
    thousand: 2,
    million: 2,
    bare_thousand: false,
    point: 1,
};

/// "Cincuenta y tres".
pub const SPANISH: Numbers = Numbers {
    small: &[2, 2, 1, 1, 2, 2, 1, 2, 2, 2, 1, 2, 2, 2, 3, 2, 3, 4, 4, 4, 2, 4, 3, 3, 4, 4, 3, 4, 4, 4],
    tens: [2, 2, 3, 3, 3, 3, 3, 3],
    joint: 1,
    hundreds: [2, 3, 3, 4, 3, 3, 4, 4, 4],
    hundred_alone: 1,
    thousand: 1,
    million: 2,
    bare_thousand: true,
    point: 2,
};

/// "Dreiundfünfzig".
pub const GERMAN: Numbers = Numbers {
    small: &[1, 1, 1, 1, 1, 1, 1, 2, 1, 1, 1, 1, 1, 2, 2, 2, 2, 2, 2, 2],
    tens: [2; 8],
    joint: 1,
    hundreds: [3, 3, 3, 3, 3, 3, 4, 3, 3],
    hundred_alone: 3,
    thousand: 2,
    million: 3,
    bare_thousand: false,
    point: 2,
};

/// Syllables of a word that begins with a digit and is nothing but digits and marks between them; none for another word.
#[must_use]
pub fn syllables(word: &str, numbers: &Numbers) -> Option<u32> {
    let marks = |c: char| matches!(c, '.' | ',' | ':' | '-' | '\u{a0}' | '\u{202f}');
    if !word.starts_with(|c: char| c.is_ascii_digit()) || !word.chars().all(|c| c.is_ascii_digit() || marks(c)) {
        return None;
    }
    let groups: Vec<&str> = word.split(marks).collect();
    let grouped = groups.len() > 1
        && groups[0] != "0"
        && groups[0].len() <= 3
        && groups[1..].iter().all(|group| group.len() == 3);
    if grouped {
        return Some(numbers.spoken(groups.concat().parse().ok()?));
    }
    let clock = word.contains([':', '-']);
    let mut total = 0;
    for (at, group) in groups.iter().enumerate() {
        let value: u64 = group.parse().ok()?;
        let silent = clock && at > 0 && value == 0;
        total += if silent { 0 } else { numbers.spoken(value) };
        total += if at > 0 && !clock { numbers.point } else { 0 };
    }
    Some(total)
}

impl Numbers {
    fn spoken(&self, value: u64) -> u32 {
        if value == 0 {
            return self.small[0];
        }
        let (millions, thousands, rest) = (value / 1_000_000, value / 1000 % 1000, value % 1000);
        let of_thousands = match thousands {
            0 => 0,
            1 if self.bare_thousand => self.thousand,
            _ => self.below_thousand(thousands) + self.thousand,
        };
        let of_millions = if millions == 0 { 0 } else { self.below_thousand(millions % 1000) + self.million };
        of_millions + of_thousands + self.below_thousand(rest)
    }

    fn below_thousand(&self, value: u64) -> u32 {
        if value == 100 {
            return self.hundred_alone;
        }
        let (hundreds, rest) = ((value / 100) as usize, (value % 100) as usize);
        let of_hundreds = if hundreds == 0 { 0 } else { self.hundreds[hundreds - 1] };
        let of_rest = match rest {
            0 => 0,
            rest if rest < self.small.len() => self.small[rest],
            rest if rest % 10 == 0 => self.tens[rest / 10 - 2],
            rest => self.tens[rest / 10 - 2] + self.joint + self.small[rest % 10],
        };
        of_hundreds + of_rest
    }
}
