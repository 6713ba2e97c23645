//! Water and air through one opening.

use crate::laws::orifice;
use crate::parts::Fluid;
use crate::real::Real;

/// Pressure difference, Pa, below which an opening's flow turns linear, for water and air alike. Laminar transition of a
/// 0.1 mm leak: 30 Pa, of a 6 mm bore 0.01 Pa; a water surface across an opening holds `4 sigma / d`: 12 Pa at 25 mm,
/// 50 Pa at 6 mm. One value keeps the flow smooth where it changes direction, and with it its fluid; 10 Pa is 0.0015 psi.
pub const SOFT_DP: f64 = 10.0;
/// The same for the shutoffs, whose full bore lets any flow of interest through at a few pascals: 100 Pa is 0.015 psi.
pub const SOFT_DP_WIDE: f64 = 100.0;

/// Water and air through one opening, kg/s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stream<T> {
    /// Water.
    pub water: T,
    /// Air.
    pub air: T,
}

impl<T: Real> Stream<T> {
    pub(crate) fn none() -> Self {
        Stream { water: T::constant(0.0), air: T::constant(0.0) }
    }
}

impl Fluid {
    /// Separated flow from `a` to `b`: liquid over the share `phi` of the area upstream, air over the rest.
    #[inline]
    pub(crate) fn stream<T: Real>(&self, area: T, soft: f64, p_a: T, p_b: T, phi_a: T, phi_b: T) -> Stream<T> {
        // NaN goes on, and shows.
        if area.value() <= 0.0 {
            return Stream::none();
        }
        let phi = if p_a.value() >= p_b.value() { phi_a } else { phi_b };
        let inputs = [&area, &p_a, &p_b, &phi];
        let (flows, slopes) = self.separated(soft, inputs.map(|x| x.value()));
        Stream { water: T::with_slopes(flows[0], inputs, slopes[0]), air: T::with_slopes(flows[1], inputs, slopes[1]) }
    }

    /// Water and air through `area` from `p_a` to `p_b`, water on the share `phi`, and the slopes of both by these four.
    #[inline(always)]
    fn separated(&self, soft: f64, [area, p_a, p_b, phi]: [f64; 4]) -> ([f64; 2], [[f64; 4]; 2]) {
        let dp = p_a - p_b;
        let square = dp * dp;
        let per_root = 1.0 / (square + soft * soft).sqrt().sqrt();
        let per_square = per_root * per_root * per_root * per_root;
        // 1 where the square root's law holds, 0 at rest.
        let free_share = square * per_square;
        let speed = dp * per_root * self.derived.root_density;
        let liquid = area * speed;
        let liquid_by = area * per_root * self.derived.root_density * (1.0 - 0.5 * free_share);
        let water = [phi * speed, phi * liquid_by, -phi * liquid_by, liquid];
        if phi >= 1.0 {
            return ([phi * liquid, 0.0], [water, [0.0; 4]]);
        }
        // Below `soft` air moves no more volume than water would: the flow keeps its slope where it turns round.
        let forward = dp >= 0.0;
        let per_volume = self.derived.per_volume;
        let upstream = if forward { p_a } else { p_b } * per_volume;
        let slow = liquid * upstream;
        let (slow_by, along) = (liquid_by * upstream, liquid * per_volume);
        let slow_by = if forward { [slow_by + along, -slow_by] } else { [slow_by, along - slow_by] };
        let per_root_rt = self.derived.per_root_rt;
        let (free, free_by) = orifice::gas_slopes([area * per_root_rt, p_a, p_b]);
        let more = free - slow;
        let more_by = more * 2.0 * dp * (1.0 - free_share) * per_square;
        let mixed = slow + more * free_share;
        let (gas, slow_share) = (1.0 - phi, 1.0 - free_share);
        let air = [
            gas * (speed * upstream * slow_share + free_by[0] * per_root_rt * free_share),
            gas * (slow_by[0] * slow_share + free_by[1] * free_share + more_by),
            gas * (slow_by[1] * slow_share + free_by[2] * free_share - more_by),
            -mixed,
        ];
        ([phi * liquid, gas * mixed], [water, air])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::real::Dual;

    /// Water alone, both, air choked and not, next to rest, and each of them back.
    #[test]
    fn analytic_slopes_of_a_stream_match_central_differences() {
        let fluid = Fluid::new(293.15, 101_325.0);
        for drop in [3.0, 40.0, 2e3, 3e4, 5e5] {
            for (way, share) in [(1.0, 1.0), (-1.0, 1.0), (1.0, 0.7), (-1.0, 0.7), (1.0, 0.0), (-1.0, 0.0)] {
                let (high, low) = (101_325.0 + drop, 101_325.0);
                let (p_a, p_b) = if way > 0.0 { (high, low) } else { (low, high) };
                let at = [2e-5, p_a, p_b, share];
                let flow = |x: [f64; 4]| {
                    let s = fluid.stream(x[0], SOFT_DP_WIDE, x[1], x[2], x[3], x[3]);
                    [s.water, s.air]
                };
                let [area, a, b, phi] = [0, 1, 2, 3].map(|k| Dual::<4>::variable(at[k], k));
                let dual = fluid.stream(area, SOFT_DP_WIDE, a, b, phi, phi);
                for k in 0..4 {
                    let step = [2e-8, 1e-3 * drop, 1e-3 * drop, 1e-3][k];
                    let moved = |way: f64| {
                        let mut x = at;
                        x[k] += way * step;
                        flow(x)
                    };
                    let (up, down) = (moved(1.0), moved(-1.0));
                    for (i, slope) in [dual.water.eps[k], dual.air.eps[k]].into_iter().enumerate() {
                        // Beyond a share of 1 there is no air, and its slope is taken as 0 there.
                        if share == 1.0 && k == 3 && i == 1 {
                            continue;
                        }
                        let difference = (up[i] - down[i]) / (2.0 * step);
                        let size = flow(at)[i].abs() / step * 1e-6 + 1e-4 * difference.abs();
                        assert!(
                            (slope - difference).abs() <= size,
                            "{drop} {way} {share}: {k} {i}: {slope} {difference}"
                        );
                    }
                }
            }
        }
    }
}
