"""The headers every answer carries, so that a browser does only what this app needs."""

from __future__ import annotations

from flask import Response, current_app, request

from bedside.web.problems import API

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "connect-src 'self'",
        "manifest-src 'self'",
        "worker-src 'self'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "require-trusted-types-for 'script'",
        "trusted-types app-sw",
    )
)
"""Nothing from another host, nothing inline: markup in a patient's name stays text."""

EVERY_ANSWER = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    "X-Content-Type-Options": "nosniff",
    # Not `no-referrer`: over HTTPS the form check compares the referrer and would refuse every form.
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), microphone=(), geolocation=(), payment=(), usb=()",
}

HOUSE_HEADER = "X-Bedside-House"
"""Names the house that answered: a tablet believes no answer without it (a captive portal's, a proxy's)."""

A_YEAR_OF_HTTPS = "max-age=31536000; includeSubDomains"

MAY_BE_KEPT = frozenset({"static"})
"""Endpoints that choose their own caching; they hold no patient data. `shell.*` does so too."""


def add_headers(response: Response) -> Response:
    """Set what every answer carries; nothing but the shell's own files may be kept by the browser."""
    for name, value in EVERY_ANSWER.items():
        response.headers[name] = value
    if request.path.startswith(API):
        response.headers[HOUSE_HEADER] = current_app.config["HOUSE"]
    if request.is_secure:
        response.headers["Strict-Transport-Security"] = A_YEAR_OF_HTTPS
    if not _chooses_own_caching():
        response.headers["Cache-Control"] = "no-store"
    return response


def _chooses_own_caching() -> bool:
    endpoint = request.endpoint or ""
    return endpoint in MAY_BE_KEPT or endpoint.startswith("shell.")
