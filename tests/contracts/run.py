"""The interface document against outside judges, with the demo on a port of its own.

    pip install -r tests/contracts/requirements.txt
    python3 tests/contracts/run.py target/debug/skimwatch

openapi-spec-validator reads the document; then schemathesis sends what the document allows and
what it does not, for at most a minute, and fails at an answer that the document does not describe,
at wrong input that is accepted, and at an error of the server.
"""

import json
import re
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections import Counter
from pathlib import Path

from openapi_spec_validator import validate

FUZZ_S = 45
# Of one case; no answer takes as long.
CASE_S = 10
CHECKS = [
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_headers_conformance",
    "response_schema_conformance",
    "negative_data_rejection",
    "unsupported_method",
]


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def document(base: str, daemon: subprocess.Popen) -> dict:
    """Waits for the daemon, at most 60 s."""
    until = time.monotonic() + 60
    while True:
        try:
            with urllib.request.urlopen(f"{base}/v1/openapi.json", timeout=CASE_S) as answer:
                return json.load(answer)
        except OSError as why:
            if daemon.poll() is not None or time.monotonic() > until:
                sys.exit(f"the demo does not answer at {base}: {why}")
            time.sleep(0.1)


def fuzz(base: str) -> int:
    arguments = [
        str(Path(sys.executable).with_name("schemathesis")),
        "run",
        f"{base}/v1/openapi.json",
        "--checks", ",".join(CHECKS),
        "--phases", "coverage,fuzzing",
        # The streams have no end to wait for; tests/live reads them.
        "--exclude-path-regex", "/stream$",
        # Waits as a 429 says.
        "--rate-limit", "auto",
        "--max-time", str(FUZZ_S),
        "--request-timeout", str(CASE_S),
        "--seed", "1",
        "--warnings", "off",
        "--no-color",
    ]
    # It leaves its notes where it runs.
    with tempfile.TemporaryDirectory() as notes:
        return subprocess.run(arguments, cwd=notes, timeout=4 * FUZZ_S, check=False).returncode


def answers(base: str) -> Counter:
    """How many answers of each status the API gave, as the demo counts them."""
    counted = Counter()
    with urllib.request.urlopen(f"{base}/metrics", timeout=CASE_S) as metrics:
        for line in metrics.read().decode().splitlines():
            found = re.fullmatch(r'skimwatch_http_requests_total\{.*status="(\d+)".*\} (\d+)', line)
            if found:
                counted[found[1]] += int(found[2])
    return counted


def main() -> int:
    if len(sys.argv) != 2:
        sys.exit(f"usage: {sys.argv[0]} BINARY")
    base = f"http://127.0.0.1:{free_port()}"
    daemon = subprocess.Popen(
        [sys.argv[1], "demo", "--bind", base.removeprefix("http://")],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        validate(document(base, daemon))
        print("the document is valid")
        status = fuzz(base)
        if daemon.poll() is not None:
            sys.exit(f"the demo ended with {daemon.returncode}")
        given = answers(base)
        print("answers by status:", dict(sorted(given.items())))
        # Otherwise it was kept from what it is to try.
        if min(given["200"], given["202"], given["422"]) < 10:
            sys.exit("hardly anything was tried")
        return status
    finally:
        daemon.terminate()
        daemon.wait(timeout=30)


if __name__ == "__main__":
    sys.exit(main())
