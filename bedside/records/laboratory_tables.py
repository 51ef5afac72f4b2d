"""Tables of what the plan and the laboratory add: blood allowed above a limit, series, refused specimens, stock, and
which test directory is in force. All of them are facts, written once.
"""

from __future__ import annotations

from peewee import AutoField, FloatField, ForeignKeyField, IntegerField, TextField

from bedside.records.tables import DirectoryVersion, Order, Patient, Person, Table, Visit


class VolumeAllowed(Table):
    """A draw above a patient's limit that somebody allowed: up to `ml` from `at` on, for one shift.

    `allowed_by` is who decided (name and role, as told), `by` the person who wrote it down.
    """

    id = AutoField()
    patient = ForeignKeyField(Patient, backref="volumes_allowed")
    ml = FloatField()
    allowed_by = TextField()
    reason = TextField()
    by = ForeignKeyField(Person)
    at = TextField()


class OrderSeries(Table):
    """When a specimen of a series is wanted: so many minutes after another order's draw, or after a moment.

    `after_order` is the number of the first order of the series, `after_at` the start of a glucose load.
    """

    order = ForeignKeyField(Order, primary_key=True, index=False)
    after_order = TextField(default="")
    after_at = TextField(null=True)
    after_min = IntegerField()


class SpecimenRefused(Table):
    """A container the laboratory refused, one row for each of its orders. `reason` is a code of HL7 table 0490.

    `again` is the order made to collect it once more; null: nobody wants it again. `said_by`: who at the laboratory.
    """

    id = AutoField()
    order = ForeignKeyField(Order, backref="refusals")
    again = ForeignKeyField(Order, null=True, backref="recollects")
    visit = ForeignKeyField(Visit)
    tube = TextField(index=True)
    specimen = TextField()
    reason = TextField()
    note = TextField(default="")
    said_by = TextField()
    by = ForeignKeyField(Person)
    at = TextField()


class StockCount(Table):
    """How many of an item of the round's supplies were counted in the store. The latest row of an item counts."""

    id = AutoField()
    item = TextField(index=True)
    count = IntegerField()
    by = ForeignKeyField(Person)
    at = TextField()


class DirectorySigned(Table):
    """A version of the test directory put in force by somebody. The latest row rules; `by` null: the command line."""

    id = AutoField()
    directory = ForeignKeyField(DirectoryVersion)
    signer = TextField()
    note = TextField(default="")
    by = ForeignKeyField(Person, null=True)
    at = TextField()


LABORATORY_TABLES: tuple[type[Table], ...] = (VolumeAllowed, OrderSeries, SpecimenRefused, StockCount, DirectorySigned)
"""In an order in which each can be created, after those of `tables.py`. All are written once."""
