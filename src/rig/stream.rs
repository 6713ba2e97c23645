//! Water and air through one opening.

use crate::lanes::{Lanes, each};
use crate::laws::orifice;
use crate::parts::Fluid;
use crate::real::Real;
use wide::f64x4;

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

    /// From water and air and their slopes by `inputs`.
    #[inline(always)]
    fn new(flows: [f64; 2], inputs: [&T; 4], slopes: [[f64; 4]; 2]) -> Self {
        Stream { water: T::with_slopes(flows[0], inputs, slopes[0]), air: T::with_slopes(flows[1], inputs, slopes[1]) }
    }
}

/// What drives four openings, side by side: effective areas, pressure differences below which their flow turns linear
/// ([`SOFT_DP`]), and on both sides pressure and liquid share.
pub(super) struct Openings<'a, T> {
    pub area: [&'a T; 4],
    pub soft: [f64; 4],
    pub from: [&'a T; 4],
    pub to: [&'a T; 4],
    pub liquid_from: [&'a T; 4],
    pub liquid_to: [&'a T; 4],
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
        Stream::new(flows, inputs, slopes)
    }

    /// The streams through four openings, none of negative area, as [`Fluid::stream`] gives each.
    #[inline(always)]
    pub(super) fn four_streams<T: Real>(&self, o: &Openings<'_, T>) -> [Stream<T>; 4] {
        let four = |x: &[&T; 4]| f64x4::new([x[0].value(), x[1].value(), x[2].value(), x[3].value()]);
        let (from, to) = (four(&o.from), four(&o.to));
        let phi = from.where_less(to, four(&o.liquid_to), four(&o.liquid_from));
        let (flows, [water, air]) = self.separated(f64x4::new(o.soft), [four(&o.area), from, to, phi]);
        let (flows, water, air) = (each(flows), each(water), each(air));
        let one = |k: usize| {
            let forward = o.from[k].value() >= o.to[k].value();
            let phi = if forward { o.liquid_from[k] } else { o.liquid_to[k] };
            let inputs = [o.area[k], o.from[k], o.to[k], phi];
            Stream::new(flows[k], inputs, [water[k], air[k]])
        };
        // Not by `from_fn`, which is not inlined here.
        [one(0), one(1), one(2), one(3)]
    }

    /// Water and air through `area` from `p_a` to `p_b`, water on the share `phi`, and the slopes of both by these four.
    #[inline(always)]
    fn separated<V: Lanes>(&self, soft: V, [area, p_a, p_b, phi]: [V; 4]) -> ([V; 2], [[V; 4]; 2]) {
        let (zero, one) = (V::splat(0.0), V::splat(1.0));
        let dp = p_a - p_b;
        let square = dp * dp;
        let per_root = one / (square + soft * soft).sqrt().sqrt();
        let per_square = per_root * per_root * per_root * per_root;
        // 1 where the square root's law holds, 0 at rest.
        let free_share = square * per_square;
        let speed = dp * per_root * self.derived.root_density;
        let liquid = area * speed;
        let liquid_by = area * per_root * self.derived.root_density * (one - free_share * 0.5);
        let water = [phi * speed, phi * liquid_by, -phi * liquid_by, liquid];
        if phi.all_at_least(1.0) {
            return ([phi * liquid, zero], [water, [zero; 4]]);
        }
        // Below `soft` air moves no more volume than water would: the flow keeps its slope where it turns round.
        let forward = |yes: V, no: V| dp.where_less(zero, no, yes);
        let per_volume = self.derived.per_volume;
        let upstream = forward(p_a, p_b) * per_volume;
        let slow = liquid * upstream;
        let (slow_by, along) = (liquid_by * upstream, liquid * per_volume);
        let slow_by = [slow_by + forward(along, zero), forward(zero, along) - slow_by];
        let per_root_rt = self.derived.per_root_rt;
        let (free, free_by) = orifice::gas_slopes([area * per_root_rt, p_a, p_b]);
        let more = free - slow;
        let more_by = more * dp * 2.0 * (one - free_share) * per_square;
        let mixed = slow + more * free_share;
        // Where there is no air there is none to flow.
        let some = |x: V| phi.where_less(one, x, zero);
        let (gas, slow_share) = (one - phi, one - free_share);
        let air = [
            some(gas * (speed * upstream * slow_share + free_by[0] * per_root_rt * free_share)),
            some(gas * (slow_by[0] * slow_share + free_by[1] * free_share + more_by)),
            some(gas * (slow_by[1] * slow_share + free_by[2] * free_share - more_by)),
            some(-mixed),
        ];
        ([phi * liquid, some(gas * mixed)], [water, air])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::real::Dual;

    /// To the last bit: air choked and not, next to rest, backward, water alone, an opening that is shut.
    #[test]
    fn analytic_four_streams_side_by_side_are_each_as_alone() {
        let fluid = Fluid::new(293.15, 101_325.0);
        for (from, to) in
            [([9e5, 1.2e5, 101_328.0, 101_325.0], [101_325.0; 4]), ([101_325.0; 4], [4e5, 101_340.0, 2e5, 101_325.5])]
        {
            for share in [[1.0; 4], [0.0, 0.3, 1.0, 0.9], [0.5, 1.0, 0.0, 0.0]] {
                let (area, soft) = ([2e-5, 1e-4, 3e-6, 0.0], [SOFT_DP, SOFT_DP_WIDE, SOFT_DP, SOFT_DP]);
                let other = share.map(|x| 0.5 * x);
                let four = fluid.four_streams(&Openings {
                    area: area.each_ref(),
                    soft,
                    from: from.each_ref(),
                    to: to.each_ref(),
                    liquid_from: share.each_ref(),
                    liquid_to: other.each_ref(),
                });
                for k in 0..4 {
                    let alone = fluid.stream(area[k], soft[k], from[k], to[k], share[k], other[k]);
                    assert_eq!(four[k], alone, "{k}");
                }
            }
        }
    }

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
