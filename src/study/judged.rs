//! Three outcomes: what is asked holds, does not, or cannot be judged.

use super::condition::Condition;
use super::output::Output;
use super::run::Row;
use super::statistics::{Share, share};
use crate::error::Error;
use serde::{Serialize, Serializer};

/// What is known of a condition at one place, or of one unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Judged {
    /// It holds.
    Holds,
    /// It does not.
    DoesNot,
    /// It cannot be judged: the run failed, or there is no value to compare.
    Unknown,
}

impl From<Option<bool>> for Judged {
    fn from(holds: Option<bool>) -> Self {
        match holds {
            Some(true) => Judged::Holds,
            Some(false) => Judged::DoesNot,
            None => Judged::Unknown,
        }
    }
}

impl Judged {
    /// Whether all hold: one that does not decides it, whatever the others are.
    pub fn all(each: &[Judged]) -> Judged {
        [Judged::DoesNot, Judged::Unknown].into_iter().find(|j| each.contains(j)).unwrap_or(Judged::Holds)
    }
}

/// Conditions with the places of their values in the rows of a study.
#[derive(Debug)]
pub struct Judge<'a>(Vec<(&'a Condition, Option<usize>)>);

impl<'a> Judge<'a> {
    /// For rows with these outputs.
    pub fn new(outputs: &[Output], conditions: &'a [Condition]) -> Judge<'a> {
        Judge(conditions.iter().map(|c| (c, outputs.iter().position(|o| *o == c.output))).collect())
    }

    /// What is known of each condition in a row that did not fail.
    ///
    /// # Errors
    /// As [`Condition::judge`].
    pub fn each(&self, row: &Row) -> Result<Vec<Judged>, Error> {
        let one = |(condition, place): &(&Condition, Option<usize>)| match place.and_then(|p| row.cells.get(p)) {
            Some(cell) => condition.judge(cell),
            None => Ok(Judged::Unknown),
        };
        self.0.iter().map(one).collect()
    }
}

/// How many units meet something, how many do not, and of how many neither can be said.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Outcomes {
    /// Units that meet it.
    pub met: u64,
    /// Units that do not.
    pub not_met: u64,
    /// Units that cannot be judged; they are in no share.
    pub not_judged: u64,
}

impl Outcomes {
    /// Counts one unit.
    pub fn add(&mut self, judged: Judged) {
        *match judged {
            Judged::Holds => &mut self.met,
            Judged::DoesNot => &mut self.not_met,
            Judged::Unknown => &mut self.not_judged,
        } += 1;
    }

    /// The share that meets it of the units that can be judged.
    pub fn share(&self) -> Share {
        share(self.met, self.met + self.not_met)
    }
}

/// The share, `of` the units that can be judged, and the counts that it does not have.
impl Serialize for Outcomes {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Told {
            #[serde(flatten)]
            share: Share,
            not_met: u64,
            not_judged: u64,
        }
        Told { share: self.share(), not_met: self.not_met, not_judged: self.not_judged }.serialize(serializer)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Strong three-valued logic (S. C. Kleene, J. Symb. Log. 3 (1938) 150): "and" of the nine pairs.
    #[test]
    fn ref_and_of_three_values() {
        let [yes, no, open] = [Judged::Holds, Judged::DoesNot, Judged::Unknown];
        for (a, b, both) in
            [(yes, yes, yes), (yes, open, open), (open, open, open), (yes, no, no), (no, open, no), (no, no, no)]
        {
            assert_eq!((Judged::all(&[a, b]), Judged::all(&[b, a])), (both, both));
        }
        assert_eq!(Judged::all(&[]), yes);
    }
}
