"""Ports that nothing listens on."""

import socket


def free_ports(count: int) -> list[int]:
    """So many, none of them twice."""
    probes = [socket.create_server(("127.0.0.1", 0)) for _ in range(count)]
    ports: list[int] = [probe.getsockname()[1] for probe in probes]
    for probe in probes:
        probe.close()
    return ports


def free_port() -> int:
    """One."""
    return free_ports(1)[0]
