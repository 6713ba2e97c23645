//! The Helmholtz energy of IAPWS-95 and its derivatives.
//!
//! ```text
//! f/(RT) = φ°(δ,τ) + φʳ(δ,τ),   δ = ρ/ρ_c,  τ = T_c/T
//! φʳ = Σ n δ^d τ^t e^{−δ^c}                                     terms 1–51 (no exponential where c = 0)
//!    + Σ n δ^d τ^t e^{−α(δ−ε)² − β(τ−γ)²}                        terms 52–54
//!    + Σ n Δ^b δ e^{−C(δ−1)² − D(τ−1)²}                          terms 55–56
//!      Δ = θ² + B|δ−1|^{2a},   θ = (1−τ) + A|δ−1|^{1/β}
//! ```
//!
//! Source: IAPWS R6-95(2018), Tables 1 and 2. Every term is a product, so each is differentiated through its logarithm.
//! The coefficients were compared number by number with the `iapws` library 1.5.5 (Python, general purpose).

/// Critical temperature, K.
pub const CRITICAL_TEMPERATURE: f64 = 647.096;
/// Critical density, kg/m³.
pub const CRITICAL_DENSITY: f64 = 322.0;
/// Critical pressure, Pa.
pub const CRITICAL_PRESSURE: f64 = 22.064e6;
/// Specific gas constant of water in IAPWS-95, J/(kg K).
pub const GAS_CONSTANT: f64 = 461.518_05;

/// Dimensionless derivatives of φ°: itself, τφ_τ, τ²φ_ττ (those in δ are δφ_δ = 1, δ²φ_δδ = −1).
#[derive(Debug, Clone, Copy)]
pub struct IdealPart {
    /// φ°
    pub phi: f64,
    /// τ ∂φ°/∂τ
    pub t: f64,
    /// τ² ∂²φ°/∂τ²
    pub tt: f64,
}

/// Dimensionless derivatives of φʳ, each multiplied by the powers of δ and τ it was divided by.
#[derive(Debug, Clone, Copy, Default)]
pub struct ResidualPart {
    /// φʳ
    pub phi: f64,
    /// δ ∂φʳ/∂δ
    pub d: f64,
    /// δ² ∂²φʳ/∂δ²
    pub dd: f64,
    /// τ ∂φʳ/∂τ
    pub t: f64,
    /// τ² ∂²φʳ/∂τ²
    pub tt: f64,
    /// δτ ∂²φʳ/∂δ∂τ
    pub dt: f64,
}

impl ResidualPart {
    /// Adds a term `v` from the derivatives of its logarithm: first (times δ, τ), second (times δ², τ²), mixed (times δτ).
    #[inline]
    fn add(&mut self, v: f64, ld: f64, lt: f64, ldd: f64, ltt: f64, ldt: f64) {
        self.phi += v;
        self.d += v * ld;
        self.dd += v * (ld * ld + ldd);
        self.t += v * lt;
        self.tt += v * (lt * lt + ltt);
        self.dt += v * (ld * lt + ldt);
    }
}

struct Term {
    n: f64,
    d: i32,
    t: f64,
    c: i32,
}

const fn term(n: f64, d: i32, t: f64, c: i32) -> Term {
    Term { n, d, t, c }
}

/// n, d, t, c of terms 1 to 51 (R6-95 Table 2).
#[rustfmt::skip]
const TERMS: [Term; 51] = [
    term(0.012533547935523, 1, -0.5, 0),
    term(7.8957634722828, 1, 0.875, 0),
    term(-8.7803203303561, 1, 1.0, 0),
    term(0.31802509345418, 2, 0.5, 0),
    term(-0.26145533859358, 2, 0.75, 0),
    term(-0.0078199751687981, 3, 0.375, 0),
    term(0.0088089493102134, 4, 1.0, 0),
    term(-0.66856572307965, 1, 4.0, 1),
    term(0.20433810950965, 1, 6.0, 1),
    term(-6.6212605039687e-05, 1, 12.0, 1),
    term(-0.19232721156002, 2, 1.0, 1),
    term(-0.25709043003438, 2, 5.0, 1),
    term(0.16074868486251, 3, 4.0, 1),
    term(-0.040092828925807, 4, 2.0, 1),
    term(3.9343422603254e-07, 4, 13.0, 1),
    term(-7.5941377088144e-06, 5, 9.0, 1),
    term(0.00056250979351888, 7, 3.0, 1),
    term(-1.5608652257135e-05, 9, 4.0, 1),
    term(1.1537996422951e-09, 10, 11.0, 1),
    term(3.6582165144204e-07, 11, 4.0, 1),
    term(-1.3251180074668e-12, 13, 13.0, 1),
    term(-6.2639586912454e-10, 15, 1.0, 1),
    term(-0.10793600908932, 1, 7.0, 2),
    term(0.017611491008752, 2, 1.0, 2),
    term(0.22132295167546, 2, 9.0, 2),
    term(-0.40247669763528, 2, 10.0, 2),
    term(0.58083399985759, 3, 10.0, 2),
    term(0.0049969146990806, 4, 3.0, 2),
    term(-0.031358700712549, 4, 7.0, 2),
    term(-0.74315929710341, 4, 10.0, 2),
    term(0.4780732991548, 5, 10.0, 2),
    term(0.020527940895948, 6, 6.0, 2),
    term(-0.13636435110343, 6, 10.0, 2),
    term(0.014180634400617, 7, 10.0, 2),
    term(0.0083326504880713, 9, 1.0, 2),
    term(-0.029052336009585, 9, 2.0, 2),
    term(0.038615085574206, 9, 3.0, 2),
    term(-0.020393486513704, 9, 4.0, 2),
    term(-0.0016554050063734, 9, 8.0, 2),
    term(0.0019955571979541, 10, 6.0, 2),
    term(0.00015870308324157, 10, 9.0, 2),
    term(-1.638856834253e-05, 12, 8.0, 2),
    term(0.043613615723811, 3, 16.0, 3),
    term(0.034994005463765, 4, 22.0, 3),
    term(-0.076788197844621, 4, 23.0, 3),
    term(0.022446277332006, 5, 23.0, 3),
    term(-6.2689710414685e-05, 14, 10.0, 4),
    term(-5.5711118565645e-10, 3, 50.0, 6),
    term(-0.19905718354408, 6, 44.0, 6),
    term(0.31777497330738, 6, 46.0, 6),
    term(-0.11841182425981, 6, 50.0, 6),
];

/// n, t, β, γ of terms 52 to 54; d = 3, α = 20, ε = 1 in all three (R6-95 Table 2).
const GAUSSIAN: [(f64, f64, f64, f64); 3] =
    [(-31.306260323435, 0.0, 150.0, 1.21), (31.546140237781, 1.0, 150.0, 1.21), (-2521.3154341695, 4.0, 250.0, 1.25)];

/// n, b, C, D of terms 55 and 56; a = 3.5, B = 0.2, A = 0.32, β = 0.3 in both (R6-95 Table 2).
const NON_ANALYTIC: [(f64, f64, f64, f64); 2] =
    [(-0.14874640856724, 0.85, 28.0, 700.0), (0.31806110878444, 0.95, 32.0, 800.0)];

/// n°, γ° of the ideal-gas terms 4 to 8 (R6-95 Table 1, 2018 revision).
const IDEAL: [(f64, f64); 5] = [
    (0.012436, 1.28728967),
    (0.97315, 3.53734222),
    (1.27950, 7.74073708),
    (0.96956, 9.24437796),
    (0.24873, 27.5075105),
];

/// The ideal-gas part at reduced density `delta` and inverse reduced temperature `tau`.
pub fn ideal(delta: f64, tau: f64) -> IdealPart {
    let mut part = IdealPart {
        phi: delta.ln() - 8.320_446_483_749_7 + 6.683_210_527_593_2 * tau + 3.00632 * tau.ln(),
        t: 6.683_210_527_593_2 * tau + 3.00632,
        tt: -3.00632,
    };
    for (n, gamma) in IDEAL {
        let e = (-gamma * tau).exp();
        part.phi += n * (1.0 - e).ln();
        part.t += n * gamma * tau * e / (1.0 - e);
        part.tt -= n * (gamma * tau).powi(2) * e / ((1.0 - e) * (1.0 - e));
    }
    part
}

/// The residual part at reduced density `delta` and inverse reduced temperature `tau`.
pub fn residual(delta: f64, tau: f64) -> ResidualPart {
    let mut sum = ResidualPart::default();
    for &Term { n, d, t, c } in &TERMS {
        let (dc, cf, df) = (if c == 0 { 0.0 } else { delta.powi(c) }, f64::from(c), f64::from(d));
        let v = n * delta.powi(d) * tau.powf(t) * (-dc).exp();
        sum.add(v, df - cf * dc, t, -df - cf * (cf - 1.0) * dc, -t, 0.0);
    }
    let (u, s) = (delta - 1.0, tau - 1.0);
    for (n, t, beta, gamma) in GAUSSIAN {
        let q = tau - gamma;
        let v = n * delta.powi(3) * tau.powf(t) * (-20.0 * u * u - beta * q * q).exp();
        let (ld, lt) = (3.0 - 40.0 * delta * u, t - 2.0 * beta * tau * q);
        sum.add(v, ld, lt, -3.0 - 40.0 * delta * delta, -t - 2.0 * beta * tau * tau, 0.0);
    }
    non_analytic(&mut sum, delta, tau, u, s);
    sum
}

fn non_analytic(sum: &mut ResidualPart, delta: f64, tau: f64, u: f64, s: f64) {
    const A: f64 = 0.32;
    const B: f64 = 0.2;
    const P: f64 = 1.0 / 0.3;
    let w = u.abs();
    let theta = A * w.powf(P) - s;
    let theta_d = A * P * w.powf(P - 1.0) * u.signum();
    let theta_dd = A * P * (P - 1.0) * w.powf(P - 2.0);
    let big = theta * theta + B * w.powi(7);
    if big <= 0.0 {
        // Both terms vanish at the critical point itself; their derivatives there do not exist.
        return;
    }
    let big_d = 2.0 * theta * theta_d + 7.0 * B * w.powi(6) * u.signum();
    let big_dd = 2.0 * (theta_d * theta_d + theta * theta_dd) + 42.0 * B * w.powi(5);
    let (rd, rt) = (big_d / big, -2.0 * theta / big);
    for (n, b, c, d) in NON_ANALYTIC {
        let v = n * big.powf(b) * delta * (-c * u * u - d * s * s).exp();
        let ld = delta * (b * rd - 2.0 * c * u) + 1.0;
        let ldd = delta * delta * (b * (big_dd / big - rd * rd) - 2.0 * c) - 1.0;
        let lt = tau * (b * rt - 2.0 * d * s);
        let ltt = tau * tau * (b * (2.0 / big - rt * rt) - 2.0 * d);
        let ldt = delta * tau * b * (-2.0 * theta_d / big - rd * rt);
        sum.add(v, ld, lt, ldd, ltt, ldt);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn ref_parts_agree_with_the_release_table_6() {
        // IAPWS R6-95 Table 6 (from memory; the iapws library 1.5.5 gives the same digits).
        let cases = [
            (
                500.0,
                838.025,
                [
                    2.04797733,
                    9.04611106,
                    -1.93249185,
                    -3.42693206,
                    -0.364366650,
                    0.856063701,
                    -5.81403435,
                    -2.23440737,
                    -1.12176915,
                ],
            ),
            (
                647.0,
                358.0,
                [
                    -1.56319605,
                    9.80343918,
                    -3.43316334,
                    -1.21202657,
                    -0.714012024,
                    0.475730696,
                    -3.21722501,
                    -9.96029507,
                    -1.33214720,
                ],
            ),
        ];
        for (temperature, density, table) in cases {
            let (d, t) = (density / CRITICAL_DENSITY, CRITICAL_TEMPERATURE / temperature);
            let (i, r) = (ideal(d, t), residual(d, t));
            let ours = [
                i.phi,
                i.t / t,
                i.tt / (t * t),
                r.phi,
                r.d / d,
                r.dd / (d * d),
                r.t / t,
                r.tt / (t * t),
                r.dt / (d * t),
            ];
            for (ours, table) in ours.iter().zip(table) {
                assert_relative_eq!(*ours, table, max_relative = 5e-9); // half a unit of the ninth digit
            }
        }
    }

    #[test]
    fn analytic_derivatives_match_central_differences() {
        // The second point is near the critical one, where the last two terms are at work.
        for (d, t) in [(3.1, 2.2), (1.05, 0.98), (0.9, 1.03), (2.0, 1.3)] {
            let h = 1e-5;
            let r = residual(d, t);
            let at = |x: f64, y: f64| residual(d + x * h, t + y * h);
            assert_relative_eq!(r.d / d, (at(1.0, 0.0).phi - at(-1.0, 0.0).phi) / (2.0 * h), max_relative = 1e-6);
            assert_relative_eq!(r.t / t, (at(0.0, 1.0).phi - at(0.0, -1.0).phi) / (2.0 * h), max_relative = 1e-6);
            let slope_d = |p: ResidualPart, d: f64| p.d / d;
            let dd = (slope_d(at(1.0, 0.0), d + h) - slope_d(at(-1.0, 0.0), d - h)) / (2.0 * h);
            let dt = (slope_d(at(0.0, 1.0), d) - slope_d(at(0.0, -1.0), d)) / (2.0 * h);
            let tt = (at(0.0, 1.0).t / (t + h) - at(0.0, -1.0).t / (t - h)) / (2.0 * h);
            assert_relative_eq!(r.dd / (d * d), dd, max_relative = 1e-5);
            assert_relative_eq!(r.dt / (d * t), dt, max_relative = 1e-5);
            assert_relative_eq!(r.tt / (t * t), tt, max_relative = 1e-5);
        }
    }
}
