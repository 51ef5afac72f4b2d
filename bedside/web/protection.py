"""What enrolling, the PIN and the seals protect, and what they do not: one page, open to everybody."""

from __future__ import annotations

from flask import Blueprint, render_template

pages = Blueprint("protection", __name__)


@pages.get("/what-this-protects")
def page() -> str:
    return render_template("protection.html")
