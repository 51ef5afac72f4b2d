"""The house's desk: orders in, people, tablets, the test directory, the audit record."""

from __future__ import annotations

from flask import Blueprint, current_app, flash, g, redirect, render_template, request, url_for
from flask_wtf import FlaskForm
from flask_wtf.file import FileField, FileRequired
from werkzeug.wrappers import Response

from bedside.exchange.order_cells import OPTIONAL, REQUIRED
from bedside.exchange.orders_in import check_orders, directory_in_force, take_in_orders
from bedside.exchange.trouble import FileRefused, FileUnusable, Trouble
from bedside.people import accounts
from bedside.people import tablets as enrolments
from bedside.people.accounts import AccountRefused
from bedside.people.roles import may_open
from bedside.people.tablets import EnrolmentRefused
from bedside.records import audit as audit_record
from bedside.records import house_now
from bedside.records import tablets as tablet_use
from bedside.records.carried_rounds import rounds_out
from bedside.records.database import writing
from bedside.records.directory_now import directory_now
from bedside.records.orders import TakenIn
from bedside.records.tablets import TabletUnknown, TabletUseRefused
from bedside.rounds.handing_back import RoundNotOut, close_by_hand
from bedside.web.desk import Desk, desk, request_time, settings, signed_in
from bedside.web.house_pages import (
    AuditPage,
    DirectoryPage,
    NewCode,
    OrdersPage,
    PeoplePage,
    TabletsPage,
)

pages = Blueprint("house", __name__, url_prefix="/house")


class OrdersForm(FlaskForm):
    """One orders file."""

    file = FileField("Orders file", validators=[FileRequired("Choose a file first.")])


@pages.get("/")
def orders() -> str:
    """Taking orders in, and the files taken before."""
    return _orders_page(OrdersForm())


@pages.post("/orders")
def take_in() -> Response | tuple[str, int]:
    """Check a file, or take it in: all of it or nothing."""
    form = OrdersForm()
    if not form.validate_on_submit():
        return _orders_page(form, "Choose a file first: nothing was sent."), 422
    data = form.file.data.read()
    try:
        flash(_check(data) if "check" in request.form else _take(data, form.file.data.filename or ""))
    except FileRefused as refused:
        return _orders_page(OrdersForm(), _refusal(refused), refused.troubles), 422
    except FileUnusable as unusable:
        return _orders_page(OrdersForm(), str(unusable)), 422
    return redirect(url_for("house.orders"))


@pages.get("/people")
def people() -> str:
    """Everybody who has an account."""
    return _people_page()


@pages.post("/people")
def add_person() -> Response | tuple[str, int]:
    """Make an account."""
    asked = {name: request.form.get(name, "").strip() for name in ("name", "sign_in", "role", "ward")}
    try:
        person = accounts.add_person(
            sign_in=asked["sign_in"],
            name=asked["name"],
            role=asked["role"],
            password=request.form.get("password", ""),
            passwords=current_app.config["PASSWORDS"],
            at=g.at,
            by=signed_in().person,
            site=settings().site,
            ward=asked["ward"] if asked["ward"] in house_now.ward_names() else None,
        )
    except AccountRefused as refused:
        return _people_page(asked, str(refused)), 422
    flash(f"{person.name} can sign in now.")
    return redirect(url_for("house.people"))


@pages.post("/people/<person>")
def change_person(person: str) -> Response | tuple[str, int]:
    """Disable, enable or give another role; nobody can shut themselves out."""
    if person == signed_in().person:
        return _people_page(wrong="Ask another keeper to change your own account: you would shut yourself out."), 422
    try:
        flash(_change(person, request.form))
    except AccountRefused as refused:
        return _people_page(wrong=str(refused)), 422
    return redirect(url_for("house.people"))


@pages.get("/tablets")
def tablets() -> str:
    """Every tablet that has been heard."""
    return _tablets_page()


@pages.post("/tablets")
def change_tablet() -> Response | tuple[str, int]:
    """Take a tablet out of use, or put it back, with a reason. Its name stands in the form: tablets name themselves."""
    tablet, reason = request.form.get("tablet", ""), request.form.get("reason", "")
    is_back = request.form.get("act") == "restore"
    change = tablet_use.restore if is_back else tablet_use.revoke
    try:
        change(tablet, g.at, signed_in().person, reason)
    except TabletUnknown:
        return _tablets_page("There is no such tablet. Load the page again and choose it there."), 422
    except TabletUseRefused as refused:
        return _tablets_page(str(refused)), 422
    flash("Back in use." if is_back else "Out of use. What it still sends is kept, and set aside for a person.")
    return redirect(url_for("house.tablets"))


@pages.post("/rounds/<round_id>")
def close_round(round_id: str) -> Response | tuple[str, int]:
    """Close a round although something hangs on it."""
    try:
        with writing():
            out = close_by_hand(round_id, g.at, signed_in().person, has_asked="asked" in request.form)
    except RoundNotOut as refused:
        return _tablets_page(str(refused)), 422
    flash(f"The round of {out.person_name} is closed. What was not begun waits for the next round.")
    return redirect(url_for("house.tablets"))


@pages.post("/tablets/code")
def new_code() -> str | tuple[str, int]:
    """Make a code that enrols one tablet, and show it this once."""
    name = request.form.get("name", "")
    try:
        with writing():
            code = enrolments.make_code(name, by=signed_in().person, at=g.at)
    except EnrolmentRefused as refused:
        return _tablets_page(str(refused)), 422
    minutes = int(enrolments.CODE_LIVES.total_seconds() // 60)
    return _tablets_page(code=NewCode(code=f"{code[:4]} {code[4:]}", name=name.strip(), minutes=minutes))


@pages.get("/directory")
def directory() -> str:
    """The test directory in force."""
    loaded = directory_now()
    edge = _desk("Test directory", "directory")
    may_sign = may_open(signed_in().role, "directory_versions.versions")
    page = DirectoryPage.of(edge, directory_in_force(), is_built_in=loaded is None, may_sign=may_sign)
    return render_template("house/directory.html", page=page)


@pages.get("/audit")
def audit() -> str:
    """Whether the audit record holds, checked now, and its newest lines."""
    at = request_time()
    fault = audit_record.first_fault(audit_record.entries())
    head = audit_record.head()
    edge = _desk("Audit", "audit")
    page = AuditPage.of(edge, fault, head.hash if head else None, house_now.audit_newest(), at)
    return render_template("house/audit.html", page=page)


def taken_sentence(taken: TakenIn) -> str:
    """What became of a file, in a sentence or two."""
    if taken.batch is None:
        return "This file was taken in before. Nothing changed."
    known = f" {taken.known} were known and stay as they are." if taken.known else ""
    nurse = f" {taken.nurse_collect} are for a nurse to collect." if taken.nurse_collect else ""
    return f"Taken in: {taken.new} new orders, {taken.patients_new} new patients.{known}{nurse}"


def _check(data: bytes) -> str:
    return f"Checked: {check_orders(data, at=g.at)} orders could be taken in. Nothing was kept."


def _take(data: bytes, name: str) -> str:
    return taken_sentence(take_in_orders(data, file_name=name, at=g.at, by=signed_in().person))


def _refusal(refused: FileRefused) -> str:
    number = len(refused.troubles)
    return f"Nothing was taken in: {number} {'cell' if number == 1 else 'cells'} of the file cannot be used."


def _change(person: str, form: dict[str, str]) -> str:
    by = signed_in().person
    if form.get("act") == "disable":
        accounts.disable(person, g.at, by=by)
        return "Disabled. Their sessions have ended."
    if form.get("act") == "enable":
        accounts.enable(person, g.at, by=by)
        return "Enabled again."
    accounts.change_role(person, form.get("role", ""), g.at, by=by)
    return "The role is changed. It begins with their next sign-in."


def _orders_page(form: OrdersForm, refused: str = "", troubles: tuple[Trouble, ...] = ()) -> str:
    at = request_time()
    page = OrdersPage.of(
        _desk("Orders", "orders"), form, (REQUIRED, OPTIONAL), house_now.files_taken(), at, refused, troubles
    )
    return render_template("house/orders.html", page=page)


def _people_page(typed: dict[str, str] | None = None, wrong: str = "") -> str:
    edge = _desk("People", "people")
    page = PeoplePage.of(
        edge, accounts.everybody(), house_now.ward_names(), signed_in().person, request_time(), typed or {}, wrong
    )
    return render_template("house/people.html", page=page)


def _tablets_page(wrong: str = "", code: NewCode | None = None) -> str:
    edge = _desk("Tablets", "tablets", refresh_s=0 if wrong or code else 60)
    page = TabletsPage.of(edge, house_now.tablets(), rounds_out(), request_time(), wrong, code)
    return render_template("house/tablets.html", page=page)


def _desk(title: str, here: str, *, refresh_s: int = 0) -> Desk:
    return desk(title, request_time(), here=f"house.{here}", refresh_s=refresh_s)
