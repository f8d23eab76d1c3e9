"""Counts anew, without any of our code.

Usage: python3 independent_count.py FILE
    NMEA 0183 sentences whose checksum holds, by address; prints one `address count` a line.
Usage: python3 independent_count.py --day RECORDING REPLAYED
    The figures of a day: bites, corrections, time by what the crew said of the bait and by tack, from
    the recording; and how good the advice was, from what `skimwatch replay` printed of it. The
    definitions are those at the head of src/score/mod.rs and src/logbook/figures.rs. Prints JSON.
"""
import collections
import functools
import json
import math
import re
import sys

SENTENCE = rb"[$!]([^$!\\*\r\n]+)\*([0-9A-Fa-f]{2})"


def holds(body, digits):
    return functools.reduce(lambda a, b: a ^ b, body) == int(digits, 16)


def by_address(data):
    counts = collections.Counter()
    for body, digits in re.findall(SENTENCE, data):
        if holds(body, digits):
            counts[body.split(b",")[0].decode("ascii")] += 1
    for address, count in sorted(counts.items()):
        print(address, count)


def lines(data):
    """(milliseconds, fields) of each line of a recording."""
    for line in data.splitlines():
        stamp = re.match(rb"\\[^\\]*c:(\d+)", line)
        found = re.search(SENTENCE, line)
        if stamp and found and holds(*found.groups()):
            yield int(stamp.group(1)), found.group(1).decode("ascii").split(",")


def counted(crew):
    """What the crew said, without what it took back within 15 s, with its number."""
    kept = []
    for at, seq, word, rest in crew:
        if word == "UNDO":
            kept = [k for k in kept if not (k[1] == int(rest[0]) and at - k[0] <= 15_000)]
        else:
            kept.append((at, seq, word, rest))
    return kept


def moves_of(said):
    """Moves of lines that the crew told of, answers to the plan included: (ms, line, metres)."""
    for at, _, word, rest in said:
        if word == "MOVED":
            yield at, rest[0], float(rest[1])
        elif word == "PLAN" and rest[0] in "DH" and len(rest) > 4:
            yield at, rest[3], float(rest[4]) * (1.0 if rest[0] == "D" else 0.5)


def strike_at(crew, at):
    """The strike as it looked then: None, "on", "under way" (a step is answered) or "ended". It is over
    when lines are counted, or when the bait is reported with no hands on it."""
    strike = None
    for _, _, word, rest in counted([said for said in crew if said[0] <= at]):
        if word == "BITE" and strike in (None, "ended"):
            strike = "on"
        elif word == "STRIKE" and strike in ("on", "under way"):
            ends = {"MISSED": None, "OFF": "ended", "CUT": "ended", "LANDED": "ended", "RELEASED": "ended"}
            strike = ends.get(rest[0], "under way")
        elif word == "LINES" or (word == "BAIT" and strike != "under way"):
            strike = None
    return strike


def wind_off_bow(log, pictures):
    """The true wind off the bow at each picture, from the last apparent wind and speed."""
    angle = speed = boat = None
    heard = 0
    at_picture, place = {}, 0
    for at in pictures:
        # A whole second is looked at before what is heard in it.
        while place < len(log) and log[place][0] < at:
            kind, fields = log[place][1][0][-3:], log[place][1]
            if kind == "MWV" and fields[2] == "R":
                angle, speed = float(fields[1]), float(fields[3]) * 1852 / 3600
                heard = log[place][0]
            elif kind == "VHW" and fields[5]:
                boat = float(fields[5]) * 1852 / 3600
            place += 1
        # An older wind counts for none (`lost_s` in [sources]).
        if None not in (angle, speed, boat) and at - heard <= 10_000:
            ahead = speed * math.cos(math.radians(angle)) - boat
            across = speed * math.sin(math.radians(angle))
            at_picture[at] = math.degrees(math.atan2(across, ahead))
    return at_picture


def told_time(log, crew):
    """Seconds by bait and tack, in which the crew fished."""
    said = counted(crew)
    first, last = log[0][0], log[-1][0]
    whole = range((first // 1000 + 1) * 1000, last + 1, 1000)
    pictures = sorted(set(whole) | {at for at, *_ in crew})
    fishes = {at: strike_at(crew, at) is None for at in pictures}
    off_bow = wind_off_bow(log, pictures)
    taps = [(at, rest[0]) for at, _, word, rest in said if word == "BAIT"]
    times, tack = collections.Counter(), None
    for at, after in zip(pictures, pictures[1:]):
        if at in off_bow:
            angle = off_bow[at]
            if tack is None or 5 <= abs(angle) <= 175:
                tack = "port" if angle < 0 else "starboard"
        before = [tap for tap in taps if tap[0] <= at]
        # What ends a stretch ends what was said before it.
        if not before or at - before[-1][0] >= 600_000:
            continue
        if not all(fishes[p] for p in pictures if before[-1][0] <= p <= at):
            continue
        times[before[-1][1], tack if at in off_bow else None] += (after - at) / 1000
    return [{"bait": bait, "tack": tack, "time_s": s}
            for (bait, tack), s in sorted(times.items(), key=str)]


# ---- Advice -------------------------------------------------------------------------------------

STATE = {"bait-airborne": "A", "bait-dragging": "D"}
WAY = {"bait-airborne": -1.0, "bait-dragging": 1.0}


def acts(move, trouble, sign):
    _, _, line, by_m = move
    return line == "K" or trouble not in WAY or sign * WAY[trouble] * by_m > 0


def labels(said, ends_s):
    turns = []
    for t, word, rest in said:
        if word in ("TURN", "CALLOFF"):
            if turns and turns[-1]["start"] > t:
                turns.pop()
            if word == "TURN":
                by, rate, ahead = map(float, rest)
                turns.append({"told": t, "start": t + ahead, "end": t + ahead + abs(by / rate) + 40})
    moves = []
    for t, word, rest in said:
        if word == "MOVED" and abs(float(rest[1])) >= 0.5:
            moves.append((t - abs(float(rest[1])), t, rest[0], float(rest[1])))
    events = []
    for trouble, state in STATE.items():
        since, seen = None, False
        for t, word, rest in said + [(ends_s, "BAIT", ["end"])]:
            if word != "BAIT":
                continue
            if since is None and rest[0] == state:
                since = (t, not seen)
            elif since is not None and rest[0] != state:
                events.append([trouble, since[0], t, "before" if since[1] else None])
                since = None
            seen = True
    for event in events:
        trouble, onset = event[0], event[1]
        if event[3] is None:
            by_hands = any(acts(m, trouble, 1) and m[0] <= onset <= m[1] + 15 for m in moves)
            in_turn = [turn for turn in turns if turn["start"] <= onset <= turn["end"]]
            event[3] = "hands" if by_hands else in_turn[-1] if in_turn else "air"
    return moves, events


def spells(revisions, first):
    found, latest = [], {}
    for r in revisions:
        if r["kind"] not in (*STATE, "kite-sinking"):
            continue
        at = seconds(r["at"]) - first
        onset = seconds(r["onset_at"]) - first if r["onset_at"] else None
        over = r["outcome"] or ("lost" if r["unwatched_since"] else None)
        open_one = latest.get(r["id"])
        if open_one is not None and open_one["over"] is None:
            if over:
                open_one["over"] = (at, over)
            else:
                open_one["onsets"].append((at, onset))
        elif not over:
            raised = at if open_one is not None else seconds(r["raised_at"]) - first
            latest[r["id"]] = {"kind": r["kind"], "raised": raised, "over": None, "onsets": [(at, onset)]}
            found.append(latest[r["id"]])
    return found


def seconds(text):
    import datetime
    return datetime.datetime.fromisoformat(text.replace("Z", "+00:00")).timestamp()


def over_s(spell):
    return spell["over"][0] if spell["over"] else math.inf


def foreseen(spell, t):
    told = [o for o in spell["onsets"] if o[0] <= t] or spell["onsets"][:1]
    at, onset = told[-1]
    return at if onset is None else onset


def fate(spell, said, moves, events, ends_s):
    trouble, raised = spell["kind"], spell["raised"]
    foretold = lambda e: e[0] == trouble and e[3] != "before" and raised < e[1] <= over_s(spell)
    if any(map(foretold, events)):
        return "true"
    told = lambda s: s[1] == "BAIT" and s[2][0] == STATE.get(trouble) and 0 <= raised - s[0] <= 1
    if any(map(told, said)):
        return "told"
    if any(e[0] == trouble and e[1] <= raised < e[2] for e in events):
        return "late"
    if spell["over"] and spell["over"][1] in ("withdrawn", "lost"):
        return spell["over"][1]
    if any(acts(m, trouble, -1) and raised <= m[0] <= over_s(spell) and m[0] <= foreseen(spell, m[0]) + 5
           for m in moves):
        return "averted"
    return "open" if spell["over"] is None and foreseen(spell, math.inf) > ends_s else "false"


def advice(crew, revisions, first, ends_s):
    kept = []
    for at, seq, word, rest in crew:
        if word == "UNDO":
            kept = [k for k in kept if k[3] != int(rest[0])]
        else:
            kept.append((at / 1000 - first, word, rest, seq))
    said = [k[:3] for k in kept]
    moves, events = labels(said, ends_s)
    told = spells(revisions, first)
    scored = [e for e in events if e[3] not in ("hands", "before")]
    leads, led = [], set()
    detected = 0
    for event in sorted(scored, key=lambda e: e[1]):
        by = [(s["raised"], i) for i, s in enumerate(told)
              if s["kind"] == event[0] and s["raised"] < event[1] <= over_s(s)]
        detected += bool(by)
        if by and min(by)[1] not in led:
            raised, i = min(by)
            led.add(i)
            known = min(event[3]["told"], event[3]["start"]) if isinstance(event[3], dict) else raised
            leads.append(event[1] - max(raised, known))
    fates = collections.Counter(fate(s, said, moves, events, ends_s) for s in told)
    return {"events": len(scored), "detected": detected, "leads_s": sorted(leads), "fates": fates}


def day(recording, replayed):
    log = list(lines(recording))
    crew = [(at, int(f[1]), f[2], f[3:]) for at, f in log if f[0] == "PSKWT"]
    said = counted(crew)
    revisions = [r for r in map(json.loads, replayed.splitlines()) if "summary" not in r]
    first = log[0][0] / 1000
    # Nothing comes after the last whole second but what the crew says.
    last = max([log[-1][0] // 1000 * 1000] + [at for at, *_ in crew]) / 1000
    moves = [move for move in moves_of(said) if abs(move[2]) >= 0.5]
    bites = sum(word == "BITE" and strike_at(crew, at - 1) in (None, "ended") for at, _, word, _ in said)
    print(json.dumps({
        "bites": bites,
        "corrections": {"kite": sum(m[1] == "K" for m in moves), "main": sum(m[1] == "M" for m in moves)},
        "by_crew": told_time(log, crew),
        "advice": advice(crew, revisions, first, last - first),
    }))


if __name__ == "__main__":
    if sys.argv[1] == "--day":
        day(open(sys.argv[2], "rb").read(), open(sys.argv[3]).read())
    else:
        by_address(open(sys.argv[1], "rb").read())
