//! How a user's text is shown in a message: shortened, with nothing in it that could upset a terminal.

const SHORT: usize = 60;
const LONG: usize = 400;

/// The text shortened to 60 characters with control and direction-changing characters escaped.
pub fn shown(text: &str) -> String {
    clipped(text, SHORT, false)
}

/// As [`shown`], 400 characters.
pub(crate) fn shown_long(text: &str) -> String {
    clipped(text, LONG, false)
}

/// As [`shown`], in double quotes.
pub(crate) fn quoted(text: &str) -> String {
    format!("\"{}\"", clipped(text, SHORT, true))
}

pub(super) fn shown_path(path: &std::path::Path) -> String {
    clipped(&path.to_string_lossy(), LONG, false)
}

fn clipped(text: &str, limit: usize, escape_quote: bool) -> String {
    let mut out = String::new();
    let mut chars = text.chars();
    for c in chars.by_ref().take(limit) {
        // Direction marks and zero-width characters can make a message read as something else.
        let hidden =
            matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}');
        if c.is_control() || hidden || (escape_quote && c == '"') {
            out.extend(c.escape_default());
        } else {
            out.push(c);
        }
    }
    let left = chars.count();
    if left > 0 {
        out.push_str(&format!("... ({left} more characters)"));
    }
    out
}

pub(super) fn joined(fields: &[String]) -> String {
    fields.iter().map(|f| shown(f)).collect::<Vec<_>>().join(" and ")
}

pub(super) fn did_you_mean(nearest: &Option<String>) -> String {
    match nearest {
        Some(name) => format!("; did you mean \"{}\"?", shown(name)),
        None => String::new(),
    }
}

pub(super) fn at_prefix(at: &Option<super::At>) -> String {
    at.as_ref().map(|a| format!("{a}: ")).unwrap_or_default()
}

pub(super) fn named_by_suffix(named_by: &Option<String>) -> String {
    named_by.as_ref().map(|n| format!("\n  named by {}", shown_long(n))).unwrap_or_default()
}

pub(super) fn line_suffix(line: Option<usize>) -> String {
    line.map(|l| format!(":{l}")).unwrap_or_default()
}

pub(super) fn column_suffix(column: &Option<String>) -> String {
    column.as_ref().map(|c| format!(": column {}", quoted(c))).unwrap_or_default()
}

/// The known name nearest to `name`, if any is near enough to be what was meant: a slip of two letters at most, then one
/// that has all the words written ("check-weak": "check-spring-weak"), then what is otherwise alike.
pub fn nearest<'a>(name: &str, known: impl IntoIterator<Item = &'a str>) -> Option<String> {
    // A name far longer than any of ours has no neighbour, and comparing it would take its square in time.
    if name.chars().count() > SHORT {
        return None;
    }
    let lower = name.to_lowercase();
    let words = |text: &str| -> Vec<String> {
        text.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).map(str::to_lowercase).collect()
    };
    let written = words(&lower);
    let has_all = |k: &str| !written.is_empty() && written.iter().all(|w| words(k).contains(w));
    known
        .into_iter()
        .map(|k| (strsim::damerau_levenshtein(&lower, &k.to_lowercase()), has_all(k), k))
        .filter(|(d, has, k)| *has || *d <= 1 + k.chars().count().max(lower.chars().count()) / 3)
        .min_by_key(|(d, has, _)| (*d > 2 && !has, *d))
        .map(|(.., k)| k.to_string())
}
