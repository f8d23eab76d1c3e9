"""A daemon under attack: its settings, its start and end, and what can be asked of it."""

import http.client
import json
import os
import signal
import socket
import subprocess
import threading
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
PROJECT = HERE.parent.parent


def free_port(kind=socket.SOCK_STREAM):
    """A port of the loopback that nobody has just now."""
    with socket.socket(socket.AF_INET, kind) as found:
        found.bind(("127.0.0.1", 0))
        return found.getsockname()[1]


def steady(read, within=60):
    """What is read once it has stayed the same for a second."""
    value, since = read(), time.monotonic()
    end = since + within
    while time.monotonic() - since < 1:
        if time.monotonic() > end:
            raise RuntimeError(f"still changing: {value}")
        time.sleep(0.1)
        now = read()
        if now != value:
            value, since = now, time.monotonic()
    return value


def checked(body):
    """A sentence with its checksum."""
    total = 0
    for char in body.encode():
        total ^= char
    return f"${body}*{total:02X}\r\n"


class Daemon:
    """`skimwatch run` in a directory of its own, fed by UDP."""

    def __init__(self, binary, directory, extra=""):
        self.binary = str(binary)
        self.dir = Path(directory)
        self.dir.mkdir(parents=True, exist_ok=True)
        self.records = self.dir / "recordings"
        self.udp = free_port(socket.SOCK_DGRAM)
        self.http = free_port()
        rig = (PROJECT / "config" / "demo.toml").read_text()
        self.settings = self.dir / "boat.toml"
        self.settings.write_text(
            rig
            + f"""
[serve]
bind = "127.0.0.1:{self.http}"
mdns_name = ""

[record]
dir = "{self.records}"
max_file_mib = 16
max_total_mib = 256

[forecast]
learnt_file = "{self.dir}/learnt.json"

[[feed]]
name = "network"
kind = "udp"
bind = "127.0.0.1:{self.udp}"
crew = true
{extra}
"""
        )
        self.process = None
        self.said = []

    def start(self, before=()):
        """Starts it, and waits until its page answers."""
        self.process = subprocess.Popen(
            [*before, self.binary, "run", "--settings", str(self.settings)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            env={k: v for k, v in os.environ.items() if k != "JOURNAL_STREAM"},
            text=True,
        )
        threading.Thread(target=self._listen, args=(self.process.stderr,), daemon=True).start()
        end = time.monotonic() + 30
        while time.monotonic() < end:
            if self.process.poll() is not None:
                raise RuntimeError("it ended at once: " + " | ".join(self.said[-5:]))
            try:
                return self.get("/healthz", timeout=1)
            except OSError:
                time.sleep(0.02)
        raise RuntimeError("its page does not answer")

    def _listen(self, stream):
        for line in stream:
            self.said.append(line.rstrip())
            del self.said[:-200]

    def get(self, path, timeout=10, source=None):
        """Status and JSON (or text) of an answer."""
        return self.ask("GET", path, timeout=timeout, source=source)[:2]

    def post(self, path, body, timeout=10, source=None):
        return self.ask("POST", path, body, timeout, source)

    def ask(self, method, path, body=None, timeout=10, source=None):
        link = http.client.HTTPConnection(
            "127.0.0.1", self.http, timeout=timeout, source_address=source and (source, 0)
        )
        try:
            headers = {} if body is None else {"Content-Type": "application/json"}
            link.request(method, path, None if body is None else json.dumps(body), headers)
            answer = link.getresponse()
            text = answer.read()
            kind = answer.getheader("Content-Type", "")
            value = json.loads(text) if "json" in kind else text.decode()
            return answer.status, value, answer.headers
        except http.client.HTTPException as error:
            raise OSError(str(error)) from error
        finally:
            link.close()

    def state(self, timeout=10):
        return self.get("/v1/state", timeout)[1]

    def memory_mib(self):
        for line in Path(f"/proc/{self.process.pid}/status").read_text().splitlines():
            if line.startswith("VmRSS"):
                return int(line.split()[1]) / 1024
        return 0.0

    def kill(self):
        self.process.kill()
        self.process.wait()

    def stop(self, within=20):
        """Asks it to end; gives the seconds that took."""
        begun = time.monotonic()
        self.process.send_signal(signal.SIGTERM)
        self.process.wait(within)
        return time.monotonic() - begun

    def recordings(self):
        """The recordings, oldest first."""
        return sorted(self.records.glob("*.nmea"), key=first_stamp)

    def replay(self, *logs):
        """The advisories that its recordings give, a line each."""
        done = subprocess.run(
            [self.binary, "replay", *map(str, logs), "--settings", str(self.settings)],
            capture_output=True,
            check=True,
            text=True,
        )
        return done.stdout.splitlines()[:-1]


def first_stamp(path):
    """When the first line of a recording came, Unix milliseconds."""
    with open(path, errors="replace") as file:
        line = file.readline()
    fields = line.split("*")[0].split(",")
    stamps = [field[2:] for field in fields if field.startswith("c:")]
    return int(stamps[0]) if stamps and stamps[0].isdigit() else 0


class Advisories:
    """Every revision that the daemon tells, as it tells it."""

    def __init__(self, daemon):
        self.link = http.client.HTTPConnection("127.0.0.1", daemon.http, timeout=60)
        self.link.request("GET", "/v1/advisories/stream")
        self.stream = self.link.getresponse()
        self.told = []
        self.thread = threading.Thread(target=self._run, daemon=True)
        self.thread.start()

    def _run(self):
        event = ""
        try:
            for line in self.stream:
                name, _, value = line.decode().rstrip("\n").partition(": ")
                if name == "event":
                    event = value
                elif name == "data" and event == "advisory":
                    self.told.append(json.loads(value))
        except (OSError, http.client.HTTPException):
            pass

    def all(self):
        """What was told until the daemon ended."""
        self.thread.join(10)
        return self.told


class Slowed:
    """Lets a process run for a share of the time only, on one core."""

    SLICE_S = 0.1

    def __init__(self, pid, share):
        self.pid, self.share = pid, share
        self.done = threading.Event()
        os.sched_setaffinity(pid, {max(os.sched_getaffinity(0))})
        self.thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self):
        self.thread.start()
        return self

    def _run(self):
        try:
            while not self.done.is_set():
                os.kill(self.pid, signal.SIGSTOP)
                time.sleep(self.SLICE_S * (1 - self.share))
                os.kill(self.pid, signal.SIGCONT)
                time.sleep(self.SLICE_S * self.share)
        except ProcessLookupError:
            pass

    def __exit__(self, *_):
        self.done.set()
        self.thread.join()
        try:
            os.kill(self.pid, signal.SIGCONT)
        except ProcessLookupError:
            pass


class Player:
    """Plays the sentences of a log over UDP as they came."""

    def __init__(self, log, port, seconds, speed=1.0):
        self.lines = []
        for line in Path(log).read_text().splitlines():
            tag, _, sentence = line[1:].partition("\\")
            stamp = next(f[2:] for f in tag.split("*")[0].split(",") if f.startswith("c:"))
            self.lines.append((int(stamp) / 1000, sentence + "\r\n"))
        first = self.lines[0][0]
        self.lines = [(at - first, s) for at, s in self.lines if at - first < seconds]
        self.port, self.speed = port, speed
        self.thread = threading.Thread(target=self._run, daemon=True)
        self.done = threading.Event()

    def start(self):
        self.thread.start()
        return self

    def _run(self):
        out = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        begun = time.monotonic()
        for at, sentence in self.lines:
            wait = begun + at / self.speed - time.monotonic()
            if self.done.wait(max(wait, 0)) if wait > 0 else self.done.is_set():
                return
            out.sendto(sentence.encode(), ("127.0.0.1", self.port))

    def finish(self):
        self.done.set()
        self.thread.join()

    def join(self):
        self.thread.join()
