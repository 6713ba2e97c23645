//! A thick cylinder with closed ends under inside pressure: stress, growth, first yield, collapse.
//!
//! ```text
//! hoop(a) = p (b²+a²)/(b²−a²)    hoop(b) = 2 p a²/(b²−a²)    axial = p a²/(b²−a²)       elastic (Lamé)
//! (1/V) dV/dp = [3(1−2ν) a² + 2(1+ν) b²] / [E (b²−a²)]                                  growth of the bore
//! p_y = k (1 − a²/b²)      p_c = 2 k ln(b/a)      k = Y/√3                              von Mises
//! p(c) = k [1 − c²/b² + 2 ln(c/a)]                                                      plastic out to radius c
//! ΔV/V (lasting) = (1/G) [k c²/a² − p(c) b²/(b²−a²)],   G = E/[2(1+ν)]
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | a, b | inner and outer radius | m |
//! | c | radius out to which the wall has yielded | m |
//! | E, ν, Y | modulus, Poisson's ratio, yield strength | Pa, 1, Pa |
//!
//! Source: Lamé's solution, as in any text on strength of materials; the elastic-plastic tube is the plane-strain solution
//! without hardening (R. Hill, *The Mathematical Theory of Plasticity*, ch. V, from memory). Its plastic part is taken as
//! incompressible, the elastic part is Lamé's with closed ends: at first yield the two meet. Long tube, small strains.

/// Wall of a tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cylinder {
    /// Inner radius, m.
    pub inner: f64,
    /// Outer radius, m.
    pub outer: f64,
    /// Modulus of elasticity, Pa.
    pub modulus: f64,
    /// Poisson's ratio.
    pub poisson: f64,
}

impl Cylinder {
    /// b² − a², m²: NaN unless 0 < a < b.
    fn wall(&self) -> f64 {
        let (a, b) = (self.inner, self.outer);
        if a > 0.0 && b > a { b * b - a * a } else { f64::NAN }
    }

    /// Hoop stress at the bore, Pa, under `pressure` Pa gauge.
    pub fn hoop_inside(&self, pressure: f64) -> f64 {
        pressure * (self.outer * self.outer + self.inner * self.inner) / self.wall()
    }

    /// Hoop stress at the outside, Pa.
    pub fn hoop_outside(&self, pressure: f64) -> f64 {
        2.0 * pressure * self.inner * self.inner / self.wall()
    }

    /// Axial stress with closed ends, Pa.
    pub fn axial(&self, pressure: f64) -> f64 {
        pressure * self.inner * self.inner / self.wall()
    }

    /// Equivalent stress of von Mises at the bore, closed ends, Pa.
    pub fn von_mises_inside(&self, pressure: f64) -> f64 {
        3f64.sqrt() * pressure * self.outer * self.outer / self.wall()
    }

    /// Radial displacement of the bore with closed ends, m.
    pub fn bore_displacement(&self, pressure: f64) -> f64 {
        // u/a = (hoop − ν (axial + radial))/E with radial stress −p at the bore.
        let strain = (self.hoop_inside(pressure) - self.poisson * (self.axial(pressure) - pressure)) / self.modulus;
        self.inner * strain
    }

    /// Elastic growth of the inner volume per volume and pressure, closed ends, 1/Pa.
    pub fn compliance(&self) -> f64 {
        let (a, b, nu) = (self.inner, self.outer, self.poisson);
        (3.0 * (1.0 - 2.0 * nu) * a * a + 2.0 * (1.0 + nu) * b * b) / (self.modulus * self.wall())
    }

    /// Pressure at which the bore starts to yield, Pa gauge, with yield strength `strength` Pa.
    pub fn first_yield(&self, strength: f64) -> f64 {
        strength / 3f64.sqrt() * self.wall() / (self.outer * self.outer)
    }

    /// Pressure at which the whole wall has yielded, Pa gauge: without hardening it grows at this pressure.
    pub fn collapse(&self, strength: f64) -> f64 {
        if self.wall().is_nan() {
            return f64::NAN;
        }
        2.0 * strength / 3f64.sqrt() * (self.outer / self.inner).ln()
    }

    /// Pressure, Pa gauge, that holds the wall plastic out to radius `c` m (clamped to the wall).
    pub fn pressure_at_plastic_radius(&self, strength: f64, c: f64) -> f64 {
        let c = c.max(self.inner).min(self.outer);
        strength / 3f64.sqrt() * (1.0 - (c / self.outer).powi(2) + 2.0 * (c / self.inner).ln())
    }

    /// Radius, m, out to which the wall is plastic at `pressure` Pa gauge: the bore below first yield, the outside from
    /// collapse on.
    pub fn plastic_radius(&self, strength: f64, pressure: f64) -> f64 {
        if !(pressure > self.first_yield(strength)) {
            return self.inner;
        }
        if pressure >= self.collapse(strength) {
            return self.outer;
        }
        let (mut low, mut high) = (self.inner, self.outer);
        let k = strength / 3f64.sqrt();
        let mut c = 0.5 * (low + high);
        for _ in 0..60 {
            let excess = self.pressure_at_plastic_radius(strength, c) - pressure;
            if excess > 0.0 {
                high = c;
            } else {
                low = c;
            }
            let newton = c - excess / (2.0 * k * (1.0 / c - c / (self.outer * self.outer)));
            let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
            if (next - c).abs() < 1e-15 * c {
                return next;
            }
            c = next;
        }
        c
    }

    /// Lasting growth of the inner volume, as a share of it, when the wall is plastic out to `c` m.
    pub fn plastic_growth(&self, strength: f64, c: f64) -> f64 {
        let k = strength / 3f64.sqrt();
        let per_shear = 2.0 * (1.0 + self.poisson) / self.modulus;
        let b2 = self.outer * self.outer;
        per_shear * (k * (c / self.inner).powi(2) - self.pressure_at_plastic_radius(strength, c) * b2 / self.wall())
    }

    /// Slope of [`Cylinder::plastic_growth`] by pressure, 1/Pa, at plastic radius `c` m; infinite at the outside.
    pub fn plastic_slope(&self, strength: f64, c: f64) -> f64 {
        let k = strength / 3f64.sqrt();
        let per_shear = 2.0 * (1.0 + self.poisson) / self.modulus;
        let b2 = self.outer * self.outer;
        let dp_dc = 2.0 * k * (1.0 / c - c / b2);
        per_shear * (2.0 * k * c / (self.inner * self.inner) / dp_dc - b2 / self.wall())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    const BODY: Cylinder = Cylinder { inner: 0.0125, outer: 0.0155, modulus: 97e9, poisson: 0.34 };

    #[test]
    fn analytic_plastic_pressure_runs_from_first_yield_to_collapse() {
        let y = 97e6;
        assert_relative_eq!(BODY.pressure_at_plastic_radius(y, 0.0125), BODY.first_yield(y), max_relative = 1e-12);
        assert_relative_eq!(BODY.pressure_at_plastic_radius(y, 0.0155), BODY.collapse(y), max_relative = 1e-12);
        assert!(BODY.plastic_growth(y, 0.0125).abs() < 1e-16);
        for p in [20e6, 22e6, 24e6] {
            let c = BODY.plastic_radius(y, p);
            assert_relative_eq!(BODY.pressure_at_plastic_radius(y, c), p, max_relative = 1e-12);
            let h = 1e3;
            let grown = |p| BODY.plastic_growth(y, BODY.plastic_radius(y, p));
            assert_relative_eq!(
                BODY.plastic_slope(y, c),
                (grown(p + h) - grown(p - h)) / (2.0 * h),
                max_relative = 1e-4
            );
        }
    }

    #[test]
    fn analytic_thin_wall_limit_of_the_compliance() {
        // (5 − 4ν) a/(2 E t) for a wall of a thousandth of the radius; the rest is of the order of t/a.
        let thin = Cylinder { inner: 1.0, outer: 1.001, modulus: 1e11, poisson: 0.3 };
        assert_relative_eq!(thin.compliance(), (5.0 - 4.0 * 0.3) / (2.0 * 1e11 * 1e-3), max_relative = 2e-3);
    }

    #[test]
    fn analytic_impossible_walls_give_nan() {
        let none = Cylinder { inner: 0.02, outer: 0.01, ..BODY };
        assert!(none.compliance().is_nan() && none.first_yield(1e6).is_nan() && none.collapse(1e6).is_nan());
    }
}
