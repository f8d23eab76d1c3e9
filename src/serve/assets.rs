//! The pages, built into the binary. Nothing is fetched from anywhere else at run time.

use std::hash::{DefaultHasher, Hash, Hasher};

use axum::Router;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::get;

const HTML: &str = "text/html; charset=utf-8";
const CSS: &str = "text/css; charset=utf-8";
const JS: &str = "text/javascript; charset=utf-8";
const SVG: &str = "image/svg+xml";
const PNG: &str = "image/png";
const MANIFEST: &str = "application/manifest+json";

/// One file of the pages.
struct Asset {
    path: &'static str,
    content_type: &'static str,
    bytes: &'static [u8],
}

macro_rules! asset {
    ($path:literal, $content_type:expr, $file:literal) => {
        Asset {
            path: $path,
            content_type: $content_type,
            bytes: include_bytes!(concat!("assets/", $file)),
        }
    };
}

const ASSETS: &[Asset] = &[
    asset!("/", HTML, "mate.html"),
    asset!("/helm", HTML, "helm.html"),
    asset!("/rig", HTML, "rig.html"),
    asset!("/day", HTML, "day.html"),
    asset!("/phone", HTML, "phone.html"),
    asset!("/v1/docs", HTML, "docs.html"),
    asset!("/assets/sheet.css", CSS, "sheet.css"),
    asset!("/assets/rig.css", CSS, "rig.css"),
    asset!("/assets/day.css", CSS, "day.css"),
    asset!("/assets/phone.css", CSS, "phone.css"),
    asset!("/assets/phone.js", JS, "phone.js"),
    asset!("/assets/phone_page.js", JS, "phone_page.js"),
    asset!("/assets/phone_page_words.js", JS, "phone_page_words.js"),
    asset!("/assets/phone_words.js", JS, "phone_words.js"),
    asset!("/assets/look.js", JS, "look.js"),
    asset!("/assets/words.js", JS, "words.js"),
    asset!("/assets/link.js", JS, "link.js"),
    asset!("/assets/parts.js", JS, "parts.js"),
    asset!("/assets/svg.js", JS, "svg.js"),
    asset!("/assets/draw.js", JS, "draw.js"),
    asset!("/assets/notice.js", JS, "notice.js"),
    asset!("/assets/advice.js", JS, "advice.js"),
    asset!("/assets/turn.js", JS, "turn.js"),
    asset!("/assets/before.js", JS, "before.js"),
    asset!("/assets/mate.js", JS, "mate.js"),
    asset!("/assets/helm.js", JS, "helm.js"),
    asset!("/assets/rig.js", JS, "rig.js"),
    asset!("/assets/day.js", JS, "day.js"),
    asset!("/assets/day_parts.js", JS, "day_parts.js"),
    asset!("/assets/day_plots.js", JS, "day_plots.js"),
    asset!("/assets/day_sums.js", JS, "day_sums.js"),
    asset!("/assets/day_words.js", JS, "day_words.js"),
    asset!("/assets/instruments.js", JS, "instruments.js"),
    asset!("/assets/sources.js", JS, "sources.js"),
    asset!("/assets/outlets.js", JS, "outlets.js"),
    asset!("/assets/locker.js", JS, "locker.js"),
    asset!("/assets/rig_words.js", JS, "rig_words.js"),
    asset!("/assets/launch.js", JS, "launch.js"),
    asset!("/assets/trouble.js", JS, "trouble.js"),
    asset!("/assets/deck_words.js", JS, "deck_words.js"),
    asset!("/assets/strike.js", JS, "strike.js"),
    asset!("/assets/strike_words.js", JS, "strike_words.js"),
    asset!("/assets/marks.js", JS, "marks.js"),
    asset!("/assets/marks_words.js", JS, "marks_words.js"),
    asset!("/assets/pass.js", JS, "pass.js"),
    asset!("/assets/pass_words.js", JS, "pass_words.js"),
    asset!("/assets/plot.js", JS, "plot.js"),
    asset!("/assets/weights.js", JS, "weights.js"),
    asset!("/assets/setup.js", JS, "setup.js"),
    asset!("/assets/docs.js", JS, "docs.js"),
    asset!("/assets/icon.svg", SVG, "icon.svg"),
    asset!("/assets/icon-192.png", PNG, "icon-192.png"),
    asset!("/assets/icon-512.png", PNG, "icon-512.png"),
    asset!("/assets/icon-masked-512.png", PNG, "icon-masked-512.png"),
    asset!("/manifest.webmanifest", MANIFEST, "manifest.webmanifest"),
];

/// Paths of all files.
pub(super) fn paths() -> impl Iterator<Item = &'static str> {
    ASSETS.iter().map(|asset| asset.path)
}

/// Routes of all files.
pub(super) fn routes<S: Clone + Send + Sync + 'static>() -> Router<S> {
    ASSETS.iter().fold(Router::new(), |router, asset| {
        router.route(
            asset.path,
            get(move |headers: HeaderMap| async move { send(asset, &headers) }),
        )
    })
}

/// The file, or "not modified" when the browser already has this version.
fn send(asset: &Asset, headers: &HeaderMap) -> Response {
    let mut hasher = DefaultHasher::new();
    asset.bytes.hash(&mut hasher);
    let tag = format!("\"{:016x}\"", hasher.finish());
    let known = headers
        .get(header::IF_NONE_MATCH)
        .is_some_and(|known| known.as_bytes() == tag.as_bytes());
    let mut response = if known {
        StatusCode::NOT_MODIFIED.into_response()
    } else {
        asset.bytes.into_response()
    };
    let out = response.headers_mut();
    out.insert(
        header::CONTENT_TYPE,
        HeaderValue::from_static(asset.content_type),
    );
    out.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-cache"));
    if let Ok(tag) = HeaderValue::from_str(&tag) {
        out.insert(header::ETAG, tag);
    }
    response
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    fn text(path: &str) -> &'static str {
        let asset = ASSETS.iter().find(|a| a.path == path).unwrap();
        std::str::from_utf8(asset.bytes).unwrap()
    }

    /// The files that a page or module asks for at once: its sheet, its scripts, what those import.
    /// What `import()` asks for comes later.
    fn load(path: &str, loaded: &mut BTreeMap<String, usize>) {
        let text = text(path);
        loaded.insert(path.to_owned(), text.len());
        let words: Vec<&str> = text.split(['"', '\'']).collect();
        let asked = words.windows(2).filter_map(|pair| {
            let &[before, word] = pair else { return None };
            let name = Some(word).filter(|_| !before.ends_with("import("))?;
            let name = name
                .strip_prefix("/assets/")
                .or_else(|| word.strip_prefix("./"))?;
            let is_loaded = [".js", ".css"].iter().any(|end| name.ends_with(end));
            is_loaded.then(|| format!("/assets/{name}"))
        });
        for path in asked {
            if !loaded.contains_key(&path) {
                load(&path, loaded);
            }
        }
    }

    #[test]
    fn the_first_load_stays_small() {
        for page in ["/", "/helm", "/rig", "/day"] {
            let mut loaded = BTreeMap::new();
            load(page, &mut loaded);
            assert!(loaded.contains_key("/assets/words.js"), "{loaded:?}");
            let bytes: usize = loaded.values().sum();
            assert!(bytes <= 110_000, "{page} loads {bytes} bytes: {loaded:?}");
        }
    }

    #[test]
    fn nothing_is_fetched_from_outside_and_nothing_runs_inline() {
        for asset in ASSETS {
            let outside =
                String::from_utf8_lossy(asset.bytes).replace("http://www.w3.org/2000/svg", "");
            assert!(!outside.contains("http://"), "{}", asset.path);
            assert!(!outside.contains("https://"), "{}", asset.path);
            assert!(!outside.contains("style=\""), "{}", asset.path);
            assert!(!outside.contains("onclick="), "{}", asset.path);
        }
    }

    /// Colours of one look: name to sRGB.
    fn look(name: &str) -> BTreeMap<String, [f64; 3]> {
        let sheet = text("/assets/sheet.css");
        let (_, rest) = sheet
            .split_once(&format!("[data-look=\"{name}\"] {{"))
            .unwrap();
        let (block, _) = rest.split_once('}').unwrap();
        block
            .split(';')
            .filter_map(|line| line.trim().split_once(": #"))
            .map(|(name, hex)| {
                let channel = |i| f64::from(u8::from_str_radix(&hex[i..i + 2], 16).unwrap());
                (name.to_owned(), [channel(0), channel(2), channel(4)])
            })
            .collect()
    }

    /// Relative luminance and contrast ratio as defined in WCAG 2.1 (formula from memory).
    fn contrast(a: [f64; 3], b: [f64; 3]) -> f64 {
        let luminance = |rgb: [f64; 3]| {
            let [r, g, b] = rgb.map(|c| {
                let c = c / 255.0;
                if c <= 0.03928 {
                    c / 12.92
                } else {
                    ((c + 0.055) / 1.055).powf(2.4)
                }
            });
            0.2126 * r + 0.7152 * g + 0.0722 * b
        };
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn what_is_read_on_deck_stands_out_seven_to_one() {
        assert!((contrast([0.0; 3], [255.0; 3]) - 21.0).abs() < 1e-9);
        let pairs = [
            ("--ink", "--paper"),
            ("--soft", "--paper"),
            ("--ink", "--panel"),
            ("--soft", "--panel"),
            ("--give", "--panel"),
            ("--take", "--panel"),
            ("--give", "--key"),
            ("--take", "--key"),
            ("--key-ink", "--key"),
            ("--on-ink", "--on"),
            ("--strong-ink", "--strong"),
            ("--alarm-ink", "--alarm"),
            ("--warning-ink", "--warning"),
        ];
        let mut weak = Vec::new();
        for name in ["day", "dusk", "night"] {
            let colours = look(name);
            for (text, ground) in pairs {
                let ratio = contrast(colours[text], colours[ground]);
                if ratio < 7.0 {
                    weak.push(format!("{name}: {text} on {ground} {ratio:.2}"));
                }
            }
        }
        assert_eq!(weak, Vec::<String>::new());
    }

    /// WCAG 2.1, 1.4.11: edges of controls against what they stand on, and the fills that tell an
    /// alarm from a warning, 3:1.
    #[test]
    fn controls_and_alarms_stand_out_three_to_one() {
        let pairs = [
            ("--edge", "--paper"),
            ("--edge", "--panel"),
            // A button on a coloured card has the ink of the card for its edge, and is filled with
            // it when it is the strong one.
            ("--alarm-ink", "--alarm"),
            ("--warning-ink", "--warning"),
            ("--on-ink", "--on"),
            ("--alarm", "--warning"),
            ("--alarm", "--paper"),
            ("--planned", "--paper"),
        ];
        let mut weak = Vec::new();
        for name in ["day", "dusk", "night"] {
            let colours = look(name);
            for (control, ground) in pairs {
                let ratio = contrast(colours[control], colours[ground]);
                if ratio < 3.0 {
                    weak.push(format!("{name}: {control} on {ground} {ratio:.2}"));
                }
            }
        }
        assert_eq!(weak, Vec::<String>::new());
    }
}
