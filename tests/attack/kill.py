"""kill -9 at random moments while the crew posts: nothing acknowledged as kept is lost, the deck
comes back, and no file needs repair."""

import random
import threading
import time

from daemon import Daemon

# Every poster speaks from an address of its own, as phones do.
POSTERS = 4


def phrase(dice, number):
    """A post and how its sentence goes on in the recording, after the sequence number."""
    metres = dice.randint(-900, 900) / 100 or 1.0
    return dice.choice(
        [
            ("/v1/crew/moved", {"line": "main", "by_m": metres}, f"MOVED,M,{metres:.2f}*"),
            ("/v1/crew/mark", {"name": f"m{number}"}, f"MARK,m{number},"),
            ("/v1/crew/bite", {}, "BITE*"),
            (
                "/v1/crew/lines-out",
                {"kite_line_out_m": 100 + number % 50, "main_line_out_m": 150 + number % 70},
                f"LINES,{100 + number % 50:.2f},{150 + number % 70:.2f}*",
            ),
        ]
    )


def count_lines(daemon, kite_m, main_m):
    """Tells the line out, as soon as the pace of all allows."""
    body = {"kite_line_out_m": kite_m, "main_line_out_m": main_m}
    while True:
        status, answer, headers = daemon.post("/v1/crew/lines-out", body, source="127.0.0.9")
        if status != 429:
            return status, answer
        time.sleep(float(headers["Retry-After"]))


class Poster:
    """One phone that posts as fast as it is allowed."""

    def __init__(self, daemon, index, seed):
        self.daemon, self.index = daemon, index
        self.dice = random.Random(seed)
        self.kept, self.told = [], 0
        self.stop = threading.Event()
        self.thread = threading.Thread(target=self._run, daemon=True)
        self.thread.start()

    def _run(self):
        number = self.index * 1000
        while not self.stop.is_set():
            number += 1
            path, body, words = phrase(self.dice, number)
            try:
                status, answer, headers = self.daemon.post(
                    path, body, timeout=5, source=f"127.0.0.{10 + self.index}"
                )
            except OSError:
                return
            if status == 429:
                self.stop.wait(float(headers["Retry-After"]))
            elif status == 202:
                self.told += 1
                if answer["kept"] == "disk":
                    self.kept.append(f"$PSKWT,{answer['sequence']},{words}")


def attack(binary, directory, times=200, seed=1):
    dice = random.Random(seed)
    daemon = Daemon(binary, directory)
    acknowledged = lost = differing = 0
    slowest_start = 0.0
    lines = None
    for round_ in range(times):
        begun = time.monotonic()
        daemon.start()
        slowest_start = max(slowest_start, time.monotonic() - begun)
        end = time.monotonic() + 10
        while (state := daemon.state())["at_unix_ms"] == 0 and time.monotonic() < end:
            time.sleep(0.02)
        deck = state["deck"]
        if lines and (deck["kite_line_out_m"], deck["main_line_out_m"]) != lines:
            differing += 1
        posters = [Poster(daemon, i, seed * 100_000 + round_ * 10 + i) for i in range(POSTERS)]
        time.sleep(dice.uniform(0.05, 0.6))
        # What the deck must be is certain only when nobody was in the middle of a post.
        sure = round_ % 4 == 3
        if sure:
            for poster in posters:
                poster.stop.set()
            for poster in posters:
                poster.thread.join(10)
            status, answer = count_lines(daemon, 111, 140 + round_ % 60)
            assert status == 202 and answer["kept"] == "disk", (status, answer)
        daemon.kill()
        lines = (111.0, 140.0 + round_ % 60) if sure else None
        for poster in posters:
            poster.stop.set()
            poster.thread.join(10)
        kept = [words for poster in posters for words in poster.kept]
        acknowledged += len(kept)
        text = "".join(path.read_text(errors="replace") for path in daemon.recordings())
        missing = [words for words in kept if words not in text]
        lost += len(missing)
        if missing:
            print("  not in the recording:", missing[:5])
    # What it left behind is read without complaint.
    daemon.start()
    daemon.stop()
    daemon.replay(*daemon.recordings())
    return {
        "kills": times,
        "acknowledged as kept on disk": acknowledged,
        "lost of them": lost,
        "line counts not as told last": differing,
        "slowest start, s": round(slowest_start, 2),
        "ok": lost == 0 and differing == 0 and acknowledged > 2 * times,
    }
