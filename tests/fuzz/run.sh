#!/usr/bin/env bash
# Builds the fuzz targets and runs one or all of them, two side by side:
#   tests/fuzz/run.sh [TARGET|all] [SECONDS | -runs=N] [CORPUS]
# (all, 30 s). Prints a line of figures each. CORPUS is a directory in which what was found is kept
# for the next run, by target; without it, it is forgotten.
# Needs a C++ compiler for libFuzzer. A stable compiler is enough: cargo-fuzz wants a nightly one for
# the sanitizers, but the counters that guide libFuzzer are a pass of LLVM that any rustc can run.
# An input that crashes is kept in tests/fuzz/artifacts, and the exit status is not 0.
set -euo pipefail
wanted=${1:-all}
limit=${2:-30}
keep=${3:+$(realpath -m "$3")}
cd "$(dirname "$0")"
all="bodies crew decode framing journal learnt phones recording scenario settings tag"
[ "$wanted" = all ] && wanted=$all
# `dev` is built fast, `long` runs fast.
case $limit in
-runs=*) profile=long folder=long ;;
*) profile=dev folder=debug limit=-max_total_time=$limit ;;
esac

# The versions of the main build.
cp ../../Cargo.lock Cargo.lock
host=$(rustc -vV | sed -n 's/^host: //p')
# With a target named, build scripts and macros are spared the counters, which they could not link.
RUSTFLAGS="-Cpasses=sancov-module \
    -Cllvm-args=-sanitizer-coverage-level=3 \
    -Cllvm-args=-sanitizer-coverage-inline-8bit-counters \
    -Cllvm-args=-sanitizer-coverage-pc-table \
    -Cllvm-args=-sanitizer-coverage-trace-compares" \
    cargo build --quiet --profile "$profile" --target "$host" --target-dir ../../target/fuzz
built=../../target/fuzz/$host/$folder

# State files are in memory where the system has a directory for that.
scratch=$(mktemp -d -p "$([ -w /dev/shm ] && echo /dev/shm || echo "${TMPDIR:-/tmp}")")
trap 'rm -rf "$scratch"' EXIT
SEEDS=$scratch/seeds "$built/seeds" -runs=0 >/dev/null 2>"$scratch/seeds.log" ||
    { cat "$scratch/seeds.log" >&2; exit 1; }
mkdir -p artifacts

one() {
    local target=$1 corpus=${keep:-$scratch/found}/$1 log=$scratch/$1.log begun=$SECONDS status=0
    mkdir -p "$corpus" "$scratch/tmp/$target"
    TMPDIR=$scratch/tmp/$target "$built/$target" "$limit" -max_len=4096 -timeout=10 \
        -rss_limit_mb=1024 -artifact_prefix="artifacts/$target-" -print_final_stats=1 \
        -dict="$scratch/seeds/$target.dict" "$corpus" "$scratch/seeds/$target" >"$log" 2>&1 || status=$?
    printf '%-10s %10s executions, %5s s, %6s edges, %6s MB\n' "$target" \
        "$(sed -n 's/^stat::number_of_executed_units: *//p' "$log" | tail -n 1)" \
        $((SECONDS - begun)) \
        "$(sed -n 's/.* cov: \([0-9]*\) .*/\1/p' "$log" | tail -n 1)" \
        "$(sed -n 's/^stat::peak_rss_mb: *//p' "$log" | tail -n 1)"
    if [ "$status" -ne 0 ]; then
        echo "$target failed:" >&2
        tail -n 60 "$log" >&2
    fi
    return "$status"
}
export -f one
export built limit keep scratch
# xargs goes on with the others when one fails, and then says so.
printf '%s\n' $wanted | xargs -P 2 -I TARGET bash -euo pipefail -c 'one TARGET'
