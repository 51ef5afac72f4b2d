"""A request that stops in the middle holds one thread for a while, never the house."""

from __future__ import annotations

import socket
import urllib.request
from pathlib import Path

import pytest

from bedside.commands.serve import READ_WITHIN_S, THREADS
from tests.browser.house_process import HouseProcess, fill_house

HALF = b"POST /sign-in HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 1000\r\n\r\nname=a"


@pytest.fixture
def served(tmp_path: Path):
    house = HouseProcess(fill_house(tmp_path / "house"))
    house.start()
    yield house
    house.kill()


def test_more_half_sent_requests_than_threads_do_not_stop_the_house(served: HouseProcess):
    silent = [socket.create_connection(("127.0.0.1", served.port)) for _ in range(THREADS + 1)]
    for one in silent:
        one.sendall(HALF)

    with urllib.request.urlopen(f"{served.origin}/sign-in", timeout=4 * READ_WITHIN_S) as answer:
        assert answer.status == 200

    for one in silent:
        one.close()
