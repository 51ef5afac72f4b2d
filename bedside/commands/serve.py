"""Serve the house with the real web server: one process, several threads; with PostgreSQL as many as you say.

Tablets on the ward's network need HTTPS; give --certificate and --key, or put a proxy in front. With DATABASE_URL
naming one PostgreSQL database, several machines may serve the same house: give each a copy of the same `keys` folder.
"""

from __future__ import annotations

import argparse
import logging
import socket
import struct
import sys
from typing import Any

from flask import Flask
from gunicorn.app.base import BaseApplication

from bedside.app import create_app
from bedside.records.database import DatabaseTrouble, DatabaseUnfit, connected
from bedside.records.house import HouseMissing, KeyExposed, open_house
from bedside.records.moments import now
from bedside.records.starting import refuse_unfit
from bedside.settings import Settings

THREADS = 8
"""Readers share the database; writers take turns anyway."""

BACKLOG = 128

READ_WITHIN_S = 10
"""How long a connection may be silent in the middle of a request. A tablet that lost its network must not hold a
thread for ever: eight of them would hold the house."""


class House(BaseApplication):  # type: ignore[misc]
    """Gunicorn around one house. The app is made in the worker: a connection must not survive a fork."""

    def __init__(self, settings: Settings, options: dict[str, Any]) -> None:
        self.settings = settings
        self.options = options
        super().__init__()

    def load_config(self) -> None:
        for name, value in self.options.items():
            self.cfg.set(name, value)

    def load(self) -> Flask:
        return create_app(self.settings)


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--host", default="127.0.0.1", help="address to listen on (default: this machine only)")
    parser.add_argument("--port", type=int, default=8080, help="0: any free port")
    parser.add_argument("--certificate", help="file with the certificate, for HTTPS")
    parser.add_argument("--key", help="file with the certificate's key")
    parser.add_argument("--workers", type=int, default=1, help="processes, with PostgreSQL alone (default: 1)")


def run(args: argparse.Namespace) -> int:
    """Bind first, say where, then serve: whoever reads the address can already connect."""
    settings = Settings.from_environment()
    if args.workers < 1 or (args.workers > 1 and not settings.database_url):
        print(
            "A SQLite file is served by one process. Leave --workers out, or name a PostgreSQL database in "
            "DATABASE_URL.",
            file=sys.stderr,
        )
        return 2
    try:
        open_house(settings, now())
        with connected():
            refuse_unfit(now())
        create_app(settings)
    except (HouseMissing, KeyExposed, DatabaseUnfit) as unfit:
        print(unfit, file=sys.stderr)
        return 2
    except DatabaseTrouble as trouble:
        print(f"The database cannot be used ({trouble}), so nothing is served. Restore a backup.", file=sys.stderr)
        return 2
    try:
        sock = listen(args.host, args.port)
    except OSError as error:
        print(
            f"Cannot listen on {args.host} port {args.port}: {error.strerror}. Choose another --port.",
            file=sys.stderr,
        )
        return 1
    scheme = "https" if args.certificate else "http"
    print(f"Bedside serves {settings.site} at {scheme}://{args.host}:{sock.getsockname()[1]}/", flush=True)
    run_server(settings, sock, certificate=args.certificate, key=args.key, workers=args.workers)
    return 0


def listen(host: str, port: int) -> socket.socket:
    """A listening socket; port 0 is any free one."""
    sock = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET)
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    # Connections inherit it from the listening socket (Linux); gunicorn itself puts no limit on a read.
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVTIMEO, struct.pack("ll", READ_WITHIN_S, 0))
    try:
        sock.bind((host, port))
        sock.listen(BACKLOG)
    except OSError:
        sock.close()
        raise
    return sock


def run_server(
    settings: Settings,
    sock: socket.socket,
    *,
    certificate: str | None = None,
    key: str | None = None,
    workers: int = 1,
) -> None:
    """Serve this house on a listening socket until the process is told to stop."""
    logging.basicConfig(format="%(levelname)s %(message)s")
    # Gunicorn takes over file descriptors by number; it duplicates this one in its own process.
    sock.set_inheritable(True)
    options = {
        "bind": [f"fd://{sock.fileno()}"],
        "workers": workers,
        "threads": THREADS,
        "worker_class": "gthread",
        "control_socket_disable": True,
        "loglevel": "warning",
        "certfile": certificate,
        "keyfile": key,
        # A tablet's answer is worth waiting for: the database is asked to flush to the disk.
        "timeout": 60,
        "graceful_timeout": 10,
        "forwarded_allow_ips": "127.0.0.1,::1",
    }
    House(settings, {name: value for name, value in options.items() if value is not None}).run()
