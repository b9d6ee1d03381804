"""Ports that nobody listens on, and that no other test takes meanwhile.

What the system gives for port 0 it gives to the next one who asks, too: a server that was stopped
to come back on its port met another worker's there, and its test went on with that one. So each
process has a row of its own, below those that the system gives.
"""

import os
import socket

FIRST, ROW, ROWS = 20_000, 200, 60
"""Up to 32,000; Linux gives from 32,768 on. Processes that run together have numbers close to each
other, so not the same row."""
_given = 0


def free_ports(count: int) -> list[int]:
    """So many; none comes again before a whole row was given."""
    return [free_port() for _ in range(count)]


def free_port() -> int:
    """One."""
    global _given  # noqa: PLW0603  a process goes through its row
    for _ in range(ROW):
        port = FIRST + os.getpid() % ROWS * ROW + _given % ROW
        _given += 1
        try:
            socket.create_server(("127.0.0.1", port)).close()
        except OSError:
            continue
        return port
    raise OSError("no port of this process is free")
