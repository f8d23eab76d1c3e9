"""Framing and decoding beside a Python parser and the bare `nmea` crate, on the same lines."""

import time
from pathlib import Path

import pynmea2

# Kinds that the bare crate and we both read.
KINDS = {"BOD", "BWC", "DPT", "GGA", "GLL", "GNS", "HDT", "MTW", "MWV", "RMC", "VHW", "VTG", "ZDA"}


def sentences(sources, most):
    """Sentences of those kinds that the Python parser takes, checksum and all."""
    found = []
    for source in sources:
        for line in Path(source).read_text(errors="replace").splitlines():
            start = line.find("$")
            if start < 0 or line[start + 3 : start + 6] not in KINDS:
                continue
            sentence = line[start:].strip()
            try:
                pynmea2.parse(sentence, check=True)
            except (pynmea2.ParseError, ValueError):
                continue
            found.append(sentence)
            if len(found) == most:
                return found
    return found


def python_s(lines):
    """Seconds a sentence that the Python parser takes."""
    begun = time.process_time()
    for line in lines:
        pynmea2.parse(line, check=True)
    return (time.process_time() - begun) / len(lines)


def corpus(path, sources, most):
    """Writes the lines that all three are given; gives them."""
    lines = sentences(sources, most)
    Path(path).write_text("\n".join(lines) + "\n")
    return lines
