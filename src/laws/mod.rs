//! Laws: pure functions with an equation, a source and a range. No law owns state.
