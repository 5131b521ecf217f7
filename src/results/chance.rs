//! Numbers by chance that are the same every time.

/// SplitMix64 (Steele, Lea and Flood, OOPSLA 2014, from memory).
#[derive(Debug)]
pub(crate) struct Chance(u64);

impl Chance {
    /// Numbers that are the same every time, by their seed.
    pub(crate) fn of(seed: u64) -> Self {
        Self(seed)
    }

    /// A number above 0 and up to 1.
    pub(crate) fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^= mixed >> 31;
        ((mixed >> 11) as f64 + 1.0) / (1_u64 << 53) as f64
    }
}
