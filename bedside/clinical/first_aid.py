"""What to do first when something goes wrong, before anything is written down. Practice section 8c."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class FirstAid:
    """The steps for one kind of incident, in order, and where they come from.

    A step may name a limit in braces: the book puts its number in (`Rulebook.filled`).
    """

    kind: str
    title: str
    steps: tuple[str, ...]
    source: str


_ROWS: tuple[FirstAid, ...] = (
    FirstAid(
        "faint",
        "Fainting",
        (
            "Tourniquet off, needle out, gauze and pressure.",
            "Call for help. Stay with the patient.",
            "Lay the patient flat and raise the legs.",
            "Watch breathing. Nothing to smell, nothing to drink.",
            "Stay for at least {faint_watch_min} minutes after they have come round.",
        ),
        "training pages of CLSI content, secondary source; 15 min and no inhalants: CLSI GP41-A7, from memory",
    ),
    FirstAid(
        "haematoma",
        "A swelling at the site",
        (
            "Tourniquet off, needle out, at once.",
            "Press firmly, arm straight.",
            "When it has stopped: something cold on it.",
            "Use another site. Tell the nurse.",
        ),
        "CLSI and training pages, secondary source; order of steps from memory",
    ),
    FirstAid(
        "nerve_pain",
        "Shooting pain, tingling or numbness",
        (
            "Needle out, at once. Do not redirect it.",
            "Tourniquet off, press.",
            "No second try at this site.",
            "Tell the nurse. Ask again about pain before leaving.",
        ),
        "CLSI GP41-A7 4.2, secondary source",
    ),
    FirstAid(
        "arterial",
        "Bright red, pulsing: an artery",
        (
            "Tourniquet off, needle out.",
            "Press hard yourself for at least {pressure_thinner_min} minutes. Do not let the patient do it.",
            "Call the nurse.",
            "Tubes already filled: tell the lab that the blood may be arterial.",
        ),
        "CLSI GP41-A7 2017, secondary source; labelling from memory",
    ),
    FirstAid(
        "long_bleeding",
        "Prolonged bleeding",
        (
            "Press firmly, arm straight, raised.",
            "Call the nurse when it has not stopped after {bleeding_tell_min} minutes.",
            "Do not tape until it is dry.",
        ),
        "CLSI H3-A6, from memory",
    ),
    FirstAid(
        "needlestick",
        "Needlestick",
        (
            "Make the needle safe. Tourniquet off the patient, press.",
            "Wash the wound with soap and water now.",
            "Report at once: treatment after exposure is decided within hours.",
            "Note the patient, for source testing. Write it down later.",
        ),
        "CDC/USPHS 2013 and OSHA 1910.1030(f), from memory; local policy comes first",
    ),
    FirstAid(
        "splash",
        "Blood in eye or mouth, or on broken skin",
        (
            "Rinse with plenty of water now.",
            "Make the needle safe. Tourniquet off the patient, press.",
            "Report at once: treatment after exposure is decided within hours.",
        ),
        "CDC/USPHS 2013, from memory; local policy comes first",
    ),
    FirstAid(
        "fall",
        "The patient has fallen",
        (
            "Do not lift. Tourniquet off, needle out, press.",
            "Call for help.",
            "Stay. Ask where it hurts. Nothing is moved before the nurse has looked.",
        ),
        "common practice, no source",
    ),
    FirstAid(
        "vomiting",
        "Vomiting or nausea",
        (
            "Tourniquet off, needle out, press.",
            "Turn the head to the side, give a bowl.",
            "Call the nurse. Slow, deep breaths.",
        ),
        "CLSI GP41-A7 4.8 and 4.9 (headings), steps from memory",
    ),
    FirstAid(
        "seizure",
        "A seizure",
        (
            "Needle out, tourniquet off. Press if you safely can.",
            "Call for help.",
            "Keep things away from the patient. Do not hold them down. Nothing into the mouth.",
        ),
        "CLSI GP41-A7 4.10, from memory",
    ),
    FirstAid(
        "allergic",
        "Rash, swelling or trouble breathing",
        (
            "Call for help now.",
            "Needle out, tourniquet off, press.",
            "Take away what may have caused it: latex, antiseptic, plaster.",
        ),
        "common practice, no source",
    ),
    FirstAid(
        "mislabel_caught",
        "A wrong label, found in time",
        (
            "Stop. Nothing leaves the bedside.",
            "Do not relabel a tube whose origin is in doubt: discard it and draw again.",
            "Destroy the wrong label. Check the tubes of the patient before.",
        ),
        "Wagar 2008; no relabelling: from memory",
    ),
    FirstAid(
        "wrong_patient",
        "The wrong patient was drawn",
        (
            "Stop. Release, needle out, press.",
            "Discard every tube of this draw. Label none.",
            "Tell the nurse now: tests for this blood must not run.",
            "Tell the patient what happened.",
        ),
        "common practice, no source; local policy comes first",
    ),
    FirstAid(
        "other",
        "Something else",
        ("Tourniquet off, needle out, press.", "Call the nurse.", "Stay with the patient."),
        "common practice, no source",
    ),
)

FIRST_AID: dict[str, FirstAid] = {row.kind: row for row in _ROWS}
