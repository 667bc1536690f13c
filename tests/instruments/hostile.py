"""An instrument that misbehaves, in a process of its own: ``python -m tests.instruments.hostile MANNER``.

It says who it is as it should, takes a mode, and then answers a reading in its manner. The port stands on standard
output; it ends when standard input is closed.
"""

from __future__ import annotations

import contextlib
import os
import socket
import sys
import threading
import time

IDENTITY = b"ohmwright,practice meter,0,1\n"
SLOWLY = 0.2
"""Between two bytes of an answer that trickles. [s]"""


def answered(line: socket.socket, manner: str, reads: int) -> bool:
    """One reading in that manner; whether the line stays open."""
    if manner == "garbage":
        line.sendall(bytes(range(128, 256)) + b"\n")
    elif manner == "words":
        line.sendall(b"4.25E-1 volts, about\n")
    elif manner == "not a number":
        line.sendall(b"nan\n")
    elif manner == "half":
        line.sendall(b"4.2")
    elif manner == "half, then gone" and reads == 1:
        line.sendall(b"4.2")
        return False
    elif manner == "endless":
        while True:
            line.sendall(b"1" * 65536)
    elif manner == "trickle":
        while True:
            line.sendall(b"1")
            time.sleep(SLOWLY)
    elif manner == "empty":
        line.sendall(b"\n")
    elif manner == "double":
        line.sendall(b"4.25E-1\n9.99E-1\n")
    else:
        line.sendall(b"4.25E-1\n")
    return True


def talked(line: socket.socket, manner: str, count: list[int]) -> None:
    """Everything that is asked over one connection."""
    with contextlib.suppress(OSError), line, line.makefile("rb") as heard:
        for asked in heard:
            if asked.startswith(b"*IDN?"):
                line.sendall(IDENTITY)
            elif asked.startswith(b"SYST:ERR?"):
                line.sendall(b'0,"No error"\n')
            elif asked.startswith(b"READ?"):
                count[0] += 1
                if not answered(line, manner, count[0]):
                    return
            elif manner == "gone while told" and count[0] == 0:
                count[0] += 1
                return


def main() -> None:
    """Serve until standard input ends."""
    server, count = socket.create_server(("127.0.0.1", 0)), [0]
    print(server.getsockname()[1], flush=True)

    def serve() -> None:
        while True:
            line, _ = server.accept()
            threading.Thread(target=talked, args=(line, sys.argv[1], count), daemon=True).start()

    threading.Thread(target=serve, daemon=True).start()
    sys.stdin.read()
    os._exit(0)


if __name__ == "__main__":
    main()
