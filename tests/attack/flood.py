"""Much at once: thousands of posts, invented addresses."""

import json
import socket
import threading
import time

from daemon import Daemon, checked, steady


def posts(binary, directory, count=2050):
    """Thousands of posts from many phones."""
    daemon = Daemon(binary, directory)
    daemon.start()
    taken, limited, worst_lag = 0, 0, 0.0
    lock = threading.Lock()

    def phone(index):
        nonlocal taken, limited
        for _ in range(count // 41):
            status, _, _ = daemon.post(
                "/v1/crew/marker",
                {"in_water": index % 2 == 0},
                timeout=30,
                source=f"127.0.1.{index + 1}",
            )
            with lock:
                taken += status == 202
                limited += status == 429

    threads = [threading.Thread(target=phone, args=(i,)) for i in range(41)]
    begun = time.monotonic()
    for thread in threads:
        thread.start()
    while any(thread.is_alive() for thread in threads):
        state = daemon.state(timeout=30)
        worst_lag = max(worst_lag, state["lag_s"])
        time.sleep(0.1)
    took = time.monotonic() - begun
    health, _ = daemon.get("/healthz")
    ended = daemon.stop()
    return {
        "posts": 41 * (count // 41),
        "taken": taken,
        "told to try later": limited,
        "took, s": round(took, 1),
        "greatest lag, s": round(worst_lag, 2),
        "SIGTERM to end, s": round(ended, 2),
        "ok": taken + limited == 41 * (count // 41)
        and limited > 0
        and worst_lag < 3
        and health == 200
        and ended < 5,
    }


def addresses(binary, directory, count=60_000):
    """Invented addresses on a feed: state, metrics and memory stay bounded."""
    daemon = Daemon(binary, directory)
    daemon.start()
    before = steady(lambda: round(daemon.memory_mib()))
    out = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    for i in range(count):
        name = "".join(letters[i // 26**k % 26] for k in range(5))
        out.sendto(checked(f"{name},{i},{'x' * 40}").encode(), ("127.0.0.1", daemon.udp))
        if i % 200 == 0:
            time.sleep(0.02)

    def network():
        feeds = daemon.state()["feeds"]
        return next(feed for feed in feeds if feed["name"] == "network")["kinds"]

    heard = steady(lambda: sum(network().values()))
    size = len(json.dumps(daemon.state()))
    metrics = len(daemon.get("/metrics")[1])
    after = daemon.memory_mib()
    rows = len(network())
    daemon.stop()
    return {
        "addresses sent": count,
        "heard": heard,
        "rows of kinds": rows,
        "state, bytes": size,
        "metrics, bytes": metrics,
        "memory before / after, MiB": [round(before, 1), round(after, 1)],
        "ok": heard > 0.9 * count and size < 64_000 and metrics < 64_000 and after < before + 30,
    }
