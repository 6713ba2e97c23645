//! What a tester sees besides the readings, and what stays of a try.

use super::act::Part;
use super::log::{Happening, Work};
use super::reading::Single;
use super::{Observed, Try};
use crate::bench::sequence::DRIPS;
use crate::rig::{Balance, Layout, Part as RigPart, Rig, SHARP_EDGE, What, ledger};

pub(super) fn is(h: &Happening, part: RigPart, what: What) -> bool {
    h.part == part && h.what == what
}

pub(super) fn empty() -> Observed {
    Observed {
        opened_in_check_step: false,
        opened_by_itself: false,
        inlet_lift_share: 0.0,
        full_open_s: None,
        full_open_m3: None,
        cock_flow_m3_s: None,
        check_fall_pa_s: None,
        check_fell_pa: None,
        zone2_vented_s: None,
        dribble_m3: 0.0,
        gauge_peak_pa: 0.0,
        outside_leak_m3_s: 0.0,
    }
}

pub(super) fn observe(rig: &Rig, work: &Work, singles: &[Single]) -> Observed {
    let opened = work.happenings.iter().find(|h| is(h, RigPart::AirInlet, What::StartsToOpen));
    let check = singles.iter().find(|s| s.part == Part::Check);
    let highest = |get: fn(&super::Point) -> f64, from: f64| {
        work.trace.iter().filter(|p| p.t_s >= from).map(get).fold(0.0, f64::max)
    };
    // Where zone 1 shuts the air inlet and the check is read first, an opening before that is a weak check's.
    let first = singles.first().is_some_and(|s| s.part == Part::Check);
    let in_check_step = match (check, opened) {
        (Some(c), Some(o)) => rig.shutting_zone() == 1 && first && o.t_s < c.t_s,
        _ => false,
    };
    let spilled = Layout::of(rig).dim() + super::stand::STATES + ledger::SPILLED;
    let until = opened.map(|o| &o.y).or(work.takes.last().map(|t| &t.read.1));
    let dribbled = until.and_then(|y| y.get(spilled)).copied().unwrap_or(0.0);
    Observed {
        opened_in_check_step: in_check_step,
        opened_by_itself: opened.is_some_and(|o| !o.bleeding),
        inlet_lift_share: opened.map_or(0.0, |o| highest(|p| p.air_inlet_travel_m, o.t_s) / rig.inlet.poppet.lift),
        full_open_s: work.lifted.map(|l| l.1),
        full_open_m3: work.lifted.map(|l| l.0),
        cock_flow_m3_s: check.map(|c| c.cock_flow_m3_s),
        check_fall_pa_s: check.map(|c| c.rate_pa_s),
        check_fell_pa: work.settled_pa.zip(check).map(|(from, c)| from - c.left_at_pa),
        zone2_vented_s: work.vented_s,
        dribble_m3: dribbled.max(0.0) / rig.fluid.density,
        gauge_peak_pa: highest(|p| p.gauge_pa, 0.0),
        outside_leak_m3_s: outside_leak(rig),
    }
}

/// Water that runs out of cracks and torn rings before anything is touched, m3/s; 0 where it does not even drip.
fn outside_leak(rig: &Rig) -> f64 {
    let [zone1, zone2, _] = rig.initial_pressure;
    let through = |area: f64, gauge: f64| SHARP_EDGE * area * (2.0 * gauge.max(0.0) / rig.fluid.density).sqrt();
    let [line, first, second] = rig.outside_leak;
    let all = through(line, rig.feed.at_rest(&rig.fluid)) + through(first, zone1) + through(second, zone2);
    if all > DRIPS { all } else { 0.0 }
}

/// What stays of a try, with its balance.
pub(super) fn kept(work: Work) -> Try {
    let stand = &work.stand;
    let n = stand.base();
    let stored = |y: &[f64]| {
        let (water, air) = stand.rig.stored(y);
        let (in_gauge, air_in_gauge) = stand.gauge.zone.weigh(&stand.rig.fluid, y[n], y[n + 1], 0.0);
        (water + in_gauge, air + air_in_gauge)
    };
    let entry = |k: usize| work.end[n + super::stand::STATES + k];
    let balance = Balance::new(entry, [stored(&work.start), stored(&work.end)]);
    Try {
        trace: work.trace,
        marks: work.marks,
        happenings: work.happenings,
        remarks: work.remarks,
        balance,
        stats: work.stats,
    }
}
