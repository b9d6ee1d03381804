"""Ports that nobody listens on, and that no other test takes meanwhile.

What the system gives for port 0 it gives to the next one who asks, too: a server that was stopped
to come back on its port met another worker's there, and its test went on with that one. So each
process has a row of its own, below those that the system gives. It holds the first port of its row
for as long as it runs, so another run of the tests beside it has other rows.
"""

import os
import socket
from functools import cache

FIRST, ROW, ROWS = 20_000, 200, 60
"""Up to 32,000; Linux gives from 32,768 on."""
_given = 0


def free_ports(count: int) -> list[int]:
    """So many; none comes again before a whole row was given."""
    return [free_port() for _ in range(count)]


def free_port() -> int:
    """One."""
    global _given  # noqa: PLW0603  a process goes through its row
    begins = _own_row().getsockname()[1]
    for _ in range(ROW - 1):
        port = begins + 1 + _given % (ROW - 1)
        _given += 1
        try:
            socket.create_server(("127.0.0.1", port)).close()
        except OSError:
            continue
        return port
    raise OSError("no port of this process is free")


@cache
def _own_row() -> socket.socket:
    """What holds this process's row: a server on its first port."""
    for n in range(ROWS):
        try:
            return socket.create_server(("127.0.0.1", FIRST + (os.getpid() + n) % ROWS * ROW))
        except OSError:
            continue
    raise OSError("every row of ports is taken")
