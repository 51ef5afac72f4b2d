"""Show one invented morning: a fresh ward in a temporary folder, thrown away at the end.

`--story` prints who is on the ward, what each patient says and what their bands carry.
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from socket import socket

from bedside.commands.serve import listen, run_server
from bedside.demo import demo_settings, fill, read_seed, welcome
from bedside.records.moments import now

HERE = "127.0.0.1"
USUAL_PORT = 8080
ANY_PORT = 0
LAST_PORT = 65535


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--port",
        type=port_number,
        help=f"port to serve on, 0: any free one (default: {USUAL_PORT}, or any free one while that is taken)",
    )
    parser.add_argument("--story", action="store_true", help="only print the story of the ward")


def port_number(text: str) -> int:
    """A port as typed. Raises ArgumentTypeError for what no port can be."""
    if not (text.isascii() and text.isdigit() and int(text) <= LAST_PORT):
        raise argparse.ArgumentTypeError(f"{text!r} is no port. Give a number from 0 to {LAST_PORT}.")
    return int(text)


def run(args: argparse.Namespace) -> int:
    """Bind and say where first, then fill the ward, then serve it."""
    seed = read_seed()
    if args.story:
        print(seed.story, end="")
        return 0
    try:
        sock = find_place(args.port)
    except OSError as error:
        print(
            f"Cannot listen on port {args.port}: {error.strerror}. Choose another --port, or 0.",
            file=sys.stderr,
        )
        return 1
    print(f"http://{HERE}:{sock.getsockname()[1]}/\n", flush=True)
    # The server closes the socket itself, by number: a second closing would fail.
    with fresh_folder() as home:
        settings = demo_settings(home, os.environ.get("BEDSIDE_ZONE") or zone_of_this_machine())
        fill(settings, now())
        print(welcome(seed), flush=True)
        run_server(settings, sock)
    return 0


def find_place(port: int | None) -> socket:
    """A listening socket on the port asked for; if none was, on the usual one or any that is free."""
    if port is not None:
        return listen(HERE, port)
    try:
        return listen(HERE, USUAL_PORT)
    except OSError:
        return listen(HERE, ANY_PORT)


@contextmanager
def fresh_folder() -> Iterator[Path]:
    """A temporary folder that goes away with the process that made it, not with a worker it forked."""
    made_by = os.getpid()
    home = Path(tempfile.mkdtemp(prefix="bedside-demo-"))
    try:
        yield home
    finally:
        if os.getpid() == made_by:
            shutil.rmtree(home, ignore_errors=True)


def zone_of_this_machine(link: Path = Path("/etc/localtime")) -> str:
    """The IANA zone this machine's clock shows, UTC where it does not say."""
    _, found, zone = str(link.resolve()).partition("zoneinfo/")
    return zone if found and zone else "UTC"
