"""Answers made smaller for the way: the tablet's JSON, scripts and style sheets, with gzip, where the client takes it.

Never a page: pages carry a form's token beside text a stranger may have chosen, and the length of a compressed page
would tell about the token (the BREACH attack, 2013). The tablet's JSON carries no token and answers no other site.
"""

from __future__ import annotations

import gzip
from functools import lru_cache

from flask import Response, request

from bedside.web.problems import API

SMALLEST = 1024
"""Bytes. Below this a compressed answer saves less than one network packet (from memory)."""

LEVEL = 6

ASSETS = frozenset({"text/javascript", "application/javascript", "text/css"})


def pack(response: Response) -> Response:
    """Compress what may be compressed, and say that the answer depends on what the client accepts."""
    if response.status_code != 200 or not _may_be_packed(response):
        return response
    response.vary.add("Accept-Encoding")
    if request.accept_encodings.quality("gzip") <= 0 or response.content_encoding:
        return response
    response.direct_passthrough = False
    content = response.get_data()
    if len(content) < SMALLEST:
        return response
    packed = _packed_asset(content) if response.mimetype in ASSETS else _packed(content)
    response.set_data(packed)
    response.content_encoding = "gzip"
    tag, _ = response.get_etag()
    if tag:
        response.set_etag(tag, weak=True)
    return response


def _may_be_packed(response: Response) -> bool:
    if response.mimetype in ASSETS:
        return True
    return response.mimetype == "application/json" and request.path.startswith(API)


def _packed(content: bytes) -> bytes:
    return gzip.compress(content, LEVEL, mtime=0)


@lru_cache(maxsize=256)
def _packed_asset(content: bytes) -> bytes:
    """Files are the same for everybody, so each is compressed once."""
    return _packed(content)
