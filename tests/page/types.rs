//! The modules of the pages under the TypeScript compiler, which is no part of the project:
//! `npm install typescript`, then `TSC=node_modules/.bin/tsc cargo test --test page types`.

use std::path::Path;
use std::process::Command;

#[test]
fn types_of_the_modules_agree() {
    let Some(compiler) = std::env::var_os("TSC") else {
        eprintln!("SKIPPED: set TSC to a TypeScript compiler to check the types of the modules");
        return;
    };
    let assets = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/serve/assets");
    let modules: Vec<_> = std::fs::read_dir(assets)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|file| file.extension().is_some_and(|e| e == "js"))
        .collect();
    assert!(modules.len() > 5, "{modules:?}");
    let checked = Command::new(compiler)
        .args(["--allowJs", "--checkJs", "--noEmit", "--target", "es2022"])
        .args(["--lib", "dom,dom.iterable,es2022", "--module", "es2022"])
        .args(["--moduleResolution", "bundler"])
        .args(modules)
        .output()
        .unwrap();
    assert!(
        checked.status.success(),
        "{}",
        String::from_utf8_lossy(&checked.stdout)
    );
}
