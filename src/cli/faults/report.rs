//! The library in words.

use super::{Faults, Tested, symptoms_text};
use crate::assembly::Settings;
use crate::bench::Shown;
use crate::cli::problem::Problem;
use crate::cli::text::{Rows, end, wrapped};
use crate::faults::{self, Class, Fault, Way, look_alikes, not_expressed};
use crate::units::{Kind, System, format};
use std::path::PathBuf;

/// What a construction must have for a fault.
pub(super) fn needs(fault: &Fault) -> String {
    match fault.needs {
        [] => "nothing: any construction can have it".to_owned(),
        all => all.iter().map(|n| n.words()).collect::<Vec<_>>().join(" and "),
    }
}

fn heading(class: Class) -> &'static str {
    match class {
        Class::Part => "Part: worn, dirty, wrong or wrongly fitted",
        Class::Site => "Site: supply, load side, place",
        Class::Instrument => "Instrument: gauge and hoses",
        Class::Hand => "Hand: the tester's own",
    }
}

/// All faults by class, a line each. With an assembly given those that it cannot have are marked.
pub(super) fn list(settings: &Settings, marked: bool, columns: usize) -> String {
    let names = faults::all().map(|f| f.name).chain(look_alikes::ALL.iter().map(|l| l.name));
    let widest = names.map(str::len).max().unwrap_or(0);
    let line = |name: &str, words: &str| {
        let words = wrapped(words, columns, widest + 4, widest + 4);
        format!("  {name:widest$}  {}", words.trim_start())
    };
    let mut out = String::new();
    for class in Class::ALL {
        out.push_str(&format!("{}\n", heading(class)));
        for fault in faults::all().filter(|f| f.class == class) {
            let not = if marked && fault.unmet(settings).is_some() { " (not on this construction)" } else { "" };
            out.push_str(&line(fault.name, &format!("{}{not}", fault.what)));
        }
        out.push('\n');
    }
    out.push_str(&format!("Look-alikes, no damage: {}\n", look_alikes::VERDICT));
    for l in look_alikes::ALL {
        out.push_str(&line(l.name, l.seen));
    }
    out.push_str("\nNot shown by these equations\n");
    for n in not_expressed::ALL {
        out.push_str(&wrapped(&format!("{}: {}", n.what, n.why), columns, 2, 4));
    }
    out.push_str(
        "\npoppetry faults NAME explains one and shows what it looks like; poppetry faults --table shows all.\n\
         poppetry sequence --fault NAME=SEVERITY puts one in, severity 0 (as new) to 1 (the worst).\n",
    );
    out.push_str(&end(&[], &super::cautions(false), columns));
    out
}

/// What the fault is, what it changes, what it looks like, what cures it.
pub(super) fn one(
    fault: &'static Fault,
    tested: &Tested,
    args: &Faults,
    written: &[PathBuf],
    columns: usize,
) -> Result<String, Problem> {
    let system: System = args.shared.units.into();
    let settings = &tested.settings;
    let mut out = wrapped(&format!("{}: {}", fault.name, fault.what), columns, 0, 0);
    let mut rows = Rows::default();
    rows.add("class", format!("{}, in the {}", fault.class.name(), fault.component.words()));
    rows.add("physics", fault.physics);
    for (k, words) in fault.mapping().iter().enumerate() {
        rows.add(if k == 0 { "severity s" } else { "" }, words.clone());
    }
    rows.add("range", format!("s = 0 as new, 1 the worst; {}", fault.from.words()));
    rows.add("needs", needs(fault));
    rows.add("true quantity", truth(fault, tested, system));
    out.push_str(&format!("\n{}", rows.laid_out("What it is", columns)));

    let on = format!("{}, {}", settings.assembly(), settings.choice("size")?);
    out.push_str(&format!("\nWhat it looks like on {on} (computed, pressures gauge)\n"));
    out.push_str(&symptoms_text::one(&tested.rows, settings, system));
    out.push_str(&format!("\n{}", symptoms_text::conditions(settings, system, columns)?));

    let remedy = fault.remedy(settings);
    let mut rows = Rows::default();
    rows.add("parts", if remedy.parts.is_empty() { "none".to_owned() } else { remedy.parts.join("; ") });
    rows.add("do", remedy.words);
    rows.add("look", fault.look);
    out.push_str(&format!("\n{}", rows.laid_out("Remedy on this construction", columns)));
    let alike: Vec<_> = look_alikes::of_fault(fault.name).collect();
    if !alike.is_empty() {
        out.push_str("\nNot to be taken for it\n");
        for l in alike {
            let words = format!("{} ({}): {}", l.seen, l.name, look_alikes::VERDICT);
            out.push_str(&wrapped(&words, columns, 2, 4));
        }
    }
    out.push_str(&end(written, &super::cautions(true), columns));
    Ok(out)
}

/// The faults put into an assembly: what each does and what cures it in this construction. Nothing if there are none.
pub(in crate::cli) fn put_in(settings: &Settings, columns: usize) -> String {
    let mut out = String::new();
    for f in settings.faults() {
        let remedy = f.fault.remedy(settings);
        let mut rows = Rows::default();
        rows.add("physics", f.fault.physics);
        rows.add("parts", if remedy.parts.is_empty() { "none".to_owned() } else { remedy.parts.join("; ") });
        rows.add("do", remedy.words);
        rows.add("look", f.fault.look);
        let heading = format!("Fault put in: {} at severity {}", f.fault.name, f.severity);
        out.push_str(&format!("\n{}", rows.laid_out(&heading, columns)));
    }
    out
}

/// The true quantity with its ends.
fn truth(fault: &Fault, tested: &Tested, system: System) -> String {
    let Some(way) = fault.truth.way() else { return fault.truth.words().to_owned() };
    let way = if way == Way::Rises { "rises" } else { "falls" };
    let show = |v: Option<f64>| match (v, fault.truth.kind()) {
        // Areas of leaks are read in square millimetres whatever else is not.
        (Some(v), Kind::Area) => format!("{} mm2", figure(1e6 * v)),
        (Some(v), kind) => format(kind, v, system),
        (None, _) => "none".to_owned(),
    };
    let ends = (tested.rows.first().and_then(|r| r.truth), tested.rows.last().and_then(|r| r.truth));
    format!("{} {way} from {} to {}", fault.truth.words(), show(ends.0), show(ends.1))
}

/// Two or three figures.
pub(super) fn figure(value: f64) -> String {
    match value.abs() {
        v if v >= 100.0 => format!("{value:.0}"),
        v if v >= 10.0 => format!("{value:.1}"),
        v if v >= 0.1 || v == 0.0 => format!("{value:.2}"),
        v if v >= 0.01 => format!("{value:.3}"),
        _ => format!("{value:.1e}"),
    }
}

pub(super) fn look_alike(shown: &Shown, system: System, columns: usize) -> String {
    let l = shown.look_alike;
    let mut out = wrapped(&format!("{}: {}", l.name, l.seen), columns, 0, 0);
    let mut rows = Rows::default();
    rows.add("taken for", format!("{} ({})", l.taken_for, l.faults.join(", ")));
    rows.add("why it is none", l.why);
    rows.add("how to tell", l.tell);
    out.push_str(&format!("\n{}", rows.laid_out("What it is", columns)));
    let mut rows = Rows::default();
    rows.add("run", format!("{}: {}", shown.assembly, shown.run));
    for f in &shown.findings {
        rows.add(f.what, format(f.kind, f.si, system));
    }
    out.push_str(&format!("\n{}", rows.laid_out("Shown by a run (computed)", columns)));
    let verdict = match shown.borne_out {
        true => look_alikes::VERDICT.to_owned(),
        // Never seen; said all the same, because the verdict rests on the run.
        false => "the run does not bear it out: look closer".to_owned(),
    };
    out.push_str(&format!("\nVerdict: {verdict}.\n"));
    out.push_str(&end(&[], &super::cautions(true), columns));
    out
}
