"""Alert sentences against an outside decoder, over UDP on loopback.

    pip install -r tests/contracts/requirements.txt
    python3 tests/contracts/alerts.py target/debug/skimwatch

A daemon without instruments raises alerts by itself. pynmeagps reads all that it sends; an alert
is then asked for, silenced, acknowledged, and acknowledged again, which is refused.
"""

import socket
import subprocess
import sys
import tempfile
import time
from functools import reduce
from pathlib import Path

from pynmeagps import NMEAReader

PROJECT = Path(__file__).resolve().parent.parent.parent
# For what must come: a busy machine is slow to start.
PATIENCE_S = 90


def free_port(kind) -> int:
    with socket.socket(socket.AF_INET, kind) as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class Display:
    """A display on the boat's network."""

    def __init__(self, feed: int):
        self.socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self.socket.bind(("127.0.0.1", 0))
        self.socket.settimeout(1.0)
        self.feed = ("127.0.0.1", feed)
        self.kinds = set()

    def port(self) -> int:
        return self.socket.getsockname()[1]

    def hear(self):
        """The next sentence as the decoder reads it; `None` when there is none within a second."""
        try:
            line = self.socket.recv(200)
        except TimeoutError:
            return None
        if len(line) > 82 or not line.endswith(b"\r\n"):
            sys.exit(f"not as long as a sentence may be: {line}")
        # Checks the checksum, and the fields by its own table.
        message = NMEAReader.parse(line, validate=1)
        self.kinds.add(message.msgID)
        return message

    def wait(self, what: str, wanted):
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            message = self.hear()
            if message is not None and wanted(message):
                print(f"{what}: {message.serialize().decode().strip()}")
                return message
        sys.exit(f"{what} does not come; there came {sorted(self.kinds)}")

    def command(self, alert, letter: str):
        body = f"RAACN,,{alert.mfrcode},{alert.alertid},{alert.alertinst},{letter},C"
        checksum = reduce(lambda so_far, c: so_far ^ ord(c), body, 0)
        self.socket.sendto(f"${body}*{checksum:02X}\r\n".encode(), self.feed)


def is_alert(message, alert=None, state=None) -> bool:
    if message.msgID != "ALF" or message.senNum != 1:
        return False
    same = alert is None or (message.alertid, message.alertinst) == (alert.alertid, alert.alertinst)
    return same and (state is None or message.alertstate == state)


def main() -> int:
    if len(sys.argv) != 2:
        sys.exit(f"usage: {sys.argv[0]} BINARY")
    feed = free_port(socket.SOCK_DGRAM)
    display = Display(feed)
    with tempfile.TemporaryDirectory() as scratch:
        settings = Path(scratch) / "boat.toml"
        settings.write_text(
            (PROJECT / "config" / "demo.toml").read_text()
            + f'\n[[feed]]\nname = "display"\nkind = "udp"\nbind = "127.0.0.1:{feed}"\n'
            + f'\n[serve]\nbind = "127.0.0.1:{free_port(socket.SOCK_STREAM)}"\nmdns_name = ""\n'
            + f'\n[alerts]\nudp = "127.0.0.1:{display.port()}"\ntxt = true\nfeed = "display"\n'
        )
        daemon = subprocess.Popen(
            [sys.argv[1], "run", "--settings", str(settings)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            raised = display.wait(
                "raised",
                lambda m: is_alert(m, state="V") and m.alertpriority in ("A", "W"),
            )
            if len(raised.alerttxt) > 16 or raised.mfrcode != "SKW":
                sys.exit(f"not as the standard has it: {raised}")
            display.command(raised, "Q")
            display.wait("sent again", lambda m: is_alert(m, raised))
            display.command(raised, "A")
            seen = display.wait("acknowledged", lambda m: is_alert(m, raised, "A"))
            if int(seen.revisionctr) <= int(raised.revisionctr):
                sys.exit(f"the revision does not grow: {seen}")
            display.command(raised, "A")
            refused = display.wait("refused", lambda m: m.msgID == "ARC")
            if (refused.alertid, refused.alertcmd) != (raised.alertid, "A"):
                sys.exit(f"not what was refused: {refused}")
            display.wait("listed", lambda m: m.msgID == "ALC" and m.numAlerts > 0)
            display.wait("beats", lambda m: m.msgID == "HBT")
            missing = {"ALF", "ALC", "ARC", "HBT", "TXT"} - display.kinds
            if missing:
                sys.exit(f"never sent: {sorted(missing)}")
            return 0
        finally:
            daemon.terminate()
            daemon.wait(timeout=30)


if __name__ == "__main__":
    sys.exit(main())
