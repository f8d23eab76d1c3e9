"""What of other people's work is linked into the program for a target, from Cargo's own resolution:

    crates.py licences TARGET    names, licences and licence texts
    crates.py sbom TARGET        a CycloneDX 1.5 bill of materials, JSON

Fails when a crate has no licence text: its own, or of the Apache licence that of another crate.
"""

import json
import subprocess
import sys
import tomllib
import uuid
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
APACHE = "Apache License Version 2.0"
TEXTS = ("LICEN", "COPYING", "NOTICE", "UNLICENSE", "COPYRIGHT")


def cargo(*arguments):
    return subprocess.run(["cargo", *arguments], cwd=ROOT, check=True, text=True,
                          stdout=subprocess.PIPE).stdout


def linked(target):
    """(name, version) of every crate that is linked in, our own among them."""
    tree = cargo("tree", "--locked", "--edges", "normal", "--prefix", "none", "--no-dedupe",
                 "--target", target, "--format", "{p}")
    found = set()
    for line in tree.splitlines():
        name, version = line.split()[:2]
        if "(proc-macro)" not in line:
            found.add((name, version.removeprefix("v")))
    return found


def packages(target):
    metadata = json.loads(cargo("metadata", "--locked", "--format-version", "1"))
    wanted = linked(target)
    found = [p for p in metadata["packages"] if (p["name"], p["version"]) in wanted]
    assert len(found) == len(wanted), "cargo tree and cargo metadata differ"
    return sorted(found, key=lambda p: (p["name"], p["version"]))


def licences(found):
    print("skimwatch and the crates that are linked into it, each with its licence; below them every")
    print("licence text that they carry, with the crates that carry it.\n")
    carried, bare = {}, []
    for package in found:
        name = f"{package['name']} {package['version']}"
        print(f"{name}: {package['license']}")
        directory = Path(package["manifest_path"]).parent
        texts = [f for f in directory.iterdir() if f.is_file() and f.name.upper().startswith(TEXTS)]
        if not texts:
            bare.append((name, package["license"]))
        for text in texts:
            # The same text stands once, however it is laid out.
            words = " ".join(text.read_text(errors="replace").split())
            carried.setdefault(words, (text, []))[1].append(name)
    for name, licence in bare:
        # A licence without blanks to fill in reads the same wherever it is carried.
        whole = [words for words in carried if licence == "Apache-2.0" and words.startswith(APACHE)]
        if not whole:
            sys.exit(f"{name} carries no licence text")
        carried[max(whole, key=lambda words: len(carried[words][1]))][1].append(name)
    for text, names in sorted(carried.values(), key=lambda carried: carried[1]):
        print(f"\n{'=' * 78}\n{', '.join(names)}\n{'=' * 78}\n")
        print(text.read_text(errors="replace").strip())


def component(package, kind):
    purl = f"pkg:cargo/{package['name']}@{package['version']}"
    about = {
        "type": kind,
        "bom-ref": purl,
        "name": package["name"],
        "version": package["version"],
        "purl": purl,
        "licenses": [{"expression": package["license"].replace("/", " OR ")}],
    }
    if package["description"]:
        about["description"] = " ".join(package["description"].split())
    return about


def checksums():
    """SHA-256 of each crate as the lock file has it."""
    lock = tomllib.loads((ROOT / "Cargo.lock").read_text())
    return {(p["name"], p["version"]): p.get("checksum") for p in lock["package"]}


def sbom(found):
    own = next(p for p in found if p["name"] == "skimwatch")
    hashes = checksums()
    components = []
    for package in found:
        if package is not own:
            about = component(package, "library")
            checksum = hashes[package["name"], package["version"]]
            about["hashes"] = [{"alg": "SHA-256", "content": checksum}]
            components.append(about)
    bill = {
        "bomFormat": "CycloneDX",
        "specVersion": "1.5",
        "version": 1,
        "metadata": {"component": component(own, "application")},
        "components": components,
    }
    # The same crates give the same number.
    content = json.dumps(bill, sort_keys=True)
    bill["serialNumber"] = uuid.uuid5(uuid.NAMESPACE_URL, content).urn
    json.dump(bill, sys.stdout, indent=1)
    print()


if __name__ == "__main__":
    what, target = sys.argv[1:]
    {"licences": licences, "sbom": sbom}[what](packages(target))
