//! The pictures in `output/gallery` are those the program draws today.
//!
//! `POPPETRY_GALLERY=write cargo test --release --test gallery` draws them anew.
#![allow(clippy::unwrap_used, clippy::panic)]

use std::fs;
use std::path::Path;

/// File in the gallery, and the arguments that draw it.
const PICTURES: [(&str, &[&str]); 4] = [
    ("sequence-pvb-spring.svg", &["sequence", "--chart", "sequence=@"]),
    ("strip-pvb-spring-svb-diaphragm.svg", &["sequence", "--against", "svb-diaphragm", "--chart", "strip=@"]),
    ("strip-svb-stem.svg", &["sequence", "--assembly", "svb-stem", "--chart", "strip=@"]),
    ("curves-pvb-spring.svg", &["curves", "--chart", "curves=@"]),
];

fn drawn(file: &Path, args: &[&str]) -> String {
    let file_name = file.to_string_lossy();
    let args = args.iter().map(|a| a.replace('@', &file_name));
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let status = poppetry::cli::run(std::iter::once("poppetry".to_owned()).chain(args), &mut out, &mut err, 96);
    assert_eq!(status, 0, "{}", String::from_utf8_lossy(&err));
    fs::read_to_string(file).unwrap()
}

/// Numbers and the text between them; the hash of the input, which any new field changes, and the version left out.
fn tokens(svg: &str) -> (Vec<f64>, String) {
    let masked: Vec<&str> = svg.lines().map(|l| l.split(" · poppetry ").next().unwrap_or(l)).collect();
    let (mut numbers, mut rest, mut number) = (Vec::new(), String::new(), String::new());
    for c in masked.join("\n").chars().chain(['\n']) {
        let sign = c == '-' && number.is_empty() && !rest.ends_with(|c: char| c.is_ascii_alphanumeric() && c != 'l');
        if c.is_ascii_digit() || sign || (c == '.' && !number.is_empty() && !number.contains('.')) {
            number.push(c);
            continue;
        }
        if let Ok(value) = number.parse::<f64>() {
            numbers.push(value);
            rest.push('#');
        } else {
            rest.push_str(&number);
        }
        number.clear();
        rest.push(c);
    }
    (numbers, rest)
}

#[test]
fn regress_the_gallery_shows_what_the_program_draws() {
    let gallery = Path::new(env!("CARGO_MANIFEST_DIR")).join("output/gallery");
    let write = std::env::var_os("POPPETRY_GALLERY").is_some_and(|v| v == "write");
    let dir = tempfile::tempdir().unwrap();
    for (name, args) in PICTURES {
        let kept = gallery.join(name);
        let now = drawn(&dir.path().join(name), args);
        assert!(now.len() < 300_000, "{name} has {} bytes", now.len());
        if write {
            fs::write(&kept, &now).unwrap();
            continue;
        }
        let before = fs::read_to_string(&kept).unwrap_or_else(|e| panic!("{}: {e}", kept.display()));
        let ((a, text_a), (b, text_b)) = (tokens(&before), tokens(&now));
        let again = "draw the gallery anew if the change is meant (see the head of this test)";
        assert!(
            text_a == text_b && a.len() == b.len(),
            "{name} has other shapes or words than the program draws: {again}"
        );
        // Coordinates are tenths of a pixel; another machine's arithmetic may round one to its neighbour.
        let worst = a.iter().zip(&b).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        assert!(worst <= 2.0, "{name}: a number is off by {worst}: {again}");
    }
}

#[test]
fn regress_the_gallery_holds_nothing_else_and_the_readme_shows_two_of_it() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut found: Vec<String> = fs::read_dir(root.join("output/gallery"))
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    let mut expected: Vec<&str> = PICTURES.iter().map(|p| p.0).collect();
    found.sort();
    expected.sort();
    assert_eq!(found, expected);
    let readme = fs::read_to_string(root.join("README.md")).unwrap();
    assert_eq!(PICTURES.iter().filter(|p| readme.contains(&format!("](output/gallery/{})", p.0))).count(), 2);
}
