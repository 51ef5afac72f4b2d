"""Every table of the house. What is kept, what may change, and what is only a projection.

Three sorts of table:

- **facts**, written once: those of `WRITTEN_ONCE` (triggers refuse UPDATE and DELETE), `Answer`,
  `DirectoryVersion`, `ImportBatch`, `SpecimenNumber`, `ReportedVerdict`, `IncidentReview`;
- **registers**, which change by a named act: people, tablets, wards, patients, orders, rounds, visits, claims, tubes;
- **projections**, rebuilt from the events in the same transaction and never edited by hand: `VisitNow`,
  `OrderNow`, `Incident`, `FindingNow`, `ClockOff`. `bedside verify` proves them equal to the replay.

Times are text, ISO 8601 in UTC with milliseconds and `Z`, so they sort as they read. Volumes are mL,
weights kg, heights m. Ids are random text with a letter in front: `p-` person, `w-` ward, `n-` patient,
`o-` order, `r-` round, `v-` visit, `t-` tube, `k-` packet, `i-` incident, `b-` import batch.

Read with `connected()`, write inside `writing()` (both in `bedside.records.database`).
"""

from __future__ import annotations

import json
from typing import Any

from peewee import SQL, AutoField, BooleanField, FloatField, ForeignKeyField, IntegerField, Model, TextField

from bedside.records.database import db


class JsonField(TextField):  # type: ignore[misc]
    """A list or an object kept as JSON text with sorted keys, so that equal values are equal texts."""

    def db_value(self, value: Any) -> str | None:
        return None if value is None else json.dumps(value, ensure_ascii=False, sort_keys=True)

    def python_value(self, value: str | None) -> Any:
        return None if value is None else json.loads(value)


class Table(Model):  # type: ignore[misc]
    """Common to all: the database, and table names in lower case with underscores."""

    class Meta:
        database = db
        legacy_table_names = False


# --- the house and its people -------------------------------------------------------------------------


class House(Table):
    """One row. `id` names this database for life and is new after a restore.

    `revision` grows by one, in the same transaction, whenever something a packet carries changed.
    `next_serial` is the serial of the next specimen number; it only grows. `judged_by` is the hash of the
    rulebook in force when every visit was last judged.
    """

    id = TextField(primary_key=True)
    made_at = TextField()
    revision = IntegerField(default=1)
    next_serial = IntegerField(default=1)
    judged_by = TextField(default="")


class Ward(Table):
    """A ward, by the name orders use for it (`5`)."""

    id = TextField(primary_key=True)
    name = TextField(unique=True)


class Person(Table):
    """Somebody who may sign in. `role` is a word of `people/roles.py`; `ward` is where a page opens first."""

    id = TextField(primary_key=True)
    sign_in = TextField(unique=True)
    name = TextField()
    role = TextField()
    ward = ForeignKeyField(Ward, null=True, backref="people", on_delete="SET NULL")
    password_hash = TextField()
    made_at = TextField()
    disabled_at = TextField(null=True)


class Session(Table):
    """One signed-in browser. Only the SHA-256 of the token is kept; the token itself is in the cookie
    alone.
    """

    id = AutoField()
    token_hash = TextField(unique=True)
    person = ForeignKeyField(Person, backref="sessions", on_delete="CASCADE")
    made_at = TextField()
    seen_at = TextField()
    ends_at = TextField()
    ended_at = TextField(null=True)
    ended_why = TextField(null=True)


class SignInFailure(Table):
    """Failed sign-ins counted for one account name or one network address; `key` is a SHA-256 of it."""

    key = TextField(primary_key=True)
    failures = IntegerField()
    last_at = TextField()
    wait_until = TextField()


class Tablet(Table):
    """One local store of a tablet, by the name it gave itself.

    `top_seq` is the highest number received; `skew_ms` is server minus tablet as the tablet last measured it.
    """

    id = TextField(primary_key=True)
    name = TextField(default="")
    first_seen_at = TextField()
    last_seen_at = TextField()
    person = ForeignKeyField(Person, null=True, on_delete="SET NULL")
    top_seq = IntegerField(default=0)
    skew_ms = IntegerField(null=True)
    revoked_at = TextField(null=True)


class Enrolment(Table):
    """A tablet that was enrolled in person: it signs what it sends, with a key that never leaves it.

    `public_key` is its P-256 point, uncompressed, base64. `carries_until` is the end of the round it last fetched, null
    once it was handed back; `unsent_then` is how many events it said it still held at that moment.
    """

    tablet = ForeignKeyField(Tablet, primary_key=True, index=False)
    public_key = TextField()
    enrolled_at = TextField()
    code_by = ForeignKeyField(Person, null=True)
    carries_until = TextField(null=True)
    handed_back_at = TextField(null=True)
    unsent_then = IntegerField(null=True)


class EnrolmentCode(Table):
    """A code on the house's screen that enrols a tablet. Only its SHA-256 is kept; `name` is what the tablet will be
    called.
    """

    code_hash = TextField(primary_key=True)
    name = TextField()
    made_at = TextField()
    ends_at = TextField()
    uses_left = IntegerField()
    made_by = ForeignKeyField(Person, null=True)


# --- what is to be drawn ------------------------------------------------------------------------------


class Patient(Table):
    """A patient as the orders describe them; the newest orders file says where they lie.

    restrictions: list of `{"side": "left", "why": "fistula"}`; permissions: list of `left`, `right`, `foot`.
    """

    id = TextField(primary_key=True)
    record_number = TextField(unique=True)
    family = TextField()
    given = TextField()
    birth_date = TextField()
    sex = TextField()
    ward = ForeignKeyField(Ward, backref="patients")
    room = TextField(default="")
    bed = TextField(default="")
    weight_kg = FloatField(null=True)
    height_m = FloatField(null=True)
    hematocrit_percent = FloatField(null=True)
    blood_thinner = BooleanField(null=True)
    latex_allergy = BooleanField(null=True)
    restrictions = JsonField(default=list)
    permissions = JsonField(default=list)
    isolation = TextField(null=True)
    language = TextField(null=True)

    @property
    def name(self) -> str:
        """`Family, Given`, as on labels and bands; somebody with one name has that name alone."""
        return ", ".join(part for part in (self.family, self.given) if part)


class PatientFacts(Table):
    """What the house knew of a patient from `at` on: written once, whenever it changes.

    `facts` has the keys of a case file. The row with an empty `at` is what was known before the first change.
    """

    id = AutoField()
    patient = ForeignKeyField(Patient, backref="facts_over_time")
    at = TextField()
    facts = JsonField()


class ImportBatch(Table):
    """One orders file taken in, known by the SHA-256 of its bytes: the same file twice changes nothing."""

    id = TextField(primary_key=True)
    file_hash = TextField(unique=True)
    file_name = TextField(default="")
    rows = IntegerField()
    taken_in_at = TextField()
    by = ForeignKeyField(Person, null=True, on_delete="SET NULL")


class Order(Table):
    """A clinician's request for one test on one patient. `number` is the sender's own name for it.

    Change it only through `records/order_changes.py` (cancel, hold, flag) and `records/orders.py` (taking
    in). What has become of it stands in `OrderNow`.
    """

    id = TextField(primary_key=True)
    number = TextField(unique=True)
    patient = ForeignKeyField(Patient, backref="orders")
    test = TextField(index=True)
    priority = TextField()
    due_from = TextField()
    due_to = TextField()
    note = TextField(default="")
    collect_by = TextField(default="phlebotomist")
    dose_at = TextField(null=True)
    infusion_end_at = TextField(null=True)
    specimen = TextField(null=True)
    batch = ForeignKeyField(ImportBatch, null=True, backref="orders")
    made_at = TextField()
    cancelled_at = TextField(null=True)
    cancelled_by = ForeignKeyField(Person, null=True, on_delete="SET NULL")
    cancel_reason = TextField(default="")
    held_at = TextField(null=True)
    held_by = ForeignKeyField(Person, null=True, on_delete="SET NULL")
    hold_reason = TextField(default="")
    flagged_at = TextField(null=True)
    flagged_by = ForeignKeyField(Person, null=True, on_delete="SET NULL")
    flag_note = TextField(default="")


class DirectoryVersion(Table):
    """The lab's test directory as loaded: `hash` is `sha256:…` of `text`. The latest `loaded_at` is in
    force.
    """

    hash = TextField(primary_key=True)
    text = TextField()
    loaded_at = TextField()
    by = ForeignKeyField(Person, null=True, on_delete="SET NULL")


class Rulebook(Table):
    """A published rulebook: immutable bytes, their hash, since when, signed by whom. The latest `since`
    rules.
    """

    hash = TextField(primary_key=True)
    text = TextField()
    since = TextField()
    published_at = TextField()
    signed_by = ForeignKeyField(Person, null=True, on_delete="SET NULL")
    note = TextField(default="")


class RulebookProposal(Table):
    """Limits somebody would change. `changes` is `{limit: value}`, `edition` the one in force when it was written."""

    id = AutoField()
    changes = JsonField()
    reason = TextField(default="")
    edition = IntegerField()
    by = ForeignKeyField(Person)
    at = TextField()


class RulebookSignature(Table):
    """What somebody said to a proposal: `act` is `signed` or `withdrawn`."""

    id = AutoField()
    proposal = ForeignKeyField(RulebookProposal, backref="signatures")
    act = TextField()
    by = ForeignKeyField(Person)
    at = TextField()


class RulebookEdition(Table):
    """A site's own edition: the proposal that made it, and the bytes it was published as. The highest number rules."""

    number = IntegerField(primary_key=True)
    rulebook = ForeignKeyField(Rulebook)
    proposal = ForeignKeyField(RulebookProposal)
    signed_by = ForeignKeyField(Person)
    second_by = ForeignKeyField(Person, null=True)
    reason = TextField(default="")
    published_at = TextField()


# --- what is carried out ------------------------------------------------------------------------------


class Round(Table):
    """The visits one person took out, of one ward, or of all (`ward` null). An open round has
    `closed_at` null; a person has at most one.
    """

    id = TextField(primary_key=True)
    name = TextField()
    person = ForeignKeyField(Person, backref="rounds")
    ward = ForeignKeyField(Ward, null=True)
    taken_at = TextField()
    closed_at = TextField(null=True)


class Visit(Table):
    """One stop at one patient's bed. `position` counts from 1 in walking order."""

    id = TextField(primary_key=True)
    round = ForeignKeyField(Round, null=True, backref="visits")
    patient = ForeignKeyField(Patient, backref="visits")
    position = IntegerField(default=1)
    needle = TextField(default="straight")
    max_draw_ml = FloatField(null=True)
    plan_findings = JsonField(default=list)
    made_at = TextField()


class Claim(Table):
    """The tablet that is at a bed, or was last: since `at`, and believed there until its lease is over."""

    visit = ForeignKeyField(Visit, primary_key=True, index=False)
    tablet = TextField()
    by = TextField(null=True)
    at = TextField()
    until = TextField()


class VisitOrder(Table):
    """An order a visit is for. After a visit that ended empty, the next visit carries the same
    order again.
    """

    id = AutoField()
    visit = ForeignKeyField(Visit, backref="visit_orders", on_delete="CASCADE")
    order = ForeignKeyField(Order, backref="visit_orders")

    class Meta:
        indexes = ((("visit", "order"), True),)


class Tube(Table):
    """A container of a visit's plan. One added at the bedside (`tube_added`) stands in `VisitNow.tubes`
    alone.

    A tube that a changed order made needless is `withdrawn_at`; its number is never used again.
    """

    id = TextField(primary_key=True)
    visit = ForeignKeyField(Visit, backref="tubes")
    kind = TextField()
    specimen = TextField(unique=True)
    nominal_ml = FloatField(null=True)
    draw_ml = FloatField(null=True)
    tests = JsonField(default=list)
    position = IntegerField(default=1)
    inversions = IntegerField(default=0)
    handling = JsonField(default=list)
    in_lab_by = TextField(null=True)
    withdrawn_at = TextField(null=True)


class Packet(Table):
    """A packet as it left: one `id` for a round's whole life, one row for each revision that was fetched.

    `hash` is the SHA-256 of the bytes handed out; `until` is when the tablet must stop opening new visits
    by it.
    """

    row = AutoField()
    id = TextField(index=True)
    round = ForeignKeyField(Round, backref="packets")
    person = ForeignKeyField(Person)
    revision = IntegerField()
    made_at = TextField()
    until = TextField()
    hash = TextField()


class SpecimenNumber(Table):
    """A specimen number handed out: ten digits, the last a GS1 check digit. Never handed out again.

    `packet` is the packet it went into; a spare is kept for one `holder` (a tablet, or a session without
    one).
    """

    number = TextField(primary_key=True)
    serial = IntegerField(unique=True)
    packet = TextField(index=True)
    spare = BooleanField(default=False)
    holder = TextField(null=True)
    handed_out_at = TextField()


# --- what happened ------------------------------------------------------------------------------------


class Event(Table):
    """Something that happened at the bedside, exactly as the tablet sent it. Never changed, never deleted.

    `body` is the text as sent (for `sealed` ones the base64 text) and `hash` is `sha256:…` of these
    bytes. `status` is the first answer: `stored` or `set-aside`. `visit`, `kind`, `at`, `by`
    repeat what the body says so that queries need not read it; they are null where the body could not be
    read.
    """

    id = TextField(primary_key=True)
    tablet = TextField()
    seq = IntegerField(null=True)
    body = TextField()
    sealed = BooleanField(default=False)
    hash = TextField()
    received_at = TextField()
    received_from = ForeignKeyField(Person, null=True)
    status = TextField()
    visit = TextField(null=True, index=True)
    kind = TextField(null=True)
    at = TextField(null=True)
    by = TextField(null=True)

    class Meta:
        indexes = ((("tablet", "seq"), False),)


# A number of a tablet counts once. Events that could not be read stay outside: they claim nothing.
Event.add_index(
    Event.index(Event.tablet, Event.seq, unique=True, where=SQL("status = 'stored'"), name="event_number_counts_once")
)


class Answer(Table):
    """The first answer given to an event; the same event sent again gets it again, as `known`."""

    event = ForeignKeyField(Event, primary_key=True)
    status = TextField()
    findings = JsonField(default=list)
    answered_at = TextField()


class OpenedBody(Table):
    """What an event said that came sealed: the text that was sealed. `Event.body` stays as it was sent."""

    event = ForeignKeyField(Event, primary_key=True, index=False)
    body = TextField()


class SetAside(Table):
    """An event kept but not counted, until a person settles it or it finds its place.

    `reason` is a code of `sync/placing.py`, `says` the sentence for people. `body` is filled only where the
    event table does not hold these bytes (`id-reused`, or an item that was no event at all). `placed_at`:
    it found its place by itself when what it spoke of arrived. `settled_at`: a person dealt with it.
    """

    id = AutoField()
    event = TextField(null=True, index=True)
    tablet = TextField(null=True)
    seq = IntegerField(null=True)
    hash = TextField()
    body = TextField(null=True)
    reason = TextField()
    says = TextField()
    visit = TextField(null=True)
    received_at = TextField()
    placed_at = TextField(null=True)
    settled_at = TextField(null=True)
    settled_by = ForeignKeyField(Person, null=True, on_delete="SET NULL")
    settled_note = TextField(default="")

    class Meta:
        indexes = ((("event", "hash"), True),)


class ReportedVerdict(Table):
    """What a tablet itself found about a visit, and whether the server found otherwise on the same events.

    `said` and `judged` are sorted lists of `[code, severity, event]`.
    """

    id = AutoField()
    tablet = TextField()
    visit = ForeignKeyField(Visit)
    received_at = TextField()
    said = JsonField()
    judged = JsonField()
    differs = BooleanField()


# --- projections: rebuilt, never edited ---------------------------------------------------------------


class VisitNow(Table):
    """A visit as its events tell it. A visit without events has no row.

    `worst` is the most serious severity among its findings, or null. `tubes` lists each container as
    `{"tube", "kind", "specimen", "filled_at", "volume_ml", "read_back", "bagged", "discarded"}`.
    `rulebook` is the hash of the book it was judged by, `rulebook_held` of the one the tablet had.
    """

    visit = ForeignKeyField(Visit, primary_key=True)
    stage = TextField()
    arrived_at = TextField(null=True)
    last_at = TextField()
    ended_at = TextField(null=True)
    outcome = TextField(null=True)
    reason = TextField(default="")
    told = JsonField(null=True)
    by = TextField(null=True)
    needles = IntegerField(default=0)
    tourniquet_longest_s = FloatField(null=True)
    pressure_s = FloatField(null=True)
    volume_ml = FloatField(default=0.0)
    may_end = BooleanField(default=False)
    worst = TextField(null=True)
    events = IntegerField()
    tubes = JsonField(default=list)
    rulebook = TextField()
    rulebook_held = TextField(null=True)


class OrderNow(Table):
    """What has become of an order.

    `state`: `pending` (nobody has it), `out` (on a round, not begun), `underway`, `collected`,
    `not_collected` (the visit ended without it: see `outcome`), `held`, `cancelled`. `may_go_out` says
    whether the next round takes it along. `by` is the person whose round or visit it is; `at` the time of
    the latest change.
    """

    order = ForeignKeyField(Order, primary_key=True)
    state = TextField(index=True)
    may_go_out = BooleanField()
    visit = ForeignKeyField(Visit, null=True)
    by = TextField(null=True)
    at = TextField(null=True)
    outcome = TextField(null=True)
    reason = TextField(default="")
    told = JsonField(null=True)
    tube = TextField(null=True)
    specimen = TextField(null=True)
    collected_at = TextField(null=True)
    due_from = TextField(null=True)
    due_to = TextField(null=True)
    only_for = TextField(null=True)


class FindingNow(Table):
    """A finding that stands now. `found_by`: `judge` (the rules) or `meeting` (found when events met the
    server).

    `tablet` names the tablet whose clock is off (`clock-off`).
    """

    id = AutoField()
    visit = ForeignKeyField(Visit, backref="findings_now")
    tablet = TextField(null=True)
    code = TextField(index=True)
    severity = TextField()
    says = TextField()
    do_next = TextField()
    source = TextField()
    event = TextField(null=True)
    found_by = TextField()
    at = TextField(null=True)


class ClockOff(Table):
    """A tablet whose clock parted from the server's, met in a visit: the first such event of that visit.

    Only the tablet's very first, by number, becomes a finding: once a tablet is enough.
    """

    id = AutoField()
    visit = ForeignKeyField(Visit)
    tablet = TextField(index=True)
    seq = IntegerField()
    event = TextField()
    at = TextField()


class Incident(Table):
    """Something that hurt or nearly hurt someone. Opened by an event, or by itself (`by_itself`) when blood
    was drawn with identity unsettled.

    `complete` says whether time, a step, who was told and a note are all there. Whether it is closed stands
    in `IncidentReview`: the latest review of kind `closed` or `reopened` decides. `strikes` lists what a correction
    took back later, as `{"what", "event", "correction", "by", "at", "reason", "note"}` (`what`: `opening`, `note` or
    `identity`); `struck` says that nothing of the incident stands any more. It stays in the register all the same.
    """

    id = TextField(primary_key=True)
    visit = ForeignKeyField(Visit, backref="incidents")
    kind = TextField()
    severity = TextField(default="unknown")
    happened_at = TextField()
    opened_event = TextField(null=True)
    noted_event = TextField(null=True)
    by = TextField(null=True)
    steps = JsonField(default=list)
    told = JsonField(null=True)
    note = TextField(default="")
    complete = BooleanField(default=False)
    by_itself = BooleanField(default=False)
    strikes = JsonField(default=list)
    struck = BooleanField(default=False)


class IncidentReview(Table):
    """What the safety officer did about an incident: `note`, `action`, `closed` or `reopened`, with a text.

    `incident` is plain text, not a foreign key, because projections are rebuilt and reviews are facts.
    """

    id = AutoField()
    incident = TextField(index=True)
    kind = TextField()
    text = TextField()
    by = ForeignKeyField(Person)
    at = TextField()


class FindingReview(Table):
    """What a person said to a finding that waited for one. The latest row of a visit, code and event counts.

    `decision` is a word of `records/finding_reviews.py`, empty where the code asks for none. Not tied to the
    finding's row, because projections are rebuilt and reviews are facts.
    """

    id = AutoField()
    visit = ForeignKeyField(Visit)
    code = TextField()
    event = TextField(null=True)
    decision = TextField(default="")
    note = TextField(default="")
    by = ForeignKeyField(Person)
    at = TextField()


class IdentityDecision(Table):
    """What became of blood drawn while identity was not settled: `kept` or `discarded`, decided by a named person.

    `tubes` are the containers it was decided about; `who` is the licensed person who decided, `by` who wrote it down.
    One row for a visit's open questions together; blood once discarded stays discarded.
    """

    id = AutoField()
    visit = ForeignKeyField(Visit)
    decision = TextField()
    tubes = JsonField(default=list)
    who = TextField(default="")
    note = TextField()
    by = ForeignKeyField(Person)
    at = TextField()


class SentAgain(Table):
    """An order sent out again by a person after a visit that ended without it. The latest row counts.

    `only_for` names the one person whose round takes it; null: whoever goes next.
    """

    id = AutoField()
    order = ForeignKeyField(Order, backref="sent_again")
    visit = ForeignKeyField(Visit)
    due_from = TextField()
    due_to = TextField()
    only_for = ForeignKeyField(Person, null=True)
    reason = TextField(default="")
    by = ForeignKeyField(Person)
    at = TextField()


class TabletUse(Table):
    """A tablet taken out of use (`revoked`) or put back (`restored`), by whom and why; `by` null: the command line."""

    id = AutoField()
    tablet = ForeignKeyField(Tablet, backref="uses")
    act = TextField()
    reason = TextField(default="")
    by = ForeignKeyField(Person, null=True)
    at = TextField()


# --- the house's own record ---------------------------------------------------------------------------


class Audit(Table):
    """Who did what, chained by hash; ids only, never a patient's data. Written by
    `records/audit.py` alone.
    """

    seq = IntegerField(primary_key=True)
    at = TextField()
    who = TextField()
    action = TextField()
    object = TextField()
    result = TextField()
    previous = TextField()
    hash = TextField()


class Migration(Table):
    """A step of the schema that was taken, by number."""

    number = IntegerField(primary_key=True)
    name = TextField()
    taken_at = TextField()


TABLES: tuple[type[Table], ...] = (
    House,
    Ward,
    Person,
    Session,
    SignInFailure,
    Tablet,
    Enrolment,
    EnrolmentCode,
    Patient,
    PatientFacts,
    ImportBatch,
    Order,
    DirectoryVersion,
    Rulebook,
    RulebookProposal,
    RulebookSignature,
    RulebookEdition,
    Round,
    Visit,
    Claim,
    VisitOrder,
    Tube,
    Packet,
    SpecimenNumber,
    Event,
    OpenedBody,
    Answer,
    SetAside,
    ReportedVerdict,
    VisitNow,
    OrderNow,
    FindingNow,
    ClockOff,
    Incident,
    IncidentReview,
    FindingReview,
    IdentityDecision,
    SentAgain,
    TabletUse,
    Audit,
    Migration,
)
"""In an order in which each can be created: a table stands after those it points to."""

WRITTEN_ONCE: tuple[type[Table], ...] = (
    Event,
    Audit,
    Rulebook,
    RulebookProposal,
    RulebookSignature,
    RulebookEdition,
    PatientFacts,
    FindingReview,
    IdentityDecision,
    SentAgain,
    TabletUse,
    OpenedBody,
)
"""SQLite triggers refuse UPDATE and DELETE on these."""
