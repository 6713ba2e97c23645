//! Keys that a document has only where something happened or is fitted: below what is null elsewhere, and in lists that may
//! be empty. A key is known to exist, or not to, before the run that first has it.

/// Groups and lists (0 stands for any place) with the keys below.
const OPTIONAL: [(&str, &str); 37] = [
    ("sequence.events.0", "t_s part what"),
    ("sequence.events.0.forces_n", "pressure load friction weight flow"),
    ("curves.load.0", "part travel_m force_n direction"),
    ("curves.loss.0", "q_m3_s dp_pa check_pa check_travel_m"),
    ("curves.vent.0", "dp_pa water_m3_s air_m3_s"),
    ("curves.relief.0", "zone_pa_gauge q_m3_s"),
    ("curves.springs.0", "part index rate_n_m shear_stress_pa left_to_solid_m first_coil_down_m"),
    ("curves.supply_needed", "pressure_pa_gauge flow_m3_s"),
    ("field-test.lost.0", "measurement why words"),
    (
        "field-test.readings.0",
        "name kind true_pa reading_pa recorded_pa band_pa.0 pass doubtful spread_pa fall_pa_s left_at_pa notes.0",
    ),
    ("field-test.readings.0.budget.0", "what adds_pa"),
    ("field-test.readings.0.tries.0", "true_pa reading_pa recorded_pa"),
    ("field-test.balance", BALANCE),
    ("freeze.blocking.0", "field ice_fraction"),
    ("freeze.blocking.0.ends.0", "ice_fraction gives_way"),
    ("freeze.blocking.0.ends.0.zones.0", "zone peak_pa_gauge"),
    ("freeze.events.0", "night t_s zone what pa_gauge t_k ice_fraction"),
    ("freeze.first_yield", FIRST_YIELD),
    ("freeze.pulses.0", "zone t_s lasts_s gross_m3 net_m3 critical_bore_m"),
    ("freeze.relief", "place lifts relieved_m3 closed_again plugged t_plugged_s lift_times_s.0"),
    ("freeze.zones.0", "zone peak_pa_gauge t_peak_s night ice_fraction_max frozen_through_s"),
    ("relief.recommended", "set_pressure_pa_gauge bore_m margin_below_pa margin_above_pa peak_pa_gauge lifts_in_slams"),
    ("relief.with_it", "after_plugging lifts relieved_m3"),
    ("relief.with_it.first_yield", FIRST_YIELD),
    ("relief.with_it.zones.0", "zone peak_pa_gauge"),
    ("relief.with_it.blocking.0", "field ice_fraction"),
    ("relief.with_it.blocking.0.ends.0", "ice_fraction gives_way"),
    ("relief.with_it.blocking.0.ends.0.zones.0", "zone peak_pa_gauge"),
    ("siphon.events.0", "t_s part what"),
    ("siphon.foul_limits.0", "limit_m ratio_at_rest at_rest_m2 sudden_m2 decides"),
    ("siphon.other_scene", SCENE),
    ("siphon.other_scene.balance", BALANCE),
    ("siphon.other_scene.events.0", "t_s part what"),
    ("siphon.rise_m", "at_rest max"),
    ("surge.balance", BALANCE),
    ("surge.column_separation", "t_s where from_main_m largest_m3"),
    ("surge.events.0", "t_s part what speed_m_s"),
];

const FIRST_YIELD: &str = "part t_s night pa_gauge ice_fraction t_k";
const BALANCE: &str = "water.in_kg water.out_kg water.spilled_kg water.stored_start_kg water.stored_end_kg \
                       air.in_kg air.out_kg air.spilled_kg air.stored_start_kg air.stored_end_kg";
const SCENE: &str = "scene scene_protects scene_by settled t_end_s water_back_m3 load_water_back_m3 \
                     load_water_given_off_m3 supply_back_m3 spit_m3 air_admitted_kg air_back_kg t_air_inlet_opens_s \
                     zone1_at_opening_pa_gauge zone2_min_pa_abs reverse_flow_m3_s chatter_round_s air_inlet_shut_at_end \
                     start.zone1_pa_gauge start.zone2_pa_gauge start.load_side_pa_gauge start.air_inlet_travel_m \
                     start.zone2_water_m3 start.line_water_m3 start.supply_water_m3_s \
                     final.zone1_pa_gauge final.zone2_pa_gauge final.load_side_pa_gauge final.air_inlet_travel_m \
                     final.zone2_water_m3 final.line_water_m3 final.supply_water_m3_s";

/// Every such key of a command, the command's name before it.
pub(super) fn optional(command: &str) -> impl Iterator<Item = String> {
    OPTIONAL
        .iter()
        .filter(move |(group, _)| group.split('.').next() == Some(command))
        .flat_map(|(group, keys)| keys.split_whitespace().map(move |key| format!("{group}.{key}")))
}

/// A key with 0 for every place in a list.
pub(super) fn anywhere(name: &str) -> String {
    let part = |text| if str::bytes(text).all(|b| b.is_ascii_digit()) { "0" } else { text };
    name.split('.').map(part).collect::<Vec<_>>().join(".")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assembly::Resolver;
    use crate::error::{At, Source};
    use crate::study::{Need, Until, named};
    use serde_json::Value as Json;
    use std::collections::BTreeSet;

    fn leaves(prefix: &str, json: &Json, all: &mut BTreeSet<String>) {
        match json {
            Json::Object(map) => map.iter().for_each(|(k, v)| leaves(&format!("{prefix}.{k}"), v, all)),
            Json::Array(list) => list.iter().for_each(|v| leaves(&format!("{prefix}.0"), v, all)),
            _ => {
                all.insert(prefix.to_owned());
            }
        }
    }

    /// Scenes in which all of it happens or is fitted: each key of the list stands in a document, and each key below one of
    /// the groups in the list.
    #[test]
    fn regress_the_list_is_that_of_the_documents() {
        let mut seen = BTreeSet::new();
        for (command, assembly, sets) in [
            ("sequence", "svb-diaphragm", &[] as &[&str]),
            ("curves", "pvb-spring", &[]),
            ("curves", "pvb-relief", &[]),
            ("curves", "svb-stem", &[]),
            ("field-test", "pvb-spring", &[]),
            ("field-test", "pvb-spring", &["supply.pressure=1 psi"]),
            ("freeze", "pvb-relief", &["night.air_temperature=-15 degC"]),
            ("freeze", "pvb-spring", &["night.air_temperature=-15 degC"]),
            ("relief", "pvb-spring", &[]),
            ("siphon", "pvb-spring", &[]),
            ("siphon", "pvb-spring", &["siphon.scene=service"]),
            ("surge", "pvb-spring", &[]),
            ("surge", "pvb-spring", &["surge.scene=downstream-valve", "load_side.outlet_area=100 mm2"]),
        ] {
            let base = Resolver::new().assembly(assembly);
            let settings = sets.iter().fold(base, |r, s| r.set(s)).resolve().unwrap();
            let question = named(command, &At::whole(Source::Study)).unwrap();
            let need = Need { keys: &["events", "foul_limits", "order", "blocking"], until: Until::Rest };
            leaves(command, &question.answer(&settings, &need).unwrap(), &mut seen);
        }
        let listed: BTreeSet<String> = seen.iter().filter_map(|k| k.split('.').next()).flat_map(optional).collect();
        let unseen: Vec<_> = listed.difference(&seen).collect();
        assert!(unseen.is_empty(), "{unseen:?}");
        let below =
            |key: &str| OPTIONAL.iter().any(|(group, _)| key.strip_prefix(group).is_some_and(|k| k.starts_with('.')));
        // A group that is null here is no key of its own.
        let known =
            |key: &str| listed.iter().any(|k| k.strip_prefix(key).is_some_and(|r| r.is_empty() || r.starts_with('.')));
        let missing: Vec<_> = seen.iter().filter(|key| below(key) && !known(key)).collect();
        assert!(missing.is_empty(), "{missing:?}");
    }
}
