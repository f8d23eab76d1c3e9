"""A computer with a quarter of a core: nothing old is shown without being called old."""

import json
import time

from daemon import Advisories, Daemon, Player, Slowed

# The picture may be so old before it must be called late, and so much is allowed for the way of
# the answer from the daemon, which is stopped for 75 ms at a time, to us.
LATE_S = 3.0
WAY_S = 0.3


def attack(binary, directory, day, seconds=150, share=0.25):
    """Plays a day at real speed; gives the figures of it."""
    daemon = Daemon(binary, directory)
    daemon.start()
    stream = Advisories(daemon)
    # The daemon carries the system's time of its start on by the monotonic clock, as we do.
    offset = time.time() - time.monotonic()
    ages, futures, unsaid, lags, advised = [], [], [], [], set()
    with Slowed(daemon.process.pid, share):
        player = Player(day, daemon.udp, seconds).start()
        posted = 0
        begun = time.monotonic()
        while time.monotonic() - begun < seconds:
            # A thumb: a tap every 5 s, and ten in a row once.
            if time.monotonic() - begun > 5 * posted:
                posted += 1
                for _ in range(10 if posted == 10 else 1):
                    daemon.post("/v1/crew/bait", {"state": "skipping"}, timeout=30)
            state = daemon.state(timeout=30)
            age = time.monotonic() + offset - state["at_unix_ms"] / 1000
            ages.append(age)
            lags.append(state["lag_s"])
            advised |= {a["kind"] for a in state["advisories"]}
            if age > LATE_S + WAY_S and not state["late"] and state["advisories"]:
                unsaid.append(round(age, 2))
            forecast = daemon.get("/v1/forecast", timeout=30)[1]["forecast"]
            futures.append(forecast["futures"] if forecast else 0)
            time.sleep(0.2)
        player.finish()
    ended = daemon.stop()
    ages.sort()
    recordings = daemon.recordings()
    first = [json.loads(line) for line in daemon.replay(*recordings)]
    live = stream.all()
    known = set(futures) - {0}
    return {
        "seconds": seconds,
        "share of a core": share,
        "age shown, median / 99 % / most, s": [
            round(ages[len(ages) // 2], 2),
            round(ages[int(0.99 * (len(ages) - 1))], 2),
            round(ages[-1], 2),
        ],
        "old and not called so": unsaid,
        "futures, fewest / most": [min(known, default=0), max(known, default=0)],
        "looks without a forecast": futures.count(0),
        "kinds advised": sorted(advised),
        "SIGTERM to end, s": round(ended, 2),
        "revisions told": len(live),
        "the recording gives the same": first == live,
        "ok": not unsaid and ended < 5 and first == live and bool(known),
    }
