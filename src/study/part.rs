//! Parts of a study: those of a job array, and those that are done.

use std::collections::BTreeSet;

/// One part of a study that is divided among several machines: part `part` (from 1) of `of`. Part k has the runs k, k + of,
/// k + 2 of, ..., so that expensive corners of a map fall to all of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shard {
    /// Which, from 1.
    pub part: u64,
    /// Of how many.
    pub of: u64,
}

impl Shard {
    /// The whole study.
    pub const WHOLE: Shard = Shard { part: 1, of: 1 };

    /// The numbers of its runs in a study of `len`.
    pub fn indices(self, len: u64) -> impl Iterator<Item = u64> + Clone {
        (self.part.saturating_sub(1)..len).step_by(usize::try_from(self.of.max(1)).unwrap_or(usize::MAX))
    }

    /// How many runs it has in a study of `len`.
    pub fn count(self, len: u64) -> u64 {
        len.saturating_sub(self.part.saturating_sub(1)).div_ceil(self.of.max(1))
    }
}

/// Which runs are done: all up to one number, and some beyond it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Done {
    /// Runs of the shard that are done from its beginning without a gap.
    prefix: u64,
    shard: Option<Shard>,
    beyond: BTreeSet<u64>,
}

impl Done {
    /// Nothing of this shard.
    pub fn none(shard: Shard) -> Done {
        Done { prefix: 0, shard: Some(shard), beyond: BTreeSet::new() }
    }

    /// Notes that run `index` is done; `false` if it is not of this shard or was noted before.
    pub fn insert(&mut self, index: u64) -> bool {
        let Shard { part, of } = self.shard.unwrap_or(Shard::WHOLE);
        let first = part.saturating_sub(1);
        if index < first || !(index - first).is_multiple_of(of) || self.contains(index) {
            return false;
        }
        self.beyond.insert(index);
        while self.beyond.remove(&(first + self.prefix * of)) {
            self.prefix += 1;
        }
        true
    }

    /// Whether run `index` is done.
    pub fn contains(&self, index: u64) -> bool {
        let Shard { part, of } = self.shard.unwrap_or(Shard::WHOLE);
        let first = part.saturating_sub(1);
        index >= first && (index - first) / of.max(1) < self.prefix || self.beyond.contains(&index)
    }

    /// How many are done.
    pub fn count(&self) -> u64 {
        self.prefix + self.beyond.len() as u64
    }
}
