//! From a needle to a reading: what is true, and everything that stands between the truth and the record.
//!
//! ```text
//! shown = true + zone 2 + tee - loss - column + slug - low side + lag + eye + span + zero + end of scale
//! recorded = shown, rounded down
//! ```
//!
//! Each term is computed from its own law at the moment of the reading; that they add up is checked by the remainder.

use super::act::{Moment, Part};
use super::judge::PASS;
use super::log::Take;
use super::stand::STATES;
use crate::parts::{Gauge, Instrument};
use crate::rig::{Layout, ledger};
use serde::Serialize;

/// A reading this long after its event, s, is not of the event.
const OLD: f64 = 1e-9;

/// A cock with less than this share of the hose's area starves it.
const STARVED: f64 = 0.02;

/// One term between the truth and what is shown.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BudgetItem {
    /// What it is.
    pub what: &'static str,
    /// What it adds to the reading, Pa.
    pub pa: f64,
}

/// One reading of one try.
#[derive(Debug, Clone, PartialEq)]
pub struct Single {
    /// Which part it is for.
    pub part: Part,
    /// The pressure at the part: across the check as it holds, or in the zone that shuts the air inlet when it starts to
    /// open, Pa. `None`: the air inlet did not open.
    pub true_pa: Option<f64>,
    /// What the instrument shows when it is read, Pa; `None` where the event it waits for did not happen.
    pub reading_pa: Option<f64>,
    /// What is written down: rounded down to the resolution, Pa.
    pub recorded_pa: Option<f64>,
    /// What stands between them.
    pub budget: Vec<BudgetItem>,
    /// Shown less the truth and all terms, Pa: nothing but rounding of the sums.
    pub remainder_pa: f64,
    /// How fast the truth was falling, Pa/s.
    pub rate_pa_s: f64,
    /// Where the instrument stood when the tester gave up, where nothing was to be read, Pa.
    pub left_at_pa: f64,
    /// Zone pressures at that moment, Pa gauge: line, zones 1 to 3.
    pub zones_pa_gauge: [f64; 4],
    /// Zone 2 when the needle was read, Pa gauge.
    pub zone2_at_reading_pa_gauge: f64,
    /// The zone the gauge is on (0 the line before shutoff 1), `None` without a hose.
    pub gauge_zone: Option<usize>,
    /// Flow through the check at that moment, m3/s.
    pub check_flow_m3_s: f64,
    /// Flow out of open cocks and screw, m3/s.
    pub cock_flow_m3_s: f64,
    /// Flow out of the bleed valve, m3/s.
    pub bleed_flow_m3_s: f64,
    /// Opening of the bleed valve, 0 to 1.
    pub bleed_opening: f64,
    /// Whether the needle stood still when it was read as held.
    pub steady: bool,
    /// Whether the instrument stood at its end of scale.
    pub off_scale: bool,
    /// When what is read took place, s.
    pub t_s: f64,
    /// When it was read, s.
    pub read_s: f64,
    /// Whether the canopy hid the air inlet.
    pub hidden: bool,
    /// Whether the air inlet opened with the bleed valve shut.
    pub by_itself: bool,
    /// Whether the air inlet stood open already when shutoff 1 was shut.
    pub stood_open: bool,
    /// Water that has passed the check since the reading before, m3.
    pub check_passed_m3: f64,
    /// Water that zone 1 and the hose lost when the needle was read, m3/s, as [`super::TestStand::loses`].
    pub loses_m3_s: f64,
    /// How far the needle stood behind the pressure it follows, Pa.
    pub lag_pa: f64,
    /// Whether the gauge was cut off: its cock shut, or so plugged that it stood 1.0 psi and more behind the zone.
    pub no_signal: bool,
    /// Zone 2 when what is read took place, Pa gauge, if that was before its own step.
    pub zone2_earlier_pa_gauge: Option<f64>,
    /// Flow through shutoff 1 into zone 1, m3/s.
    pub fed_m3_s: f64,
    /// How far zone 1 rose from its lowest since shutoff 1 was shut, Pa.
    pub crept_up_pa: f64,
    /// What the check held when it shut, Pa, if zone 1 has been bled below that since.
    pub held_before_pa: Option<f64>,
    /// Whether the gauge was opened to zone 1 when shutoff 1 had been shut already.
    pub opened_late: bool,
}

/// Reads one take.
pub(super) fn single(take: &Take) -> Single {
    let stand = &take.stand;
    let (rig, gauge, n) = (&stand.rig, &stand.gauge, stand.base());
    let fluid = &rig.fluid;
    let layout = Layout::of(rig);
    let event = take.moment.as_ref().unwrap_or(&take.read);
    // What opened before its own step is read where the needle stands now.
    let old = take.read.0 > event.0 + OLD && take.at == Moment::Opening && !take.late;
    let (t, y, mode) = if old { &take.read } else { event };
    let p = rig.pressures(&layout, *t, y);
    let seen = stand.seen(&p, *t, y);
    let flows = stand.flows(mode, *t, y, &p);
    let zones = [p.line, p.zone[0], p.zone[1], p.zone[2]].map(|p| p - fluid.ambient);
    let wanted = match take.part {
        Part::Check => 1,
        Part::AirInlet => rig.shutting_zone(),
    };
    let now = match take.part {
        Part::Check => zones[1] - zones[2],
        Part::AirInlet => zones[wanted],
    };
    let truth = match old {
        true => rig.pressures(&layout, event.0, &event.1).zone[wanted.clamp(1, 3) - 1] - fluid.ambient,
        false => now,
    };
    let on = stand.hose.as_ref().map(|h| h.zone);
    let mut budget = Vec::new();
    let mut add = |what, pa: f64| budget.push(BudgetItem { what, pa });
    if old {
        add("pressure since it opened", now - truth);
    }
    let tapped = seen.zone - fluid.ambient;
    match (on == Some(wanted), take.part) {
        (true, Part::Check) => add("zone 2 above atmosphere", tapped - now),
        (true, Part::AirInlet) => {}
        (false, _) => add("the gauge is on another zone", tapped - now),
    }
    if stand.tee {
        add("cock loss at the tee", seen.node - seen.zone);
    }
    let in_gauge = seen.gauge - fluid.ambient;
    let mut no_signal = false;
    if let Some(hose) = &stand.hose {
        let cock = hose.opening.at(*t) * hose.area;
        if cock > 0.0 {
            let loss = gauge.loss(fluid, cock, seen.hose.water / fluid.density);
            no_signal = cock < STARVED * gauge.hose_area && loss.abs() >= PASS;
            add("hose and cock loss", -loss);
            add("height of the gauge", -Gauge::column(fluid, gauge.above_part(stand.part.index())));
            add("air column in the hose", gauge.slug(fluid, seen.gas));
        } else {
            no_signal = true;
            add("the cock is shut", in_gauge - (seen.node - fluid.ambient));
        }
    } else {
        add("no hose", in_gauge - tapped);
    }
    let difference = gauge.difference(fluid, in_gauge);
    if difference != in_gauge {
        let head = -Gauge::column(fluid, gauge.low_side_head);
        add("water in the low hose", head);
        add("low side capped", difference - in_gauge - head);
    }
    let (then, now) = (y[n + 2], take.read.1[n + 2]);
    // Off its scale the needle follows its stop.
    let target = stand.target(seen.gauge);
    add("lag of the needle", then - target);
    add("late eye", now - then);
    add("span error", gauge.span_error * now);
    add("zero error", gauge.zero_error);
    let shown = gauge.shown(now);
    add("end of scale", target - difference + shown - (now * (1.0 + gauge.span_error) + gauge.zero_error));
    let sum: f64 = budget.iter().map(|b| b.pa).sum();
    // A tube within half a step of its top stands full.
    let full = gauge.instrument == Instrument::Tube && shown > gauge.range - 0.5 * gauge.resolution;
    let recorded = gauge.rounded(if full { gauge.range } else { shown });
    budget.push(BudgetItem { what: "rounding down", pa: recorded - shown });
    let obtained = take.moment.is_some();
    // A tube is full within the step to which its level is read.
    let full = match gauge.instrument {
        Instrument::Tube => gauge.range - gauge.resolution,
        Instrument::Gauge => gauge.range,
    };
    let off_scale = target >= full || now >= full;
    Single {
        part: take.part,
        true_pa: obtained.then_some(truth),
        reading_pa: obtained.then_some(shown),
        recorded_pa: obtained.then_some(recorded),
        budget: if obtained { budget } else { Vec::new() },
        remainder_pa: if obtained { shown - truth - sum } else { 0.0 },
        // Held, the needle's own rate tells; at an opening the zone's.
        rate_pa_s: take.happening.as_ref().filter(|_| !old).map_or((then - target) / gauge.lag, |h| h.fall_pa_s),
        left_at_pa: shown,
        zones_pa_gauge: zones,
        gauge_zone: on,
        zone2_at_reading_pa_gauge: {
            let (t, y, _) = &take.read;
            rig.pressures(&layout, *t, y).zone[1] - fluid.ambient
        },
        check_flow_m3_s: (flows.check.water + stand.weep(&p, y, &mode.rig)) / fluid.density,
        cock_flow_m3_s: {
            let open = |zone: usize| rig.taps.iter().any(|tap| tap.zone == zone && tap.opening.at(*t) > 0.0);
            (0..4).filter(|zone| open(*zone)).map(|zone| stand.cock_flow(mode, *t, y, zone)).sum()
        },
        bleed_flow_m3_s: seen.bleed.water / fluid.density,
        bleed_opening: y[n + 3].max(0.0),
        steady: take.at == Moment::Opening || take.steady,
        off_scale,
        t_s: event.0,
        read_s: if old { *t } else { take.read.0 },
        hidden: take.happening.as_ref().is_some_and(|h| h.hidden),
        by_itself: take.happening.as_ref().is_some_and(|h| !h.bleeding),
        stood_open: take.stood_open,
        check_passed_m3: (take.read.1[n + STATES + ledger::CHECK_FORWARD] - take.passed_before) / fluid.density,
        loses_m3_s: stand.loses(&take.read.2, take.read.0, &take.read.1),
        lag_pa: then - target,
        no_signal,
        zone2_earlier_pa_gauge: old.then(|| rig.pressures(&layout, event.0, &event.1).zone[1] - fluid.ambient),
        fed_m3_s: flows.shutoff1.water / fluid.density,
        crept_up_pa: take.crept_up_pa,
        held_before_pa: take.held_before_pa,
        opened_late: take.opened_late,
    }
}
