//! No test depends on the pace of the machine: it waits for a condition, looking again and again,
//! and never simply for a time.

use std::path::Path;

use crate::source::{files_below, split_at_tests, without_comments};

/// Longest pause between two looks.
const LONGEST_MS: u64 = 200;

/// Pauses that are what a test is about, not a wait: file and what stands between the brackets.
const ON_PURPOSE: [(&str, &str); 1] = [(
    // A picture that takes long.
    "tests/live/chain.rs",
    "Duration::from_millis(slower.load(Ordering::Relaxed))",
)];

/// What stands between the brackets of every call of a function that sleeps.
fn sleeps(code: &str) -> Vec<(&str, &str)> {
    let mut found = Vec::new();
    for name in ["sleep", "sleep_until"] {
        for (at, call) in code.match_indices(&format!("{name}(")) {
            let inside = &code[at + call.len()..];
            let mut depth = 1;
            let end = inside.find(|c| {
                depth += match c {
                    '(' => 1,
                    ')' => -1,
                    _ => 0,
                };
                depth == 0
            });
            let argument = inside[..end.unwrap_or(inside.len())].trim();
            let name = &call[..call.len() - 1];
            found.push((name, argument));
        }
    }
    found
}

/// Milliseconds of a fixed time in Rust or Python; `None` when it is not fixed.
fn fixed_ms(argument: &str, code: &str) -> Option<u64> {
    if let Ok(seconds) = argument.parse::<f64>() {
        return Some((1000.0 * seconds) as u64);
    }
    let path = argument.trim_start_matches("std::time::");
    if let Some(call) = path.strip_prefix("Duration::") {
        let (unit, number) = call.strip_suffix(')')?.split_once('(')?;
        let number: f64 = number.replace('_', "").parse().ok()?;
        let ms = match unit {
            "from_millis" => number,
            _ => 1000.0 * number,
        };
        return Some(ms as u64);
    }
    let constant = format!("const {argument}: Duration = ");
    let (_, value) = code.split_once(&constant)?;
    let (value, _) = value.split_once(';')?;
    fixed_ms(value.trim(), code)
}

fn is_allowed(name: &str, argument: &str, code: &str) -> bool {
    match fixed_ms(argument, code) {
        Some(ms) => ms <= LONGEST_MS,
        // A moment that something is due at, on a clock that was started before.
        None if name == "sleep_until" => !argument.contains("now()"),
        None => argument.contains(".saturating_sub("),
    }
}

#[test]
fn no_test_simply_waits() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut complaints = Vec::new();
    let mut looked_at = 0;
    for path in [root.join("tests"), root.join("src")]
        .iter()
        .flat_map(|folder| files_below(folder, "rs"))
    {
        let text = std::fs::read_to_string(&path).unwrap();
        let name = path.strip_prefix(root).unwrap().display().to_string();
        let is_test = name.starts_with("tests/") || name.ends_with("/tests.rs");
        let code = without_comments(if is_test {
            &text
        } else {
            split_at_tests(&text).1
        });
        if name == "tests/checks/pace.rs" {
            continue;
        }
        for (function, argument) in sleeps(&code) {
            looked_at += 1;
            let on_purpose = ON_PURPOSE.contains(&(name.as_str(), argument));
            if !on_purpose && !is_allowed(function, argument, &code) {
                complaints.push(format!("{name}: {function}({argument})"));
            }
        }
    }
    // What measures over a time must wait for it.
    let measures = root.join("tests/bench");
    let scripts = files_below(&root.join("tests"), "py");
    for path in scripts.iter().filter(|path| !path.starts_with(&measures)) {
        let text = std::fs::read_to_string(path).unwrap();
        for (_, argument) in sleeps(&text) {
            looked_at += 1;
            if fixed_ms(argument, "").is_some_and(|ms| ms > LONGEST_MS) {
                complaints.push(format!("{}: sleep({argument})", path.display()));
            }
        }
    }
    assert!(complaints.is_empty(), "{complaints:#?}");
    assert!(looked_at > 20, "only {looked_at} calls were found");
}

#[test]
fn a_fixed_time_is_known_in_every_form() {
    let code = "const AGAIN: Duration = Duration::from_millis(250);";
    for (argument, ms) in [
        ("Duration::from_millis(200)", Some(200)),
        ("std::time::Duration::from_millis(1_500)", Some(1500)),
        ("Duration::from_secs(1)", Some(1000)),
        ("Duration::from_secs_f64(0.5)", Some(500)),
        ("Duration::from_secs_f64(x)", None),
        ("AGAIN", Some(250)),
        ("0.5", Some(500)),
        ("due.saturating_sub(since.elapsed())", None),
    ] {
        assert_eq!(fixed_ms(argument, code), ms, "{argument}");
    }
    assert!(!is_allowed("sleep", "AGAIN", code));
    assert!(!is_allowed("sleep", "some_time", code));
    assert!(!is_allowed("sleep", "Duration::from_millis(more)", code));
    assert!(!is_allowed("sleep_until", "Instant::now() + WAIT", code));
    assert!(is_allowed("sleep_until", "begin + due", code));
    assert!(is_allowed(
        "sleep",
        "due.saturating_sub(since.elapsed())",
        code
    ));
    assert_eq!(
        sleeps("tokio::time::sleep(f(g(1))).await; sleep_until(x)"),
        [("sleep", "f(g(1))"), ("sleep_until", "x")]
    );
}
