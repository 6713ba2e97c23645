//! The number at the start of a quantity: decimals, exponents, fractions, mixed fractions.

use crate::error::QuantityProblem as Problem;

/// Longest text that can be a quantity, in bytes.
const LONGEST: usize = 120;
/// Smallest and largest size that is no slip.
pub(super) const SMALLEST: f64 = 1e-30;
const LARGEST: f64 = 1e30;

/// Refuses NaN, infinity and sizes that can only be a slip. Zero is fine.
pub(super) fn sane(value: f64) -> Result<f64, Problem> {
    if !value.is_finite() {
        return Err(Problem::NotFinite);
    }
    if value != 0.0 && !(SMALLEST..=LARGEST).contains(&value.abs()) {
        return Err(Problem::Absurd);
    }
    Ok(value)
}

/// The number at the start of `text`, and the rest after it.
pub(super) fn leading_number(text: &str) -> Result<(f64, &str), Problem> {
    let text = text.trim();
    if text.is_empty() {
        return Err(Problem::Empty);
    }
    if text.len() > LONGEST {
        return Err(Problem::TooLong);
    }
    let (sign, body) = match text.strip_prefix(['-', '\u{2212}']) {
        Some(rest) => (-1.0, rest),
        None => (1.0, text.strip_prefix('+').unwrap_or(text)),
    };
    let lower = body.to_ascii_lowercase();
    if lower.starts_with("nan") || lower.starts_with("inf") && !lower.starts_with("in ") {
        return Err(Problem::NotFinite);
    }
    let (value, rest) = match fraction(body)? {
        Some(found) => found,
        None => decimal(body)?,
    };
    if rest.starts_with(',') {
        return Err(Problem::Comma);
    }
    // "1.2.3 in" or "5-3 psi": what follows must be a unit, not more number.
    if rest.trim_start().starts_with(|c: char| c.is_ascii_digit() || matches!(c, '.' | '-' | '+' | '/')) {
        return Err(Problem::NoNumber);
    }
    Ok((sane(sign * value)?, rest))
}

fn digits(text: &str) -> (&str, &str) {
    let end = text.bytes().position(|b| !b.is_ascii_digit()).unwrap_or(text.len());
    text.split_at_checked(end).unwrap_or((text, ""))
}

/// "3/4", "1-1/4", "1 1/4"; `None` if the text starts with something else.
fn fraction(text: &str) -> Result<Option<(f64, &str)>, Problem> {
    let (first, rest) = digits(text);
    if first.is_empty() {
        return Ok(None);
    }
    if let Some((below, rest)) = denominator(rest) {
        return Ok(Some((quotient(first, below)?, rest)));
    }
    let Some(joined) = rest.strip_prefix(['-', ' ']) else {
        return Ok(None);
    };
    let (above, tail) = digits(joined);
    match denominator(tail) {
        Some((below, rest)) if !above.is_empty() => Ok(Some((whole(first)? + quotient(above, below)?, rest))),
        _ => Ok(None),
    }
}

fn denominator(text: &str) -> Option<(&str, &str)> {
    let (below, rest) = digits(text.strip_prefix('/')?);
    (!below.is_empty()).then_some((below, rest))
}

fn whole(text: &str) -> Result<f64, Problem> {
    text.parse().map_err(|_| Problem::NoNumber)
}

fn quotient(above: &str, below: &str) -> Result<f64, Problem> {
    let below = whole(below)?;
    if below == 0.0 {
        return Err(Problem::ZeroDenominator);
    }
    Ok(whole(above)? / below)
}

fn decimal(text: &str) -> Result<(f64, &str), Problem> {
    let (whole, rest) = digits(text);
    let (decimals, rest) = match rest.strip_prefix('.') {
        Some(after) => digits(after),
        None => ("", rest),
    };
    if whole.is_empty() && decimals.is_empty() {
        return Err(Problem::NoNumber);
    }
    let mut exponent = 0;
    let mut after = rest;
    if let Some(tail) = rest.strip_prefix(['e', 'E']) {
        let (negative, unsigned) = match tail.strip_prefix('-') {
            Some(t) => (true, t),
            None => (false, tail.strip_prefix('+').unwrap_or(tail)),
        };
        let (figures, tail) = digits(unsigned);
        if !figures.is_empty() {
            let size: i32 = figures.parse().map_err(|_| Problem::Absurd)?;
            exponent = if negative { -size } else { size };
            after = tail;
        }
    }
    let value: f64 = format!("0{whole}.{decimals}0e{exponent}").parse().map_err(|_| Problem::NoNumber)?;
    // An exponent can also swallow the number: 1e-999 must not pass as zero.
    if value == 0.0 && [whole, decimals].iter().any(|d| d.bytes().any(|b| b != b'0')) {
        return Err(Problem::Absurd);
    }
    Ok((value, after))
}
