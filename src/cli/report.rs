//! A run as text for a person.

use super::caution::Caution;
use super::conditions::Conditions;
use super::text::{Rows, end, wrapped};
use crate::bench::{Order, Sequence, Stop, story};
use crate::error::Error;
use crate::units::{Kind, format};
use std::path::PathBuf;

/// The whole report.
///
/// # Errors
/// [`Error`] if a setting that the words need is missing.
#[allow(clippy::too_many_arguments)] // one call, each a paragraph
pub(super) fn sequence(
    run: &Sequence,
    conditions: &Conditions<'_>,
    line_start_up: Option<f64>,
    heading: &str,
    beside: &str,
    written: &[PathBuf],
    cautions: &[Caution],
    columns: usize,
) -> Result<String, Error> {
    let mut out = format!("{heading}\n");
    out.push_str(&conditions.rows()?.laid_out("Conditions", columns));
    out.push_str("\nWhat happens and why\n");
    for sentence in story(conditions.rig, run, conditions.system) {
        out.push_str(&wrapped(&sentence, columns, 2, 4));
    }
    out.push('\n');
    out.push_str(&figures(run, conditions, line_start_up).laid_out("Figures (pressures gauge)", columns));
    if !beside.is_empty() {
        out.push_str(&format!("\n{beside}"));
    }
    out.push_str(&end(written, cautions, columns));
    Ok(out)
}

fn order(order: Order) -> &'static str {
    match order {
        Order::CheckFirst => "check first: it passed water before the air inlet was shut",
        Order::AirInletFirst => "air inlet first: it was shut before the check passed water",
        Order::AirInletNeverClosed => "the air inlet never shut",
        Order::CheckNeverOpened => "the check never opened",
    }
}

fn stop(stop: Stop) -> &'static str {
    match stop {
        Stop::Settled => "all parts rest",
        Stop::EndTime => "the end time was reached",
        Stop::CheckClosed => "the check is shut again",
        Stop::Chatter => "a part chatters without end",
    }
}

fn figures(run: &Sequence, conditions: &Conditions<'_>, line_start_up: Option<f64>) -> Rows {
    let (rig, s) = (conditions.rig, &run.statics);
    let show = |kind: Kind, si: f64| format(kind, si, conditions.system);
    let gauge = |si: f64| show(Kind::GaugePressure, si);
    let difference = |si: f64| show(Kind::PressureDifference, si);
    let mut rows = Rows::default();
    rows.add("order", order(run.order));
    rows.add(
        "sequence margin",
        match s.sequence_margin_pa {
            Some(m) if m > 0.0 => format!("{}, positive: on a slow opening the air inlet is shut first", difference(m)),
            Some(m) => format!("{}, negative: the check lifts first", difference(m)),
            None if s.lap_margin_m.is_some() => "none: one stem makes the order a matter of travel, see lap".to_owned(),
            None => "none: no pressure shuts the air inlet".to_owned(),
        },
    );
    if let Some(lap) = s.lap_margin_m {
        let words = match lap > 0.0 {
            true => "of stem travel between the sealing of the vent and the lifting of the check",
            false => "of overlap or none: the check lifts before the vent is sealed",
        };
        rows.add("lap", format!("{} {words}", show(Kind::Length, lap.abs())));
    }
    rows.add("check lifts at", format!("{} of zone 1 over zone 2", difference(s.check_lifts_pa)));
    let zone = rig.shutting_zone();
    let beside = if zone == 1 { ", with zone 2 at atmosphere" } else { "" };
    if let Some(p) = s.inlet_shut_pa_gauge {
        rows.add("air inlet has shut at", format!("{} in zone 1, on a slow fill{beside}", gauge(p)));
    }
    if let Some(p) = s.inlet_opens_pa_gauge {
        rows.add("air inlet starts to open at", format!("{} in zone {zone}, falling{beside}", gauge(p)));
    }
    if let Some(depth) = s.order_turning_wear_m {
        rows.add("wear that turns the order", format!("{} of the check's seat", show(Kind::Length, depth)));
    }
    if let Some(share) = s.order_turning_share {
        rows.add("share that turns the order", format!("{share:.3} of zone 1 on the diaphragm, on a slow fill"));
    }
    if let Some(p) = s.relief_opens_pa_gauge {
        let let_out = match run.relieved_m3 > 1e-9 {
            true => format!("; it let {} out", show(Kind::Volume, run.relieved_m3)),
            false => "; it stayed shut".to_owned(),
        };
        rows.add("relief opens at", format!("{}{let_out}", gauge(p)));
    }
    let until = match run.order {
        Order::AirInletNeverClosed => "to the end of the run",
        _ => "until the air inlet is first shut",
    };
    rows.add("spill", format!("{} {until}", show(Kind::Volume, run.spill_m3)));
    rows.add("rebound spill", format!("{} after that", show(Kind::Volume, run.rebound_spill_m3)));
    rows.add(
        "spilling at the end",
        match run.spilling_at_end {
            true => format!("yes, at {}", show(Kind::VolumeFlow, run.spill_rate_m3_s)),
            false => "no".to_owned(),
        },
    );
    rows.add(
        "critical flow",
        match s.critical_flow_m3_s {
            Some(q) => format!("{}: with less than that out of the vent it never shuts", show(Kind::VolumeFlow, q)),
            None => "none: any flow shuts the air inlet".to_owned(),
        },
    );
    let (peak, last) = (&run.peak, &run.last);
    rows.add("peak", format!("zone 1 {}, zone 2 {}", gauge(peak.zone1_pa_gauge), gauge(peak.zone2_pa_gauge)));
    rows.add("at the end", format!("zone 1 {}, zone 2 {}", gauge(last.zone1_pa_gauge), gauge(last.zone2_pa_gauge)));
    let excess = match run.trapped_excess_pa > 0.0 {
        true => format!("{}: zone 2 above supply less check load", difference(run.trapped_excess_pa)),
        false => "none: zone 2 is not above supply less check load".to_owned(),
    };
    rows.add("trapped excess", excess);
    if let Some(t) = line_start_up {
        let words = "for the bare line to reach 90 % of its flow; turning shutoff 1 faster than that gains little";
        rows.add("line start-up", format!("{} {words}", show(Kind::Time, t)));
    }
    rows.add("run ended", format!("at {}: {}", show(Kind::Time, last.t_s), stop(run.stop)));
    rows
}
