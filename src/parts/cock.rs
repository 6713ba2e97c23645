//! A test cock's handle.

/// Turns of a needle cock's handle that open nothing yet: half a turn (common practice, no source).
pub const NEEDLE_DEAD_TURNS: f64 = 0.5;
/// Turns at which a needle cock is wide open (estimate).
pub const NEEDLE_OPEN_TURNS: f64 = 2.0;

/// Kind of test cock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CockKind {
    /// A quarter turn opens it.
    QuarterTurn,
    /// A needle on a thread: nothing for half a turn, then in proportion.
    Needle,
}

impl CockKind {
    /// Share of the flow area that is open, 0 to 1, at `turns` of the handle from shut.
    pub fn opening(self, turns: f64) -> f64 {
        let (dead, open) = match self {
            CockKind::QuarterTurn => (0.0, 0.25),
            CockKind::Needle => (NEEDLE_DEAD_TURNS, NEEDLE_OPEN_TURNS),
        };
        ((turns - dead) / (open - dead)).clamp(0.0, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn practice_a_needle_passes_nothing_at_half_a_turn_where_a_quarter_turn_cock_is_open() {
        assert_eq!(CockKind::Needle.opening(0.5), 0.0);
        assert_eq!(CockKind::QuarterTurn.opening(0.25), 1.0);
        assert_eq!(CockKind::Needle.opening(1.25), 0.5);
        assert_eq!(CockKind::Needle.opening(7.0), 1.0);
        assert_eq!(CockKind::QuarterTurn.opening(0.0), 0.0);
    }
}
