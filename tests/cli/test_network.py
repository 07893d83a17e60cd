"""Nothing here asks a network for anything: the fixture `network` holds every test in this folder to it."""

from __future__ import annotations

import socket

import pytest


def test_a_question_to_the_network_would_be_seen(network: list[str]) -> None:
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        nobody_listens = listening.getsockname()
        with pytest.raises(OSError, match="refused"):
            socket.create_connection(nobody_listens, timeout=10)
    assert "socket.connect" in network
    network.clear()
