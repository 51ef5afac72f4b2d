"""The label laid out: identifiers first and whole, the bar code readable whatever stands around it."""

from __future__ import annotations

import dataclasses
from datetime import date
from itertools import combinations
from pathlib import Path

import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st

from bedside.labels import letters
from bedside.labels.content import LabelContent, capitals
from bedside.labels.layout import HEIGHT_MM, WIDTH_MM, DoesNotFit, Label, Text, lay_out
from tests.labels.raster import picture_of_label

GOLDEN = Path(__file__).parent / "golden" / "labels.txt"

KAARINA = LabelContent(
    name="Ojala, Kaarina",
    record_number="40031977",
    birth_date=date(1951, 3, 9),
    specimen="1000000014",
    tube="Gel serum",
    tests=("BMP", "Mg"),
)

# Invented people; each name is here for its script, its length or its marks.
NAMES = {
    "short Latin": "Ek, Bo",
    "two families": "Teixeira-Vasconcelos, Maria da Conceição",
    "longer than a label": "Wolfeschlegelsteinhausen-Bergerdorff, Hubert Blaine Maximilian Constantin",
    "family alone fills it": "Ramanathapuramvenkatasubramanianrajagopalanchidambaram, Anjali",
    "stacked marks": "Nguyễn, Thị Hồng Phượng",
    "sharp s": "Weiß-Großkopf, Jürgen",
    "Greek": "Παπαδημητρακοπούλου, Ευαγγελία",
    "Cyrillic": "Щербакова-Жуковская, Александра Вячеславовна",
    "Arabic": "المنصوري, عبد الرحمن",
    "Hebrew": "אברמוביץ, שושנה",
    "Devanagari": "भारद्वाज, क्षितिजा",
    "Tamil": "ஸ்ரீனிவாசன், மீனாட்சி சுந்தரேஸ்வரி",
    "Thai": "ศรีสุวรรณกุล, ณัฐฐาพัชร์",
    "Georgian": "ჩხეიძე, ქეთევან",
    "Amharic": "ገብረማርያም, ወለተ ጊዮርጊስ",
    "Chinese": "歐陽, 麗華",
    "Korean": "남궁, 은지",
    "Japanese": "勅使河原, 小百合",
}


def written_out(label: Label) -> str:
    """A label as lines a person can review: place, size, weight, words."""
    lines = [f"{t.x:5.1f} {t.y:5.1f} {t.size:4.1f} {'bold' if t.bold else '    '} {t.text}" for t in label.texts]
    bars = f"{label.bars.x:5.1f} {label.bars.y:5.1f} bars {label.bars.height:.1f} high {label.bars.modules}"
    blanks = [f"{b.x:5.1f} {b.y:5.1f} {b.size:4.1f} blank {b.room:.1f} wide" for b in (label.time, label.collector)]
    return "\n".join([*lines, bars, *blanks, f"name cut: {'yes' if label.name_cut else 'no'}"])


def with_name(name: str) -> Label:
    return lay_out(dataclasses.replace(KAARINA, name=name))


def shown(label: Label) -> set[str]:
    return {text.text for text in label.texts}


def test_labels_in_many_scripts_look_as_they_were_reviewed():
    parts = [f"== {why}: {name}\n{written_out(with_name(name))}\n" for why, name in NAMES.items()]
    spare = f"== spare\n{written_out(lay_out(LabelContent.spare('0000000017')))}\n"

    assert "\n".join([*parts, spare]) == GOLDEN.read_text(encoding="utf-8")


def test_a_label_carries_the_required_items():
    # LB-01: CLSI AUTO12-A, four items read in a copy, the collector from memory
    label = lay_out(KAARINA)

    assert shown(label) >= {"OJALA, Kaarina", "40031977", "1951-03-09", "1000000014", "Gel serum", "BMP, Mg"}
    assert label.time.room > 0
    assert label.collector.room > 0


def test_the_name_stands_top_left():
    # LB-02: CLSI AUTO12-A
    label = lay_out(KAARINA)
    name = next(text for text in label.texts if "OJALA" in text.text)

    assert name.x == min(text.x for text in label.texts)
    assert name.y == min(text.y for text in label.texts)
    assert (WIDTH_MM, HEIGHT_MM) == (50.8, 25.4)


def test_time_and_collector_are_left_open_for_the_bedside():
    # LB-04: from memory
    fill_in = lay_out(KAARINA).as_json()["fill_in"]

    assert set(fill_in) == {"time", "collector"}
    assert all(set(blank) == {"x", "y", "size", "room"} for blank in fill_in.values())


def test_a_packet_gets_the_agreed_keys():
    told = lay_out(KAARINA).as_json()

    assert set(told) == {"width_mm", "height_mm", "texts", "bars", "fill_in", "name_cut"}
    assert set(told["bars"]) == {"x", "y", "height", "module", "modules"}
    assert all({"x", "y", "size", "bold", "text"} <= set(text) for text in told["texts"])
    assert not any("from" in text for text in told["texts"])


def test_a_spare_label_says_what_the_tablet_fills_in():
    told = lay_out(LabelContent.spare("0000000017")).as_json()
    filled_in = {text["from"]: text["text"] for text in told["texts"] if "from" in text}

    assert filled_in == {"name": "", "record": "", "birth_date": "", "tube": ""}
    assert "0000000017" in {text["text"] for text in told["texts"]}


def name_lines(label: Label) -> list[tuple[str, float]]:
    return [(text.text, text.size) for text in label.texts if text.y < 8]


def test_a_longer_name_is_made_smaller_first():
    assert name_lines(with_name("Nguyễn, Thị Hồng Phượng")) == [("NGUYỄN, Thị Hồng Phượng", 3.0)]


def test_a_long_name_takes_two_lines_before_anything_is_cut():
    label = with_name(NAMES["two families"])

    assert [line for line, _ in name_lines(label)] == ["TEIXEIRA-VASCONCELOS,", "Maria da Conceição"]
    assert not label.name_cut


def test_a_name_that_still_does_not_fit_ends_in_dots_and_says_so():
    label = with_name(NAMES["longer than a label"])
    (family, _), (given, _) = name_lines(label)

    assert family.startswith("WOLFESCHLEGELSTEINHAUSEN")
    assert given.startswith("Hubert Blaine")
    assert family.endswith("…")
    assert label.name_cut


def test_a_family_name_that_fills_its_line_leaves_the_given_name_whole():
    twins = [with_name(f"{NAMES['family alone fills it'].split(',')[0]}, {given}") for given in ("Anjali", "Ravi")]

    assert [name_lines(label)[1][0] for label in twins] == ["Anjali", "Ravi"]


def test_a_person_with_one_long_name_has_one_line():
    assert len(name_lines(with_name("Ramanathapuramvenkatasubramanian-Chidambaram"))) == 1


def test_a_record_number_is_never_shortened():
    long_number = "WWWWWWWWWWMMMMMMMMMM"

    assert long_number in shown(lay_out(dataclasses.replace(KAARINA, record_number=long_number)))


def test_a_record_number_that_cannot_fit_gets_no_label_at_all():
    with pytest.raises(DoesNotFit, match="may not shorten"):
        lay_out(dataclasses.replace(KAARINA, record_number="W" * 40))


@pytest.mark.parametrize("specimen", ["", "1000000015", "100000001", "not a number"])
def test_a_wrong_specimen_number_gets_no_label(specimen):
    with pytest.raises(ValueError, match="specimen number"):
        lay_out(dataclasses.replace(KAARINA, specimen=specimen))


@pytest.mark.parametrize(
    ("name", "language", "written"),
    [
        ("Öztürk-Yıldırım", "tr", "ÖZTÜRK-YILDIRIM"),
        ("Şimşek", "tr", "ŞİMŞEK"),
        ("Şimşek", "", "ŞIMŞEK"),
        ("Weiß", "de", "WEIß"),
        ("Παπαδόπουλος", "el", "ΠΑΠΑΔΌΠΟΥΛΟΣ"),
        ("ჩხეიძე", "ka", "ჩხეიძე"),
        ("ÿ", "fr", "Ÿ"),
        ("ﬁ", "", "ﬁ"),
    ],
)
def test_capitals_keep_every_letter_a_letter(name, language, written):
    assert capitals(name, language) == written


@pytest.mark.parametrize("name", list(NAMES.values()), ids=list(NAMES))
@pytest.mark.parametrize("dots_per_mm", [8.0, 11.8], ids=["203 dpi", "300 dpi"])
def test_the_bars_are_read_with_everything_around_them_black(name, dots_per_mm):
    picture = picture_of_label(with_name(name), dots_per_mm)
    found = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.Code128)

    assert [bars.text for bars in found] == ["1000000014"]


def box(text: Text) -> tuple[float, float, float, float]:
    return (text.x, text.y - 0.8 * text.size, text.x + text.room, text.y + 0.22 * text.size)


def overlap(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


@given(
    name=st.text(min_size=1, max_size=80).filter(str.strip),
    record_number=st.from_regex(r"[0-9A-Z][0-9A-Z./-]{0,19}", fullmatch=True).filter(str.isascii),
    tests=st.lists(st.text(min_size=1, max_size=20), max_size=8),
)
def test_whatever_the_words_nothing_leaves_the_label_or_lies_on_another(name, record_number, tests):
    label = lay_out(dataclasses.replace(KAARINA, name=name, record_number=record_number, tests=tuple(tests)))
    bars = label.bars
    bar_code = (bars.x - 2.5, bars.y, bars.x + len(bars.modules) * bars.module + 2.5, bars.y + bars.height)
    boxes = [*(box(text) for text in label.texts), bar_code]

    assert all(letters.width_mm(text.text, text.size) <= text.room + 1e-9 for text in label.texts)
    assert all(x >= 1.9 and y >= 0 and right <= 48.9 and bottom <= 25.4 for x, y, right, bottom in boxes)
    assert not any(overlap(a, b) for a, b in combinations(boxes, 2))


@given(text=st.text(max_size=60), room=st.floats(min_value=4, max_value=40))
def test_a_shortened_text_fits_and_is_a_beginning(text, room):
    short = letters.shorten(text, room, 2.0)

    assert letters.width_mm(short, 2.0) <= room
    assert short == text or (short.endswith("…") and text.startswith(short[:-1]))


def test_a_cut_never_parts_a_letter_from_its_marks():
    assert letters.clusters("phượ") == ["p", "h", "ư", "ợ"]
    assert letters.clusters("क्षि") == ["क्", "षि"]
