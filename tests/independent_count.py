"""Counts NMEA 0183 sentences whose checksum holds, by address, without any of our code.

Usage: python3 independent_count.py FILE; prints one `address count` a line.
"""
import collections
import functools
import re
import sys

counts = collections.Counter()
data = open(sys.argv[1], "rb").read()
for body, digits in re.findall(rb"[$!]([^$!\\*\r\n]+)\*([0-9A-Fa-f]{2})", data):
    if functools.reduce(lambda a, b: a ^ b, body) == int(digits, 16):
        counts[body.split(b",")[0].decode("ascii")] += 1
for address, count in sorted(counts.items()):
    print(address, count)
