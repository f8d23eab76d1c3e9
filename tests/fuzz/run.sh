#!/usr/bin/env bash
# Builds the fuzz target and runs it for so many seconds (30 if not said): tests/fuzz/run.sh [SECONDS]
# Needs a C++ compiler for libFuzzer. A stable compiler is enough: cargo-fuzz wants a nightly one for
# the sanitizers, but the counters that guide libFuzzer are a pass of LLVM that any rustc can run.
# An input that crashes is kept in tests/fuzz/artifacts, and the exit status is not 0.
set -euo pipefail
cd "$(dirname "$0")"
seconds=${1:-30}

# The versions of the main build.
cp ../../Cargo.lock Cargo.lock
host=$(rustc -vV | sed -n 's/^host: //p')
# With a target named, build scripts and macros are spared the counters, which they could not link.
RUSTFLAGS="-Cpasses=sancov-module \
    -Cllvm-args=-sanitizer-coverage-level=3 \
    -Cllvm-args=-sanitizer-coverage-inline-8bit-counters \
    -Cllvm-args=-sanitizer-coverage-pc-table \
    -Cllvm-args=-sanitizer-coverage-trace-compares" \
    cargo build --quiet --target "$host" --target-dir target

# Seeds: the well-formed sentences of the property tests, and whole minutes of the fixtures.
corpus=$(mktemp -d)
trap 'rm -rf "$corpus"' EXIT
count=0
while IFS= read -r sentence; do
    count=$((count + 1))
    printf '\000\005\000%s\r\n' "$sentence" >"$corpus/sentence-$count"
done < <(sed -n 's/^ *"\(\$[^"]*\)",$/\1/p' ../checks/decode_properties.rs)
[ "$count" -ge 30 ] || { echo "tests/checks/decode_properties.rs has only $count seeds" >&2; exit 1; }
for fixture in ../../fixtures/*.nmea; do
    { printf '\000\100\000'; head -n 40 "$fixture"; } >"$corpus/$(basename "$fixture")"
done

mkdir -p artifacts
"target/$host/debug/sentences" -max_total_time="$seconds" -max_len=4096 -timeout=10 \
    -rss_limit_mb=1024 -artifact_prefix=artifacts/ -print_final_stats=1 "$corpus"
