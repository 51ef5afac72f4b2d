"""What can go wrong between a tablet and the house: a proxy on loopback that does it on demand.

It reads one request after the other from each connection, as a proxy on a ward would, and asks its `fault` what becomes
of it. Requests that a fault leaves alone pass through. `seen` is every request that arrived here, with its time.
"""

from __future__ import annotations

import contextlib
import socket
import struct
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

END_OF_HEAD = b"\r\n\r\n"
CHUNK = 65_536
PATIENCE_S = 30


@dataclass(frozen=True, slots=True)
class Request:
    """One request as it came. line: for example `POST /tablet/events HTTP/1.1`."""

    line: str
    head: bytes
    body: bytes
    at: float

    @property
    def path(self) -> str:
        return self.line.split(" ")[1].partition("?")[0]

    @property
    def is_for_a_door(self) -> bool:
        """The tablet's own JSON doors, not its files."""
        return self.path.startswith("/tablet/") and self.path != "/tablet/"

    @property
    def carries_events(self) -> bool:
        return self.path == "/tablet/events"


Fault = Callable[["FaultProxy", socket.socket, Request], bool]
"""Does something with a request; gives whether the connection may stay open."""


class Cut(Exception):
    """The connection ends here."""


class FaultProxy:
    """One port in front of another. `faults` counts how often the fault struck."""

    def __init__(self, upstream: int) -> None:
        self.upstream = upstream
        self.port = 0
        self.fault: Fault = passes
        self.faults = 0
        self.seen: list[Request] = []
        self.healed = threading.Event()
        self._open: set[socket.socket] = set()
        self._listener: socket.socket | None = None

    @property
    def origin(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def url(self) -> str:
        return f"{self.origin}/tablet/"

    # ---- the line

    def start(self) -> None:
        """Listen, on the port of last time if there was one."""
        self._listener = socket.create_server(("127.0.0.1", self.port))
        self.port = self._listener.getsockname()[1]
        threading.Thread(target=self._accept, args=(self._listener,), daemon=True).start()

    def refuse(self) -> None:
        """Close the port: from now on connections are refused."""
        if self._listener is not None:
            with contextlib.suppress(OSError):
                self._listener.shutdown(socket.SHUT_RDWR)
            self._listener.close()
            self._listener = None
        self._hang_up()

    def break_with(self, fault: Fault) -> None:
        """From now on this fault strikes; connections held open from before are cut."""
        self.healed.clear()
        self.fault = fault
        self._hang_up()

    def heal(self) -> None:
        """Everything passes again."""
        self.fault = passes
        self.healed.set()
        self._hang_up()
        if self._listener is None:
            self.start()

    def _hang_up(self) -> None:
        for line in list(self._open):
            with contextlib.suppress(OSError):
                line.shutdown(socket.SHUT_RDWR)

    def _accept(self, listener: socket.socket) -> None:
        while True:
            try:
                client, _ = listener.accept()
            except OSError:
                return
            threading.Thread(target=self._serve, args=(client,), daemon=True).start()

    def _serve(self, client: socket.socket) -> None:
        client.settimeout(PATIENCE_S)
        self._open.add(client)
        with client, contextlib.suppress(Cut, OSError):
            while self._serve_one(client):
                pass
        self._open.discard(client)

    def _serve_one(self, client: socket.socket) -> bool:
        request = read_request(client)
        self.seen.append(request)
        return self.fault(self, client, request)

    # ---- what faults are made of

    def answer_to(self, request: Request) -> bytes:
        """Take the request to the house; gives its whole answer, ready for a connection that lasts."""
        with socket.create_connection(("127.0.0.1", self.upstream), PATIENCE_S) as house:
            house.sendall(closing(request.head) + request.body)
            answer = bytearray()
            while part := house.recv(CHUNK):
                answer += part
        return lasting(bytes(answer))

    def strike(self) -> None:
        """Note that the fault did its work."""
        self.faults += 1


def read_request(client: socket.socket) -> Request:
    """One request, head and body. Raises Cut when the connection ends before one is whole."""
    got = bytearray()
    while END_OF_HEAD not in got:
        got += _more(client)
    head, _, body = bytes(got).partition(END_OF_HEAD)
    line, _, fields = head.partition(b"\r\n")
    length = int(_field(fields, b"content-length") or 0)
    while len(body) < length:
        body += _more(client)
    return Request(line=line.decode(), head=head + END_OF_HEAD, body=body, at=time.monotonic())


def _more(client: socket.socket) -> bytes:
    part = client.recv(CHUNK)
    if not part:
        raise Cut
    return part


def _field(fields: bytes, name: bytes) -> bytes | None:
    for line in fields.split(b"\r\n"):
        key, _, value = line.partition(b":")
        if key.strip().lower() == name:
            return value.strip()
    return None


def _without_connection(head: bytes) -> bytes:
    lines = head.removesuffix(END_OF_HEAD).split(b"\r\n")
    return b"\r\n".join(line for line in lines if not line.lower().startswith((b"connection:", b"keep-alive:")))


def closing(head: bytes) -> bytes:
    """A request's head that asks the house to close when it has answered."""
    return _without_connection(head) + b"\r\nConnection: close" + END_OF_HEAD


def lasting(answer: bytes) -> bytes:
    """An answer that lets the browser keep its connection to us."""
    head, _, body = answer.partition(END_OF_HEAD)
    return _without_connection(head) + b"\r\nConnection: keep-alive" + END_OF_HEAD + body


def page(status: str, text: str, *fields: str) -> bytes:
    """An answer of somebody who is not the house."""
    body = f"<!doctype html><title>{text}</title><p>{text}</p>".encode()
    head = [f"HTTP/1.1 {status}", "Content-Type: text/html", f"Content-Length: {len(body)}", *fields]
    return "\r\n".join(head).encode() + END_OF_HEAD + body


# ---- the faults ----------------------------------------------------------------------------------------------------


def passes(proxy: FaultProxy, client: socket.socket, request: Request) -> bool:
    """No fault."""
    client.sendall(proxy.answer_to(request))
    return True


def at_the_doors(fault: Fault) -> Fault:
    """The fault, for the tablet's JSON doors only."""
    return lambda proxy, client, request: (fault if request.is_for_a_door else passes)(proxy, client, request)


def at_the_events(fault: Fault) -> Fault:
    """The fault, for letters with events only: the greeting before them passes."""
    return lambda proxy, client, request: (fault if request.carries_events else passes)(proxy, client, request)


def swallows(proxy: FaultProxy, client: socket.socket, request: Request) -> bool:
    """A black hole: takes everything and never answers."""
    proxy.strike()
    proxy.healed.wait(PATIENCE_S)
    return False


def cuts_after_the_request(proxy: FaultProxy, client: socket.socket, request: Request) -> bool:
    """The house has taken the letter in and answered; the line breaks before a byte of the answer is through."""
    proxy.answer_to(request)
    proxy.strike()
    return False


def cuts_after(count: int) -> Fault:
    """The line breaks when so many bytes of the answer are through; below 0: so many before its end."""

    def cut(proxy: FaultProxy, client: socket.socket, request: Request) -> bool:
        client.sendall(proxy.answer_to(request)[:count])
        proxy.strike()
        return False

    return cut


def cuts_the_request_in_half(proxy: FaultProxy, client: socket.socket, request: Request) -> bool:
    """The line breaks while the letter is on its way to the house."""
    with socket.create_connection(("127.0.0.1", proxy.upstream), PATIENCE_S) as house:
        house.sendall(request.head + request.body[: len(request.body) // 2])
    proxy.strike()
    return False


def resets(proxy: FaultProxy, client: socket.socket, request: Request) -> bool:
    """The connection is reset, as a firewall does it."""
    client.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    proxy.strike()
    client.close()
    return False


def answers_with(answer: bytes) -> Fault:
    """Somebody else answers in the place of the house."""

    def impostor(proxy: FaultProxy, client: socket.socket, request: Request) -> bool:
        client.sendall(answer)
        proxy.strike()
        return True

    return impostor


def trickles(bytes_a_second: int) -> Fault:
    """So slow a line: both ways, the letter as well as the answer."""

    def slowly(proxy: FaultProxy, client: socket.socket, request: Request) -> bool:
        proxy.strike()
        pause = threading.Event()
        pause.wait(len(request.head + request.body) / bytes_a_second)
        answer = proxy.answer_to(request)
        for start in range(0, len(answer), bytes_a_second // 10):
            client.sendall(answer[start : start + bytes_a_second // 10])
            pause.wait(0.1)
        return True

    return slowly


def flaps(every_s: float) -> Fault:
    """There and gone in turn."""
    began = time.monotonic()

    def perhaps(proxy: FaultProxy, client: socket.socket, request: Request) -> bool:
        is_there = int((time.monotonic() - began) / every_s) % 2 == 0
        return (passes if is_there else resets)(proxy, client, request)

    return perhaps


def refuses_over(most: int) -> Fault:
    """A proxy of the house's own network that takes no request over so many bytes, and says so with a page."""

    def refuse(proxy: FaultProxy, client: socket.socket, request: Request) -> bool:
        if len(request.body) <= most:
            return passes(proxy, client, request)
        return answers_with(page("413 Payload Too Large", "Too large"))(proxy, client, request)

    return refuse
