//! What imports what, read from the source: rooms as the map in `src/lib.rs` lists them, the files
//! of a room in one direction, pure rooms without clock, socket, thread or disk.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use crate::source::{files_below, without_comments, without_tests};

/// Rooms that must give the same for the same input.
const PURE: [&str; 20] = [
    "units",
    "time",
    "cause",
    "rig",
    "locker",
    "launch",
    "decode",
    "doubt",
    "vessel",
    "turn",
    "forecast",
    "advice",
    "alert",
    "engine",
    "scene",
    "score",
    "strike",
    "geodesy",
    "track",
    "calibrate",
];

/// What a pure room must not use, as the beginning of a path.
const IMPURE: [&[&str]; 7] = [
    &["std", "time"],
    &["std", "net"],
    &["std", "thread"],
    &["std", "fs"],
    &["tokio"],
    &["tokio_util"],
    &["chrono", "Local"],
];

/// Which names each name imports.
type Graph = BTreeMap<String, BTreeSet<String>>;

/// One file of the source.
struct File {
    path: PathBuf,
    room: String,
    /// Modules below the room: `["chain"]` in `engine/chain.rs`, none in `engine/mod.rs`.
    below: Vec<String>,
    code: String,
}

fn source() -> Vec<File> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let file = |path: PathBuf| {
        let mut names: Vec<String> = path
            .strip_prefix(&root)
            .unwrap()
            .with_extension("")
            .iter()
            .map(|part| part.to_str().unwrap().to_owned())
            .collect();
        names.retain(|name| name != "mod");
        let room = names.remove(0);
        let text = std::fs::read_to_string(&path).unwrap();
        File {
            code: without_comments(without_tests(&text)),
            path,
            room,
            below: names,
        }
    };
    files_below(&root, "rs")
        .into_iter()
        .filter(|path| !path.ends_with("tests.rs"))
        .map(file)
        .filter(|file| !["lib", "main"].contains(&file.room.as_str()))
        .collect()
}

/// Every path of the code that begins with one of these words; `{` and `}` multiply it.
fn paths<'a>(code: &'a str, roots: &[&str]) -> Vec<Vec<&'a str>> {
    let is_name = |c: char| c.is_alphanumeric() || c == '_';
    let mut found = Vec::new();
    let mut rest = code;
    while let Some(start) = rest.find(is_name) {
        let whole = &rest[start..];
        let length = whole.find(|c| !is_name(c)).unwrap_or(whole.len());
        let (word, after) = whole.split_at(length);
        // `a::crate` is no beginning.
        let begins = !rest[..start].ends_with("::");
        rest = if begins && roots.contains(&word) && after.starts_with("::") {
            read_tree(whole, &[], &mut found)
        } else {
            after
        };
    }
    found
}

/// Reads a path, or what stands between braces, from the beginning; gives what is left.
fn read_tree<'a>(code: &'a str, before: &[&'a str], found: &mut Vec<Vec<&'a str>>) -> &'a str {
    let mut path = before.to_vec();
    let mut rest = code.trim_start();
    loop {
        if let Some(mut list) = rest.strip_prefix('{') {
            loop {
                list = list.trim_start();
                if let Some(after) = list.strip_prefix('}') {
                    return after;
                }
                if list.is_empty() {
                    return list;
                }
                list = read_tree(list, &path, found);
                // `as`, a comma: on to the next.
                let next = list.find([',', '}']).unwrap_or(list.len());
                list = list[next..].trim_start_matches(',');
            }
        }
        let length = rest
            .find(|c: char| !c.is_alphanumeric() && c != '_')
            .unwrap_or(rest.len());
        if length == 0 {
            break;
        }
        path.push(&rest[..length]);
        rest = &rest[length..];
        match rest.strip_prefix("::") {
            Some(after) if !after.starts_with('<') => rest = after,
            _ => break,
        }
    }
    found.push(path);
    rest
}

/// Where a path leads: to a room, and to what in it.
fn target<'a>(file: &'a File, path: &'a [&'a str]) -> Option<(&'a str, Option<&'a str>)> {
    let supers = path.iter().take_while(|part| **part == "super").count();
    let inside = match supers {
        0 => {
            let room = *path.get(1)?;
            return Some((room, path.get(2).copied()));
        }
        // Of its own file or a folder of it.
        _ if supers < file.below.len() => return None,
        _ => &path[supers..],
    };
    if supers > file.below.len() {
        let room = *inside.first()?;
        return Some((room, inside.get(1).copied()));
    }
    Some((&file.room, inside.first().copied()))
}

/// The map in `src/lib.rs`: each room and what it imports, in its order.
fn map() -> Vec<(String, BTreeSet<String>)> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/lib.rs");
    let text = std::fs::read_to_string(path).unwrap();
    let row = |line: &str| {
        let row = line.strip_prefix("//! | `")?;
        let (room, row) = row.split_once("` |")?;
        let (_, imports) = row.trim_end().trim_end_matches('|').rsplit_once('|')?;
        let imports = imports.split_whitespace().map(str::to_owned).collect();
        Some((room.to_owned(), imports))
    };
    text.lines().filter_map(row).collect()
}

/// Names on circles, and between two of them; empty when all imports go one way.
fn circles(graph: &Graph) -> Graph {
    let mut left = graph.clone();
    loop {
        let imported: BTreeSet<String> = left.values().flatten().cloned().collect();
        let size = |graph: &Graph| graph.values().map(|names| names.len() + 1).sum::<usize>();
        let before = size(&left);
        // What imports nothing that is left, or is imported by nothing that is left, is on none.
        left.retain(|name, names| !names.is_empty() && imported.contains(name));
        let names: BTreeSet<String> = left.keys().cloned().collect();
        for imports in left.values_mut() {
            imports.retain(|name| names.contains(name));
        }
        if size(&left) == before {
            return left;
        }
    }
}

#[test]
fn rooms_import_what_the_map_says() {
    let mut found = Graph::new();
    for file in source() {
        let imports = found.entry(file.room.clone()).or_default();
        for path in paths(&file.code, &["crate", "super"]) {
            if let Some((room, _)) = target(&file, &path)
                && room != file.room
            {
                imports.insert(room.to_owned());
            }
        }
    }
    let map = map();
    let listed: Graph = map.iter().cloned().collect();
    assert_eq!(listed.len(), map.len(), "a room is listed twice");
    let rooms: BTreeSet<_> = found.keys().chain(listed.keys()).collect();
    let nothing = BTreeSet::new();
    for room in rooms {
        let (found, listed) = (
            found.get(room).unwrap_or(&nothing),
            listed.get(room).unwrap_or(&nothing),
        );
        assert_eq!(
            found, listed,
            "what `{room}` imports, and what the map in src/lib.rs lists"
        );
    }
    let mut above = BTreeSet::new();
    for (room, imports) in &map {
        for import in imports {
            assert!(above.contains(import), "`{import}` is not above `{room}`");
        }
        above.insert(room.clone());
    }
}

#[test]
fn files_of_a_room_import_in_one_direction() {
    let files = source();
    // Which file a name comes from that a room's `mod.rs` hands on.
    let mut handed_on: BTreeMap<(&str, &str), &str> = BTreeMap::new();
    let mut modules: BTreeSet<(&str, &str)> = BTreeSet::new();
    for file in &files {
        if let Some(module) = file.below.first() {
            modules.insert((&file.room, module));
        }
    }
    for file in files.iter().filter(|file| file.below.is_empty()) {
        let own: Vec<&str> = modules
            .iter()
            .filter(|(room, _)| *room == file.room)
            .map(|(_, module)| *module)
            .collect();
        for statement in file.code.split(';') {
            let Some((_, names)) = statement.split_once("pub use ") else {
                continue;
            };
            for path in paths(names, &own) {
                if let [module, .., name] = path[..] {
                    handed_on.insert((&file.room, name), module);
                }
            }
        }
    }
    let mut rooms: BTreeMap<&str, Graph> = BTreeMap::new();
    for file in &files {
        let Some(own) = file.below.first() else {
            continue;
        };
        let imports = rooms
            .entry(&file.room)
            .or_default()
            .entry(own.clone())
            .or_default();
        for path in paths(&file.code, &["crate", "super"]) {
            let Some((room, Some(name))) = target(file, &path) else {
                continue;
            };
            let module = if modules.contains(&(room, name)) {
                Some(name)
            } else {
                handed_on.get(&(room, name)).copied()
            };
            if let Some(module) = module
                && room == file.room
                && module != own
            {
                imports.insert(module.to_owned());
            }
        }
    }
    let complaints: Vec<_> = rooms
        .iter()
        .map(|(room, graph)| (room, circles(graph)))
        .filter(|(_, circles)| !circles.is_empty())
        .collect();
    assert!(complaints.is_empty(), "{complaints:#?}");
}

#[test]
fn pure_rooms_know_no_clock_socket_thread_or_disk() {
    let mut complaints = Vec::new();
    for file in source() {
        if !PURE.contains(&file.room.as_str()) {
            continue;
        }
        let roots: BTreeSet<&str> = IMPURE.iter().map(|path| path[0]).collect();
        let roots: Vec<&str> = roots.into_iter().collect();
        for path in paths(&file.code, &roots) {
            if IMPURE.iter().any(|impure| path.starts_with(impure)) {
                complaints.push(format!("{}: {}", file.path.display(), path.join("::")));
            }
        }
        if file.code.contains("::now()") {
            complaints.push(format!("{}: asks what time it is", file.path.display()));
        }
    }
    assert!(complaints.is_empty(), "{complaints:#?}");
}

#[test]
fn paths_are_read_in_every_form() {
    let code = "use crate::{a::B, c::{self, D as E},\n    f};\nuse super::super::g::*;\n\
                let x: Vec<crate::h::I> = crate::j::k::<u8>(pub(crate));\n use std::{fmt, fs};";
    let found = paths(code, &["crate", "super"]);
    let expected: [&[&str]; 7] = [
        &["crate", "a", "B"],
        &["crate", "c", "self"],
        &["crate", "c", "D"],
        &["crate", "f"],
        &["super", "super", "g"],
        &["crate", "h", "I"],
        &["crate", "j", "k"],
    ];
    assert_eq!(found, expected);
    let found = paths(code, &["std"]);
    assert_eq!(found, [["std", "fmt"], ["std", "fs"]]);
}

#[test]
fn a_circle_is_found_and_a_tree_is_none() {
    let graph = |edges: &[(&str, &str)]| {
        let mut graph = Graph::new();
        for (from, to) in edges {
            let imports = graph.entry((*from).to_owned()).or_default();
            imports.insert((*to).to_owned());
            graph.entry((*to).to_owned()).or_default();
        }
        graph
    };
    let tree = [("a", "b"), ("a", "c"), ("b", "d"), ("c", "d")];
    assert_eq!(circles(&graph(&tree)), Graph::new());
    let mut circle = tree.to_vec();
    circle.extend([("d", "b"), ("d", "e"), ("x", "a")]);
    assert_eq!(
        circles(&graph(&circle)),
        graph(&[("b", "d"), ("d", "b")]),
        "only what is on the circle"
    );
}
