//! The chart of a field test.

use super::field_report::Told;
use super::frame;
use crate::bench::field::{Kind as Came, PASS, Point, headline};
use crate::charts::{ActLabel, NeedlePicture, ReadPoint, Trace};
use crate::error::Error;
use crate::parts::Instrument;
use crate::units::{Kind, format, to_display, unit_symbol};

impl Told<'_> {
    /// What the chart shows of the scale, Pa: what is asked for and read must not be lost at its foot.
    fn scale(&self, range: f64) -> f64 {
        let highest = self.test.readings.iter().filter_map(|r| r.reading_pa).fold(0.0, f64::max);
        range.min((1.5 * highest).max(5.0 * PASS))
    }

    /// The chart of the first try.
    ///
    /// # Errors
    /// [`Error`] if a setting that the words need is missing.
    pub fn picture(&self, hash: &str) -> Result<NeedlePicture, Error> {
        let (c, system) = (self.conditions, self.conditions.system);
        let kind = Kind::PressureDifference;
        let first = self.test.tries.first();
        let points: &[Point] = first.map_or(&[], |t| &t.trace);
        let trace = |label: &str, get: &dyn Fn(&Point) -> f64| Trace {
            label: label.to_owned(),
            values: points.iter().map(get).collect(),
        };
        let pressure = |label: &str, get: fn(&Point) -> f64| trace(label, &|p| to_display(kind, get(p), system));
        let tube = self.procedure.instrument == Instrument::Tube;
        let g = if tube { &self.setup.tube } else { &self.setup.gauge };
        let subtitle = format!(
            "{}; zone 1 at {} and {}; bleeding slowly at {} a second; {}",
            self.procedure.name,
            format(Kind::GaugePressure, c.rig.initial_pressure[0], system),
            self.zone2(c.rig.initial_pressure[1]),
            self.pa(self.setup.hand.slow),
            self.instrument()
        );
        let readings = self.test.readings.iter().filter(|r| r.kind == Came::Read);
        Ok(NeedlePicture {
            page: frame::page(headline(self.test, system), &subtitle, c, hash)?,
            time: points.iter().map(|p| p.t_s).collect(),
            pressures: vec![
                pressure(if tube { "column" } else { "needle" }, |p| p.shown_pa),
                pressure("zone 1", |p| p.zone1_pa_gauge),
                pressure("zone 2", |p| p.zone2_pa_gauge),
            ],
            unit: unit_symbol(kind, system).to_owned(),
            scale: to_display(kind, self.scale(g.range), system),
            limit: Some((to_display(kind, PASS, system), format!("{} asked for", self.pa(PASS)))),
            travels: vec![
                trace("air inlet", &|p| 100.0 * p.air_inlet_travel_m / c.rig.inlet.poppet.lift),
                trace("check", &|p| 100.0 * p.check_travel_m / c.rig.check.lift),
            ],
            acts: first.map_or_else(Vec::new, |t| {
                t.marks.iter().map(|m| ActLabel { time: m.t_s, text: m.words.clone() }).collect()
            }),
            readings: readings
                .filter_map(|r| {
                    let value = r.reading_pa?;
                    Some(ReadPoint {
                        time: r.tries.first()?.read_s,
                        value: to_display(kind, value, system),
                        text: format!("{} {}", r.part.name(), self.pa(value)),
                    })
                })
                .collect(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assembly::Resolver;
    use crate::bench::field::{FieldOptions, Procedure, Setup, field_test, in_service};
    use crate::charts::lay_out_needle;
    use crate::cli::conditions::Conditions;
    use crate::rig::Rig;
    use crate::units::System;

    /// Every word of the chart has its place, whatever the test comes to.
    #[test]
    fn practice_nothing_is_dropped_from_the_chart() {
        for (name, set) in [
            ("pvb-spring", "size=1 in"),
            ("svb-diaphragm", "size=1 in"),
            ("svb-stem", "size=1 in"),
            ("pvb-spring", "shutoff1.leak_area=3 mm2"),
            ("pvb-spring", "air_inlet.adhesion=3 psi"),
            ("svb-diaphragm", "check.load=1.15 psi"),
        ] {
            let settings = Resolver::new().assembly(name).set(set).resolve().unwrap();
            let usual = Procedure::usual_for(&settings).unwrap();
            let tube = Procedure::builtin(&format!("{}-tube", usual.name)).unwrap();
            for procedure in [usual, tube] {
                let rig = in_service(&settings, &Rig::from_settings(&settings).unwrap()).unwrap();
                let setup = Setup::from_settings(&settings).unwrap();
                let how = FieldOptions { repeats: 1, ..FieldOptions::default() };
                let test = field_test(&settings, &procedure, &how).unwrap();
                for system in [System::Us, System::Si] {
                    let conditions = Conditions { settings: &settings, rig: &rig, system, files: vec![] };
                    let told = Told { test: &test, procedure: &procedure, setup: &setup, conditions: &conditions, how };
                    let sheet = lay_out_needle(&told.picture("0123456789").unwrap());
                    assert!(sheet.dropped().is_empty(), "{name} {set} {}: {:?}", procedure.name, sheet.dropped());
                }
            }
        }
    }
}
