//! Cautions: what must stand under every output that gives a pressure, a reading or advice.

use super::text::wrapped;

/// A caution with a stable id.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Caution {
    /// What the numbers are not.
    NotATestResult,
    /// Who may test and repair, and what comes first.
    LicensedTestersAndLocalCode,
    /// A closed check keeps pressure in.
    PressureCanStayTrapped,
    /// What comes out is drinking water.
    PotableWater,
    /// What ice does to metal, and what a relief is not.
    Freezing,
    /// What a choice by these numbers still needs.
    BenchDataFirst,
    /// What water that has come back means, and where a vacuum is shown.
    ContaminationEvent,
}

impl Caution {
    /// Those of every run, in the order in which they are printed.
    pub const ALL: [Caution; 4] = [
        Caution::NotATestResult,
        Caution::LicensedTestersAndLocalCode,
        Caution::PressureCanStayTrapped,
        Caution::PotableWater,
    ];

    /// Those of every run, and those that these commands add.
    pub(super) fn of_commands<'a>(commands: impl IntoIterator<Item = &'a str>) -> Vec<Caution> {
        let mut all = Caution::ALL.to_vec();
        for command in commands {
            let more: &[Caution] = match command {
                "freeze" => &[Caution::Freezing],
                "relief" => &[Caution::Freezing, Caution::BenchDataFirst],
                "siphon" => &[Caution::ContaminationEvent],
                _ => &[],
            };
            all.extend(more.iter().filter(|c| !all.contains(c)).copied().collect::<Vec<_>>());
        }
        all
    }

    /// The id in JSON; it stays the same.
    pub fn id(self) -> &'static str {
        match self {
            Caution::NotATestResult => "not-a-test-result",
            Caution::LicensedTestersAndLocalCode => "licensed-testers-and-local-code",
            Caution::PressureCanStayTrapped => "pressure-can-stay-trapped",
            Caution::PotableWater => "potable-water",
            Caution::Freezing => "freezing",
            Caution::BenchDataFirst => "bench-data-first",
            Caution::ContaminationEvent => "contamination-event",
        }
    }

    /// The caution in words.
    pub fn words(self) -> &'static str {
        match self {
            Caution::NotATestResult => {
                "Teaching and design aid only. It does not test, approve or certify any assembly, and its numbers are not a \
                 test result."
            }
            Caution::LicensedTestersAndLocalCode => {
                "Only a tester or repairer recognised by your local authority may test, repair or report. Local rules, the \
                 water supplier and the listing of the assembly come first."
            }
            Caution::PressureCanStayTrapped => {
                "A closed check can stay loaded after the supply is off: shut off and bleed all zones before loosening a \
                 bonnet, cock or screw, wear eye protection, and keep the face clear of canopy and cocks."
            }
            Caution::PotableWater => {
                "What spills is drinking water: flush, keep parts clean, and keep water away from controllers and outlets."
            }
            Caution::Freezing => {
                "Ice can burst metal, and a thawed part may burst when pressure comes back: refill slowly, stand aside, look \
                 for splits. A relief is a last resort, no winterising. Never thaw with a flame."
            }
            Caution::BenchDataFirst => {
                "Strengths, slams and supercooling rest on estimates: check with bench data before choosing a relief or spring."
            }
            Caution::ContaminationEvent => {
                "In service, treat a failed assembly or a main break as a possible contamination event and tell the water \
                 supplier. Show a vacuum on a clean rig, never on the live supply."
            }
        }
    }

    /// Ids of several, for a document.
    pub(super) fn ids(cautions: &[Caution]) -> Vec<&'static str> {
        cautions.iter().map(|c| c.id()).collect()
    }

    /// Several as the last paragraph of a report.
    pub(super) fn paragraph(cautions: &[Caution], columns: usize) -> String {
        let all: Vec<&str> = cautions.iter().map(|c| c.words()).collect();
        wrapped(&format!("Caution: {}", all.join(" ")), columns, 0, 0)
    }

    /// The first three in one line, for the foot of a chart.
    pub fn short() -> &'static str {
        "Caution: computed, not a test result. Tests and repairs are for testers recognised locally. Bleed all zones before \
         opening anything."
    }
}
