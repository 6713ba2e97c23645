//! What a field test needs besides the assembly: instrument, hand, cocks, and how the assembly is found.

use crate::assembly::{Settings, conflict};
use crate::error::{At, Error};
use crate::laws::constants::STANDARD_GRAVITY;
use crate::laws::curve::MonotoneCurve;
use crate::parts::{CockKind, Fluid, Gauge, Instrument, Reference, Zone};
use crate::rig::{Feed, InitialWater, Line, MainPressure, Rig, SHARP_EDGE};

/// Longer than any test, s.
const LONG: f64 = 1e6;

fn disc(diameter: f64) -> f64 {
    std::f64::consts::FRAC_PI_4 * diameter * diameter
}

/// What a tester opens where the procedure wants a cock that is not there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MissingCock {
    /// The bleed screw.
    Screw,
    /// Nothing.
    Nothing,
    /// The only cock there is.
    OnlyCock,
}

/// A test cock as fitted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cock {
    /// What it taps: 0 the line before shutoff 1, 1 to 3 a zone.
    pub zone: usize,
    /// Flow area wide open, m2.
    pub area: f64,
    /// Its kind.
    pub kind: CockKind,
}

/// The tester's hand and eye.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hand {
    /// Fall of the needle when bleeding slowly, Pa/s.
    pub slow: f64,
    /// Fall of the needle when bleeding briskly, Pa/s.
    pub quick: f64,
    /// Stream while the needle is off the scale, m3/s.
    pub vent: f64,
    /// Stream that lets a diaphragm up, m3/s.
    pub lift: f64,
    /// How late the eye is, s.
    pub eye_delay: f64,
    /// Reaction time, s.
    pub reaction: f64,
    /// How long it waits, s.
    pub patience: f64,
    /// What counts as steady: band, Pa, and time, s.
    pub steady: (f64, f64),
    /// Time to turn something, s.
    pub turn_time: f64,
    /// Bleed valve on a tee at the cock.
    pub tee: bool,
}

/// Random sticking from try to try.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sticking {
    /// Standard deviation of friction over its mean.
    pub friction: f64,
    /// Standard deviation of adhesion over its mean.
    pub adhesion: f64,
    /// Time constant of the growth of adhesion, s.
    pub growth_time: f64,
    /// Time shut between tries, s.
    pub pause: f64,
}

/// Everything a field test needs besides the rig and the procedure.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    /// The gauge.
    pub gauge: Gauge,
    /// The sight tube.
    pub tube: Gauge,
    /// The tester.
    pub hand: Hand,
    /// Cocks 1 and 2, where fitted.
    pub cocks: [Option<Cock>; 2],
    /// Area of the bleed screw, m2; 0 where there is none.
    pub screw_area: f64,
    /// Free area under the canopy, m2, and whether it is on at the start.
    pub canopy: (f64, bool),
    /// What stands in for a missing cock.
    pub missing_cock: MissingCock,
    /// Pressure in the gauge above which it is damaged, Pa.
    pub overload: f64,
    /// Where that was given.
    pub overload_at: At,
    /// Scatter of the tries.
    pub sticking: Sticking,
}

impl Setup {
    /// Reads it from settings.
    ///
    /// # Errors
    /// [`Error`] if a field is missing.
    pub fn from_settings(s: &Settings) -> Result<Setup, Error> {
        let fluid = Fluid::new(s.number("water.temperature")?, s.number("ambient.pressure_absolute")?);
        let gauge = gauge(s)?;
        let tube_bore = disc(s.number("tube.bore")?);
        let head = |height: f64| fluid.density * STANDARD_GRAVITY * height;
        let tube = Gauge {
            instrument: Instrument::Tube,
            zone: Zone { compliance: tube_bore / (fluid.density * STANDARD_GRAVITY), ..gauge.zone },
            hose_area: gauge.hose_area,
            // A level follows at once; the eye, not the column, is slow.
            lag: 0.05,
            zero_error: 0.0,
            span_error: 0.0,
            resolution: head(s.number("tube.resolution")?),
            class: head(s.number("tube.resolution")?),
            range: head(s.number("tube.height")?),
            trapped_air: 0.0,
            low_side_head: 0.0,
            low_side_capped: false,
            ..gauge.clone()
        };
        Ok(Setup {
            gauge,
            tube,
            hand: hand(s)?,
            cocks: [cock(s, "cock1", 1, 0)?, cock(s, "cock2", 2, 3)?],
            screw_area: s.number("bleed_screw.area")?,
            canopy: (s.number("canopy.area")?, s.switch("canopy.fitted")?),
            missing_cock: match s.choice("test.missing_cock")? {
                "nothing" => MissingCock::Nothing,
                "only-cock" => MissingCock::OnlyCock,
                _ => MissingCock::Screw,
            },
            overload: s.number("gauge.overload")?,
            overload_at: s.get("gauge.overload").map_or_else(At::default_value, |given| given.at.clone()),
            sticking: Sticking {
                friction: s.number("test.friction_variation")?,
                adhesion: s.number("test.adhesion_variation")?,
                growth_time: s.number("test.adhesion_time")?,
                pause: s.number("test.pause")?,
            },
        })
    }
}

fn gauge(s: &Settings) -> Result<Gauge, Error> {
    let get = |name: &str| s.number(&format!("gauge.{name}"));
    let (area, length) = (disc(get("hose_bore")?), get("hose_length")?);
    Ok(Gauge {
        instrument: Instrument::Gauge,
        zone: Zone { volume: area * length, compliance: get("capsule_compliance")? },
        hose_area: area,
        hose_length: length,
        lag: get("lag")?,
        zero_error: get("zero_error")?,
        span_error: get("span_error")?,
        resolution: get("resolution")?,
        class: get("class")?,
        range: get("range")?,
        bleed_area: disc(get("bleed_bore")?),
        height: get("height")?,
        reference: match s.choice("gauge.reference")? {
            "cock" => Reference::Cock,
            _ => Reference::Part,
        },
        part_above_cock: [get("check_above_cock")?, get("inlet_above_cock")?],
        // More air than the hose holds cannot be in it.
        trapped_air: get("trapped_air")?.min(0.9 * area * length),
        air_upright: get("air_upright")?,
        leak_area: get("leak_area")?,
        low_side_head: get("low_side_head")?,
        low_side_capped: s.choice("gauge.low_side")? == "capped",
    })
}

fn hand(s: &Settings) -> Result<Hand, Error> {
    let get = |name: &str| s.number(&format!("hand.{name}"));
    Ok(Hand {
        slow: get("bleed_rate")?,
        quick: get("quick_rate")?,
        vent: get("vent_flow")?,
        lift: get("lift_flow")?,
        eye_delay: get("eye_delay")?,
        reaction: get("reaction")?,
        patience: get("patience")?,
        steady: (get("steady_band")?, get("steady_time")?),
        turn_time: get("turn_time")?,
        tee: s.choice("hand.bleed_at")? == "tee",
    })
}

fn cock(s: &Settings, group: &str, inner: usize, outer: usize) -> Result<Option<Cock>, Error> {
    let zone = match s.choice(&format!("{group}.place"))? {
        "none" => return Ok(None),
        "shutoff-outer" => outer,
        _ => inner,
    };
    let kind = match s.choice(&format!("{group}.type"))? {
        "needle" => CockKind::Needle,
        _ => CockKind::QuarterTurn,
    };
    Ok(Some(Cock { zone, area: SHARP_EDGE * s.number(&format!("{group}.area"))?, kind }))
}

/// Zone 2, Pa gauge, where cracks and torn rings let water out all the time: what shutoff 1 and the check leave of the
/// supply at the flow that they pass.
fn standing(rig: &Rig, supply: f64) -> f64 {
    let out = |area: f64, p: f64| SHARP_EDGE * area * (2.0 * p.max(0.0) / rig.fluid.density).sqrt();
    // What the supply would have to be for zone 2 to stand at `p2`.
    let needed = |p2: f64| {
        let q2 = out(rig.outside_leak[2], p2);
        let p1 = p2 + rig.steady_loss(q2.max(1e-12), p2).check_pa;
        let q1 = q2 + out(rig.outside_leak[1], p1);
        p1 + 0.5 * rig.fluid.density * (q1 / rig.shutoff1.wide_open()).powi(2)
    };
    let (mut low, mut high) = (0.0, supply.max(0.0));
    for _ in 0..60 {
        let mid = 0.5 * (low + high);
        if needed(mid) < supply { low = mid } else { high = mid }
    }
    low
}

/// The rig as a tester finds it: in service, nobody draws water, all cocks shut. Zone 1 stands at the supply's pressure,
/// zone 2 below it by the check's load (or at `test.trapped_pressure`), the load side with it unless it has been drained.
///
/// The supply line is left out: its pressure at no flow stands right before shutoff 1. A test draws next to nothing, and
/// what the line's hammer would leave trapped in zone 2 is an input here; a line of one cell rings for minutes besides.
///
/// # Errors
/// [`Error`] if a field is missing.
pub fn in_service(settings: &Settings, rig: &Rig) -> Result<Rig, Error> {
    let mut rig = rig.clone();
    rig.taps.clear();
    rig.stop_at_rest = false;
    let supply = rig.feed.at_rest(&rig.fluid);
    if let Feed::Line(Line { pressure: MainPressure::Steady(_), .. }) = &rig.feed {
        let path = "supply.pressure";
        let steady = MonotoneCurve::new(&[0.0, LONG], &[supply, supply]);
        rig.feed = Feed::Recorded(steady.map_err(|e| conflict(settings, "curve", &[path], e.to_string()))?);
    }
    // The check's load without friction: it may stand anywhere within that band.
    let load = -rig.check.static_force(0.0, true) / rig.check.seat_area();
    let trapped = match settings.optional_number("test.trapped_pressure")? {
        Some(p) => p,
        None if rig.outside_leak[1] + rig.outside_leak[2] > 0.0 => standing(&rig, supply),
        None if rig.equal_at_rest(supply) => supply,
        None => (supply - load).max(0.0),
    };
    let drained = settings.choice("test.load_side")? == "drained";
    rig.shutoff1.opening = crate::parts::Opening::fixed(1.0);
    rig.shutoff2.opening = crate::parts::Opening::fixed(if drained { 0.0 } else { 1.0 });
    if !drained && rig.outlet.1 <= 0.0 {
        rig.outlet.0 = 0.0;
    }
    let pa = rig.fluid.ambient;
    let full = |air: f64, p: f64| InitialWater::Brimful { residual_air: air * pa / (pa + p).max(0.01 * pa) };
    let air = [settings.number("zone1.residual_air")?, settings.number("zone2.residual_air")?];
    rig.initial = [
        full(air[0], supply),
        full(air[1], trapped),
        if drained { InitialWater::Empty } else { full(air[1], trapped) },
    ];
    let zone1 = if rig.outside_leak[1] + rig.outside_leak[2] > 0.0 { (trapped + load).min(supply) } else { supply };
    rig.initial_pressure = [zone1, trapped, if drained { 0.0 } else { trapped }];
    Ok(rig)
}
