//! What makes two studies the same study, and in what they differ.

use serde_json::Value as Json;
use sha2::{Digest, Sha256};
use std::fmt::Write;

/// SHA-256 of a study's description, in hexadecimal.
pub fn sha256(description: &Json) -> String {
    let digest = Sha256::digest(description.to_string().as_bytes());
    digest.iter().fold(String::new(), |mut hex, byte| {
        // Writing to a String cannot fail.
        let _ = write!(hex, "{byte:02x}");
        hex
    })
}

/// The differences of two descriptions, as `path: before, now after`; at most `most` of them.
pub fn differences(before: &Json, after: &Json, most: usize) -> Vec<String> {
    let mut all = Vec::new();
    differ("", before, after, &mut all);
    let more = all.len().saturating_sub(most);
    all.truncate(most);
    if more > 0 {
        all.push(format!("and {more} more"));
    }
    all
}

fn differ(path: &str, before: &Json, after: &Json, all: &mut Vec<String>) {
    let below = |key: &str| if path.is_empty() { key.to_owned() } else { format!("{path} {key}") };
    match (before, after) {
        (Json::Object(a), Json::Object(b)) => {
            for (key, inner) in a {
                differ(&below(key), inner, b.get(key).unwrap_or(&Json::Null), all);
            }
            for (key, inner) in b.iter().filter(|(key, _)| !a.contains_key(*key)) {
                differ(&below(key), &Json::Null, inner, all);
            }
        }
        (Json::Array(a), Json::Array(b)) if a.len() == b.len() => {
            for (i, (x, y)) in a.iter().zip(b).enumerate() {
                differ(&below(&(i + 1).to_string()), x, y, all);
            }
        }
        _ if before == after => {}
        _ => {
            let short = |j: &Json| match j {
                Json::Null => "not there".to_owned(),
                other => crate::error::shown(&other.to_string()),
            };
            all.push(format!("{path}: {} before, {} now", short(before), short(after)));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn analytic_differences_name_their_place() {
        let a = json!({"settings": {"check.load": 1.0, "size": "1 in"}, "record": ["x", "y"]});
        let b = json!({"settings": {"check.load": 2.0, "size": "1 in"}, "record": ["x", "z"], "seed": 3});
        assert_eq!(
            differences(&a, &b, 9),
            [
                "settings check.load: 1.0 before, 2.0 now",
                "record 2: \"y\" before, \"z\" now",
                "seed: not there before, 3 now"
            ]
        );
        assert!(differences(&a, &a, 9).is_empty());
        assert_eq!(differences(&a, &b, 1).len(), 2);
        assert_ne!(sha256(&a), sha256(&b));
    }
}
