//! Names of the interface document's schemas, read from the source. The document keeps one schema
//! for each name: of two types that share a name, the answers of one would go undescribed.

use std::collections::BTreeMap;
use std::path::Path;

use crate::source::{files_below, without_comments, without_tests};

/// Schema names of the types of a text that derive `ToSchema`.
fn described(code: &str) -> Vec<&str> {
    code.split("#[derive(")
        .skip(1)
        .filter(|item| {
            item.split(")]")
                .next()
                .is_some_and(|derived| derived.contains("ToSchema"))
        })
        .filter_map(|item| {
            let mut words = item.split_whitespace();
            let keyword = words.find(|word| ["#[schema(as", "struct", "enum"].contains(word))?;
            // `as = Name`.
            let skipped = usize::from(keyword.starts_with('#'));
            let name = words.nth(skipped)?;
            name.split(|c: char| !c.is_alphanumeric()).next()
        })
        .collect()
}

#[test]
fn no_two_schemas_share_a_name() {
    let mut files: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for path in files_below(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), "rs") {
        let text = std::fs::read_to_string(&path).unwrap();
        for name in described(&without_comments(without_tests(&text))) {
            let found = files.entry(name.to_owned()).or_default();
            found.push(path.display().to_string());
        }
    }
    assert!(files.len() > 100, "only {} schemas found", files.len());
    files.retain(|_, found| found.len() > 1);
    assert!(files.is_empty(), "{files:#?}");
}

#[test]
fn the_name_of_a_described_type_is_found() {
    let code = "#[derive(Debug, ToSchema)]\n#[serde(rename_all = \"snake_case\")]\npub enum Clear {\n}\n\
                #[derive(Debug)]\npub struct Bare(u8);\n#[derive(\n    Clone, ToSchema,\n)]\nstruct Two<T>(T);\n\
                #[derive(ToSchema)]\n#[schema(as = Named)]\npub struct Three;";
    assert_eq!(described(code), ["Clear", "Two", "Named"]);
}
