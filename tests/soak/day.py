"""A whole day of 24 h as a recording: invented days one after the other, and faults laid over them."""

import datetime
import random
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path += [str(HERE.parent / "attack"), str(HERE.parent / "days")]

import lie
from daemon import checked
from soak import stamped

HOUR_MS = 3_600_000
# 2026-06-01T00:00:00Z, invented.
START_MS = 1_780_272_000_000

# (hours, recordings, whether the rig is out, lies by their names in tests/days/lie.py): as an invented
# crew spends a day. Everything that memory is kept for has come before the third hour is over.
PLAN = [
    (0.5, ["calm-000"], False, []),
    (2.0, ["testing-400", "testing-401", "sea-testing-000"], True, ["", "vane-frozen"]),
    (1.5, ["calm-001"], False, []),
    (2.5, ["testing-402", "testing-400"], True, ["", "log-low", "heading-offset"]),
    (1.0, ["calm-000"], False, ["log-low"]),
    (2.0, ["testing-401", "calm-001", "sea-testing-000"], True, ["", "vane-offset"]),
    (6.0, ["calm-000", "calm-001"], False, []),
    (1.0, ["testing-402"], True, [""]),
    (7.5, ["calm-001", "testing-400"], False, []),
]


class Faults:
    """What goes wrong with the sentences of a feed; counts each kind."""

    def __init__(self, seed):
        self.dice = random.Random(seed)
        self.count = {}
        self.silent, self.silent_until = "", 0
        self.away_until = self.garbled_until = 0
        self.comes_back = False

    def one(self, kind):
        self.count[kind] = self.count.get(kind, 0) + 1

    def lay(self, feed, at, sentence):
        """What becomes of one sentence: a list of (feed, sentence)."""
        if sentence.startswith("$PSKWT"):
            return [(feed, sentence)]
        dice, out = self.dice, []
        roll = dice.random()
        if roll < 0.0004:
            self.one("an instrument is silent for 2 to 30 s")
            self.silent, self.silent_until = sentence[3:6], at + dice.randint(2000, 30_000)
        elif roll < 0.0008:
            self.one("a feed is away for 3 to 20 s and comes back in the middle of a sentence")
            self.away_until, self.comes_back = at + dice.randint(3000, 20_000), True
        elif roll < 0.0012:
            self.one("garbage for 0.5 to 5 s")
            self.garbled_until = at + dice.randint(500, 5000)
        elif roll < 0.006:
            self.one("wrong checksum")
            return [(feed, sentence[:-4] + f"{int(sentence[-4:-2], 16) ^ 0x15:02X}\r\n")]
        elif roll < 0.008:
            self.one("sentence of a kind, and on a feed, that nobody knows")
            name = "".join(dice.choice("ABCDEFGHIJKLMNOPQRSTUVWXYZ") for _ in range(5))
            out.append((f"f{dice.randint(0, 9999)}", checked(f"{name},1,2")))
        elif roll < 0.009:
            self.one("absurd value")
            value = dice.choice(["MWV,0.0,R,0.0,N,A", "MWV,nan,R,,N,A", "HDT,999.0,T"])
            out.append((feed, checked("II" + value)))
        elif roll < 0.0095:
            self.one("clock of the boat is years off")
            out.append((feed, checked(f"GPZDA,120000.00,01,01,{dice.choice([1999, 2006, 2080])},00,00")))
        elif roll < 0.012:
            self.one("the same sentence on a second feed")
            out.append(("bridge", sentence))
        if at < self.away_until or (sentence[3:6] == self.silent and at < self.silent_until):
            return out
        if self.comes_back:
            self.comes_back = False
            sentence = sentence[dice.randint(1, len(sentence) - 3):]
        elif at < self.garbled_until:
            sentence = sentence[: dice.randint(1, 12)] + "\x00\xff\r\n"
        return [*out, (feed, sentence)]


def read(path, lying):
    """The lines of a recording as (milliseconds since its start, feed, sentence)."""
    lines = path.read_text().splitlines(keepends=True)
    rows = []
    for line in lie.lay(lie.LIES[lying](), lines) if lying else lines:
        tag, _, sentence = line[1:].partition("\\")
        fields = dict(field.split(":", 1) for field in tag.split("*")[0].split(","))
        rows.append((int(fields["c"]), fields["s"], sentence.rstrip() + "\r\n"))
    first = rows[0][0]
    return [(at - first, feed, sentence) for at, feed, sentence in rows]


# (hour, what is added to the clock of the computer from then on in ms): set back twice, forward once.
STEPS = [(3.2, -HOUR_MS), (7.7, 45_000), (11.3, -2 * HOUR_MS)]
# (hour, minutes): nothing at all is heard.
DARK = [(5.1, 3.0), (14.2, 10.0)]


def clock(lived):
    """What the computer's clock shows after so many ms of the day."""
    return START_MS + lived + sum(by for hour, by in STEPS if lived >= hour * HOUR_MS)


def dated(sentence, lived):
    """A position with the time of satellites: that of the day, whatever the computer's clock says."""
    fields = sentence[1:].split("*")[0].split(",")
    if fields[0][2:] != "RMC":
        return sentence
    utc = datetime.datetime.fromtimestamp((START_MS + lived) / 1000, datetime.timezone.utc)
    fields[1], fields[9] = utc.strftime("%H%M%S.00"), utc.strftime("%d%m%y")
    return checked(",".join(fields))


def is_dark(lived):
    return any(0 <= lived - hour * HOUR_MS < minutes * 60_000 for hour, minutes in DARK)


def write(days, path, hours=24.0, seed=11):
    """Writes the first hours of the day; gives what was laid over it."""
    faults, sequence, lived = Faults(seed), 0, 0
    end = int(hours * HOUR_MS)
    with open(path, "w", newline="") as out:

        def crew(words):
            nonlocal sequence
            sequence += 1
            out.write(stamped("crew", clock(lived), checked(f"PSKWT,{sequence},{words}")))

        for length, names, rig_out, lies in PLAN:
            until, turn = min(lived + int(length * HOUR_MS), end), 0
            crew(f"SESSION,{int(rig_out)}")
            while lived < until:
                lying = lies[turn % len(lies)] if lies else ""
                rows = read(Path(days) / f"{names[turn % len(names)]}.nmea", lying)
                turn += 1
                begun = lived
                if lying:
                    faults.one(f"11 minutes with {lying}")
                for since, feed, sentence in rows:
                    lived = begun + since
                    if lived >= until:
                        break
                    if sentence.startswith("$PSKWT"):
                        if rig_out:
                            crew(sentence[1:].split("*")[0].split(",", 2)[2])
                    elif not is_dark(lived):
                        for of, text in faults.lay(feed, lived, dated(sentence, lived)):
                            out.write(stamped(of, clock(lived), text))
                lived = min(lived + 1000, until)
    faults.count["the computer's clock is set"] = sum(hour * HOUR_MS < end for hour, _ in STEPS)
    faults.count["nothing at all is heard for minutes"] = sum(hour * HOUR_MS < end for hour, _ in DARK)
    return faults.count
