//! A field test as text, for a person.

use super::conditions::Conditions;
use super::text::{Rows, at_height, wrapped};
use crate::bench::field::{DRIP, FieldOptions, FieldTest, LOSES, Part, Procedure, Setup, headline, record, story};
use crate::error::Error;
use crate::parts::{Instrument, Reference};
use crate::units::{Kind, format, to_display, unit_symbol};

/// What is told, and what the words need.
pub(super) struct Told<'a> {
    pub test: &'a FieldTest,
    pub procedure: &'a Procedure,
    pub setup: &'a Setup,
    pub conditions: &'a Conditions<'a>,
    pub how: FieldOptions,
}

/// A term smaller than this, Pa (0.0005 psi), is left out of the printed budget.
const SMALL: f64 = 3.4;

impl Told<'_> {
    pub(super) fn pa(&self, value: f64) -> String {
        format(Kind::PressureDifference, value, self.conditions.system)
    }

    /// The report but for its end; `after` is the same test with a part as new.
    ///
    /// # Errors
    /// [`Error`] if a setting that the words need is missing.
    pub fn report(&self, after: Option<(&str, &FieldTest)>, columns: usize) -> Result<String, Error> {
        let system = self.conditions.system;
        let mut out = wrapped(&headline(self.test, system), columns, 0, 0);
        if let Some((part, test)) = after {
            out.push_str(&wrapped(&format!("With {part} as new: {}", headline(test, system)), columns, 0, 0));
        }
        out.push_str(&format!("\n{}", self.stated()?.laid_out("Conditions", columns)));
        out.push_str("\nAct by act (first try)\n");
        for sentence in story(self.test, self.procedure, system) {
            out.push_str(&wrapped(&sentence, columns, 2, 4));
        }
        let mut rows = Rows::default();
        for (name, words) in record(self.test, system) {
            rows.add(name, words);
        }
        out.push_str(&format!("\n{}", rows.laid_out("For the record", columns)));
        self.meaning(&mut out, columns);
        out.push_str(&format!("\n{}", self.budget().laid_out("From the truth to the record (first try)", columns)));
        out.push_str(&format!("\n{}", self.seen().laid_out("Also seen", columns)));
        out.push_str(&super::faults::put_in(self.conditions.settings, columns));
        if let Some((part, test)) = after {
            let mut rows = Rows::default();
            for (name, words) in record(test, system) {
                rows.add(name, words);
            }
            let heading = format!("For the record after the repair ({part} as new)");
            out.push_str(&format!("\n{}", rows.laid_out(&heading, columns)));
        }
        Ok(out)
    }

    /// Friction, hand, lag, capsule, water and trapped pressure: what every figure rests on.
    fn stated(&self) -> Result<Rows, Error> {
        let (c, s) = (self.conditions, self.conditions.settings);
        let show = |kind: Kind, si: f64| format(kind, si, c.system);
        let mut rows = Rows::default();
        rows.add("assembly", c.assembly()?);
        if let Some(faults) = c.faults() {
            rows.add("faults put in", faults);
        }
        if let Some(changes) = c.changes()? {
            rows.add("changed", changes);
        }
        rows.add("procedure", format!("{}: {}", self.procedure.name, self.procedure.title));
        let [p1, p2, _] = c.rig.initial_pressure;
        rows.add(
            "as found",
            format!(
                "in service, full of water, nobody draws; zone 1 at {}, {}; beyond shutoff 2 {}",
                show(Kind::GaugePressure, p1),
                self.zone2(p2),
                s.choice("test.load_side")?.replace('-', " ")
            ),
        );
        let friction = |group: &str| s.number(&format!("{group}.friction")).map(|p| self.pa(p));
        let adhesion = |group: &str| s.number(&format!("{group}.adhesion")).map(|p| self.pa(p));
        rows.add(
            "friction",
            format!(
                "check {}, air inlet {}, drawn anew each try (scatter {:.0} %); adhesion {} and {} ({:.0} %); seed {}",
                friction("check")?,
                friction("air_inlet")?,
                100.0 * self.setup.sticking.friction,
                adhesion("check")?,
                adhesion("air_inlet")?,
                100.0 * self.setup.sticking.adhesion,
                self.how.seed
            ),
        );
        let hand = &self.setup.hand;
        rows.add(
            "hand",
            format!(
                "bleeds slowly at {} a second, eye {} late, waits {} at most; bleed valve {}",
                self.pa(hand.slow),
                show(Kind::Time, hand.eye_delay),
                show(Kind::Time, hand.patience),
                if hand.tee { "on a tee at the cock" } else { "on the gauge" }
            ),
        );
        rows.add("instrument", self.instrument());
        rows.add("water temperature", show(Kind::Temperature, c.rig.fluid.temperature));
        Ok(rows)
    }

    /// How zone 2 is found.
    pub(super) fn zone2(&self, gauge: f64) -> String {
        let shown = format(Kind::GaugePressure, gauge, self.conditions.system);
        let leaks = self.test.observed.outside_leak_m3_s > 0.0;
        if leaks { format!("zone 2 at {shown} with its leak") } else { format!("{shown} trapped in zone 2") }
    }

    pub(super) fn instrument(&self) -> String {
        let show = |kind: Kind, si: f64| format(kind, si, self.conditions.system);
        let tube = self.procedure.instrument == Instrument::Tube;
        let g = if tube { &self.setup.tube } else { &self.setup.gauge };
        let level = match g.reference {
            Reference::Part => "the part under test",
            Reference::Cock => "the cock",
        };
        let at = at_height(g.height, level, self.conditions.system);
        if tube {
            return format!("sight tube, {} high, {at}", show(Kind::PressureDifference, g.range));
        }
        format!(
            "0 to {} gauge, class {}, lag {}, capsule {}, {} of air left in {} of hose; held {at}",
            self.pa(g.range),
            self.pa(g.class),
            show(Kind::Time, g.lag),
            show(Kind::Compliance, g.zone.compliance),
            show(Kind::Volume, g.trapped_air),
            show(Kind::Length, g.hose_length)
        )
    }

    /// Notes, and what was lost.
    fn meaning(&self, out: &mut String, columns: usize) {
        let system = self.conditions.system;
        let mut lines = Vec::new();
        for lost in &self.test.lost {
            lines.push(lost.words(system));
        }
        for r in &self.test.readings {
            for note in r.notes.iter().filter(|n| !self.test.lost.iter().any(|l| l.part == r.part && l.why == **n)) {
                let mut name = r.part.name().to_owned();
                name[..1].make_ascii_uppercase();
                lines.push(format!("{name}: {}.", note.words(r.part, system)));
            }
        }
        let peak = self.test.observed.gauge_peak_pa;
        if self.procedure.instrument == Instrument::Gauge && peak > self.setup.gauge.range {
            lines.push(format!(
                "The gauge stood at up to {}, beyond its scale of {}, while the trapped pressure was let out.",
                self.pa(peak),
                self.pa(self.setup.gauge.range)
            ));
        }
        let leak = self.test.observed.outside_leak_m3_s;
        if leak > 0.0 {
            lines.push(format!(
                "Water runs out of a crack or a torn ring with {} before anything is touched: that comes first, whatever is \
                 read. Shut it down, have it mended and test it then.",
                format(Kind::VolumeFlow, leak, system)
            ));
        }
        if !lines.is_empty() {
            out.push_str("\nWhat the readings mean\n");
            for line in lines {
                out.push_str(&wrapped(&line, columns, 2, 4));
            }
        }
    }

    fn budget(&self) -> Rows {
        let psi = |pa: f64| {
            let value = to_display(Kind::PressureDifference, pa, self.conditions.system);
            format!("{value:+.4} {}", unit_symbol(Kind::PressureDifference, self.conditions.system))
        };
        // Nothing is written without a sign.
        let plain = |pa: f64| psi(if pa.abs() < 0.5 * SMALL { 0.0 } else { pa }).trim_start_matches('+').to_owned();
        let mut rows = Rows::default();
        for r in &self.test.readings {
            let Some((first, truth)) = r.tries.first().zip(r.true_pa) else {
                rows.add(r.part.name(), format!("nothing to read; the needle was left at {}", plain(r.left_at_pa)));
                continue;
            };
            let terms: Vec<String> = first
                .budget
                .iter()
                .filter(|b| b.pa.abs() >= SMALL)
                .map(|b| format!("{} {}", b.what, psi(b.pa)))
                .collect();
            let between = if terms.is_empty() { "nothing in between".to_owned() } else { terms.join(", ") };
            let read = r.reading_pa.map_or(String::new(), |v| format!("; shown {}", plain(v)));
            let record = r.recorded_pa.map_or(String::new(), |v| format!(", recorded {}", plain(v)));
            let falling = match r.part {
                Part::AirInlet => format!("; falling at {} a second", plain(first.rate_pa_s)),
                Part::Check => String::new(),
            };
            rows.add(r.part.name(), format!("true {}: {between}{read}{record}{falling}", plain(truth)));
        }
        rows
    }

    fn seen(&self) -> Rows {
        let o = &self.test.observed;
        let show = |kind: Kind, si: f64| format(kind, si, self.conditions.system);
        let mut rows = Rows::default();
        if let Some(s) = o.full_open_s {
            let bled = match o.full_open_m3 {
                Some(v) if v > 1e-8 => format!(", while {} was bled out", show(Kind::Volume, v)),
                _ => String::new(),
            };
            rows.add("fully open", format!("{} after it started to open{bled}", show(Kind::Time, s)));
        }
        rows.add(
            "zone 2 at atmosphere",
            match o.zone2_vented_s {
                Some(s) if s < 1e-3 => "already when its cock or screw was turned".to_owned(),
                Some(s) => format!("{} after its cock or screw was turned", show(Kind::Time, s)),
                None => "not reached".to_owned(),
            },
        );
        if let Some(q) = o.cock_flow_m3_s {
            let flow = show(Kind::VolumeFlow, q);
            let words = match q {
                q if q > DRIP => format!("runs on with {flow}"),
                q if q > LOSES => format!("drips with {flow}"),
                _ => "stops".to_owned(),
            };
            rows.add("open cock or screw", words);
        }
        if o.outside_leak_m3_s > 0.0 {
            rows.add("to the outside", format!("{} before the test", show(Kind::VolumeFlow, o.outside_leak_m3_s)));
        }
        if let Some(fell) = o.check_fell_pa.filter(|f| *f > 345.0) {
            rows.add("check reading", format!("fell by {} with everything shut", self.pa(fell)));
        }
        if o.dribble_m3 > 1e-8 {
            let words = format!("{} before the air inlet was bled open", show(Kind::Volume, o.dribble_m3));
            rows.add("water at the canopy", words);
        }
        rows
    }
}
