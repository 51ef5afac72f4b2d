"""What the bar code on the band carries: two identifiers, in one plain text."""

from __future__ import annotations

from datetime import date

import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st

from bedside.labels import barcode
from bedside.labels.band import Band, NotABand, band_text, read_band
from tests.labels.raster import picture_of_bars


def test_a_band_carries_record_number_and_birth_date():
    assert band_text("40031977", date(1951, 3, 9)) == "40031977|1951-03-09"


def test_a_scanned_band_gives_two_identifiers():
    # ID-03: Joint Commission FAQ "Two patient identifiers"
    band = read_band("40031977|1951-03-09\r\n")

    assert band == Band(record_number="40031977", birth_date=date(1951, 3, 9))
    assert band.identifiers == 2


def test_a_band_with_the_record_number_alone_is_one_identifier():
    # ID-03, W05
    assert read_band("40031977").identifiers == 1


@pytest.mark.parametrize(
    "text",
    [
        "",
        "|1951-03-09",
        "40031977|",
        "40031977|1951-3-9",
        "40031977|1951-02-30",
        "40031977|1951-03-09|x",
        "4003 1977|1951-03-09",
        "٤٠٠٣١٩٧٧|1951-03-09",
        "9" * 21,
        "https://example.org/40031977",
        "1000000014",
    ],
)
def test_anything_else_is_no_band(text):
    with pytest.raises(NotABand):
        read_band(text)


@pytest.mark.parametrize("record_number", ["", "4|5", "4 5", "Ø1", "9" * 21])
def test_a_record_number_that_would_be_misread_gets_no_band(record_number):
    with pytest.raises(NotABand):
        band_text(record_number, date(1951, 3, 9))


@given(
    record_number=st.from_regex(r"[0-9A-Za-z][0-9A-Za-z./-]{0,19}", fullmatch=True).filter(str.isascii),
    birth_date=st.dates(min_value=date(1900, 1, 1)),
)
def test_what_is_written_on_a_band_is_read_from_its_bars(record_number, birth_date):
    bars = barcode.modules(band_text(record_number, birth_date))
    (found,) = zxingcpp.read_barcodes(picture_of_bars(bars, 0.25, 8.0), formats=zxingcpp.BarcodeFormat.Code128)

    assert read_band(found.text) == Band(record_number=record_number, birth_date=birth_date)
