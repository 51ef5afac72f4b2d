"""What each finding says and what to do next, in the ward's words. `{limit}` names are filled in from the rulebook's limits."""

from __future__ import annotations

from dataclasses import dataclass

from bedside.clinical.findings import Severity


@dataclass(frozen=True, slots=True)
class Wording:
    """What is said, and what to do next."""

    says: str
    do_next: str


@dataclass(frozen=True, slots=True)
class FindingKind:
    """One code of the rulebook, its source, and its wording at each severity it can have.

    afterwards: what a desk reads once the visit is past, when nothing at the bedside can be done any more; None where
    the wording is for a desk already.
    """

    code: str
    source: str
    wording: dict[Severity, Wording]
    afterwards: Wording | None = None

    def at(self, severity: Severity) -> Wording:
        """The wording at this severity; a finding weakened by `went_ahead` keeps the words of the strongest."""
        return self.wording.get(severity) or next(iter(self.wording.values()))


def _kind(code: str, source: str, **wording: tuple[str, str]) -> FindingKind:
    afterwards = _AFTERWARDS.get(code)
    return FindingKind(
        code,
        source,
        {Severity(name): Wording(*texts) for name, texts in wording.items()},
        Wording(*afterwards) if afterwards else None,
    )


_TWO_IDENTIFIERS = "Joint Commission NPSG.01.01.01 EP 1 (NPG Goal 1 from 2026)"
_GP33 = "CLSI GP33-Ed2 2019 and GP41-A7 2017, secondary source"
_GP41 = "CLSI GP41-A7 2017, secondary source"
_APP = "the app's own rule"
_COMMON = "common practice, no source"

_WHOSE_BLOOD = (
    "Find out with the patient's nurse who this is. Blood that was drawn counts for no order until a licensed person"
    " decides: discard it and draw again, or keep it."
)
_ASK_ARM = "Have somebody look at the arm today, and tell the patient's nurse."
_TELL_LAB = "Tell the laboratory before it reports, and ask whether the result can be used."

# What a desk reads afterwards, source as above: what there is to do now, with the blood, the patient or the record.
_AFTERWARDS: dict[str, tuple[str, str]] = {
    "identity-missing": ("A needle, tube or label came before anybody had asked who the patient is.", _WHOSE_BLOOD),
    "identity-too-few": ("A needle, tube or label came before identity was settled by two identifiers.", _WHOSE_BLOOD),
    "identity-mismatch": ("What was said or read at the bedside is not what the order says.", _WHOSE_BLOOD),
    "band-missing": (
        "The patient had no band on the body.",
        "See that the patient is identified and wears a band before anybody draws again.",
    ),
    "consent-missing": (
        "A needle went in without the patient's agreement on record.",
        "Ask who drew and the patient what was said, and write it down. Without agreement it is an incident.",
    ),
    "site-restricted": ("A closed limb was used or chosen, and there is no written permission.", _ASK_ARM),
    "tourniquet-too-long": ("The tourniquet was on for more than {tourniquet_max_s} s.", _TELL_LAB),
    "tourniquet-rest-short": (
        "A tourniquet went on again before the arm had rested for {tourniquet_rest_s} s.",
        _TELL_LAB,
    ),
    "tourniquet-left-on": ("The needle came out with the tourniquet still on.", _ASK_ARM),
    "attempts-used-up": (
        "The same person tried more than {attempts_max} times.",
        "Look at the arms. If blood is still wanted, somebody else goes.",
    ),
    "skin-not-clean": (
        "The needle went through skin that was not cleaned, or was touched after cleaning.",
        "Watch the site for infection. A blood culture from it may be contaminated: tell the laboratory.",
    ),
    "skin-not-dry": (
        "The needle went in before the skin had dried.",
        "Nothing more to do here. A blood culture may be contaminated: tell the laboratory.",
    ),
    "antiseptic-wrong": ("The antiseptic did not suit what was drawn.", _TELL_LAB),
    "discard-missing": ("No discard tube was drawn before the citrate tube.", _TELL_LAB),
    "tube-out-of-order": ("A container was filled out of the order of draw.", _TELL_LAB),
    "tube-short-fill": (
        "The citrate tube holds less than {citrate_fill_min_percent} % of what it should.",
        "Ask the laboratory whether it takes the tube; else order the draw again.",
    ),
    "citrate-hematocrit": (
        "A normal citrate tube was planned with a haematocrit above {hematocrit_max_percent} %.",
        _TELL_LAB,
    ),
    "tube-not-mixed": ("A tube left the bedside turned over fewer times than it needs.", _TELL_LAB),
    "volume-over-limit": (
        "More blood was drawn than the limit for this patient.",
        "Tell the physician today. Count it before anything else is drawn.",
    ),
    "needle-unguarded": (
        "A needle came out without its guard.",
        "Ask who drew where the needle is now, and whether anybody was stuck.",
    ),
    "label-too-early": (
        "A label was on a tube before the blood.",
        "Compare the tube's label with the order once more before the laboratory reports.",
    ),
    "label-mismatch": (
        "A label that does not belong to the tube was the last one read on it.",
        "Hold the tube. Find out whose label it is and where the right one went; if in doubt, discard it and draw again.",
    ),
    "label-missing": (
        "A filled tube left without a label that was read back.",
        "Hold the tube. One that nobody labelled in front of the patient is discarded, and drawn again.",
    ),
    "label-not-compared": (
        "The labels were not compared with the band at the end.",
        "A blood group or crossmatch tube is not used: draw again. Ask the laboratory about the others.",
    ),
    "pressure-short": ("The site was pressed for too short a time.", _ASK_ARM),
    "bleeding-not-checked": ("Nobody had watched the uncovered site when the visit ended.", _ASK_ARM),
    "still-bleeding": (
        "The site was still bleeding at the last look.",
        "Have somebody look at the arm now, and tell the patient's nurse.",
    ),
    "incident-note-missing": (
        "Something went wrong at the bedside and is not written down.",
        "Ask who was there to write what happened, what was done and who was told.",
    ),
    "incident-note-incomplete": (
        "The incident note lacks when it was, what was done, who was told, or what happened.",
        "Ask who was there to complete it.",
    ),
    "nobody-told": (
        "The draw did not happen, and nobody was told.",
        "Tell the nurse or physician who waits for the result, and write down whom.",
    ),
    "it-happened": (
        "A step was taken although the app advised against it.",
        "Read the reason, ask who drew, and write down what you decided about the blood and the patient.",
    ),
}

# The order of this table is the order in which findings of one severity are shown.
KINDS: tuple[FindingKind, ...] = (
    _kind(
        "identity-missing",
        _TWO_IDENTIFIERS,
        stop=(
            "Nobody who is drawing now has asked this patient who they are.",
            "Ask for the full name and birth date, then read the band. Room and bed prove nothing.",
        ),
    ),
    _kind(
        "identity-too-few",
        _TWO_IDENTIFIERS,
        stop=(
            "Fewer than {identity_kinds_min} identifiers agree, or the patient or the band has not been asked.",
            "Take a name, a birth date or a record number from the patient, and another from the band.",
        ),
    ),
    _kind(
        "identity-mismatch",
        _GP33,
        stop=(
            "What was said or read is not what the order says.",
            "Do not draw. Call the nurse to settle who this is. Without that, end the visit.",
        ),
        ask=(
            "One of the two names has a part more than the other.",
            "Ask for the full name again and compare it with the band before going on.",
        ),
        note=(
            "An earlier answer differed from the order and was put right.",
            "Nothing to do. It stays in the record.",
        ),
    ),
    _kind(
        "band-missing",
        "Joint Commission FAQ 000001545; hospital criteria, secondary source",
        stop=(
            "There is no band on the patient's body.",
            "Do not draw. Ask the nurse to identify the patient and put a band on, then read it.",
        ),
    ),
    _kind(
        "consent-missing",
        _COMMON,
        stop=(
            "The patient has not agreed to the draw.",
            "Ask. If the answer is no, do not draw: end the visit and tell the nurse.",
        ),
    ),
    _kind(
        "site-restricted",
        "hospital criteria for not drawing, secondary source; WHO 2010 Annex E",
        stop=(
            "This limb is closed for drawing, and there is no written permission.",
            "Take the other arm. If neither can be used, end the visit and tell the nurse.",
        ),
        ask=(
            "An infusion runs into this arm. The site lies below it.",
            "Ask the nurse whether the infusion is stopped, and write down what was agreed.",
        ),
    ),
    _kind(
        "tourniquet-too-long",
        _GP41,
        stop=(
            "The tourniquet has been on for more than {tourniquet_max_s} s.",
            "Take it off now. Wait {tourniquet_rest_s} s before it goes on the same arm again.",
        ),
        ask=(
            "The tourniquet was on for more than {tourniquet_max_s} s.",
            "Potassium, calcium and proteins may have changed. Write it down; the lab may want to know.",
        ),
        note=(
            "The tourniquet may have been on for more than {tourniquet_max_s} s; its end was put in afterwards.",
            "Nothing to do. It stays in the record.",
        ),
    ),
    _kind(
        "tourniquet-rest-short",
        _GP41,
        stop=(
            "The arm has not rested for {tourniquet_rest_s} s after a long tourniquet.",
            "Take it off and wait, or use the other arm.",
        ),
        note=(
            "The arm may have rested for less than {tourniquet_rest_s} s; the time was put in afterwards.",
            "Nothing to do. It stays in the record.",
        ),
    ),
    _kind(
        "tourniquet-left-on",
        _GP41,
        stop=(
            "The needle came out with the tourniquet still on.",
            "Take the tourniquet off now and press firmly. Watch the arm for swelling.",
        ),
    ),
    _kind(
        "attempts-used-up",
        "CLSI H3-A6 8.x, from memory; a site's setting",
        stop=(
            "You have tried {attempts_max} times.",
            "Stop here. Hand over to a colleague, and tell the nurse.",
        ),
    ),
    _kind(
        "skin-not-clean",
        _GP41,
        ask=(
            "The skin was not cleaned, or was touched after cleaning.",
            "Clean the site, let it dry, and do not touch it again.",
        ),
    ),
    _kind(
        "skin-not-dry",
        "WHO guidelines on drawing blood 2010, 2.2.2, from memory",
        ask=(
            "The skin has not had {skin_dry_s} s to dry ({skin_dry_povidone_s} s for povidone-iodine).",
            "Let it dry in the air. No fanning, no blowing, no wiping.",
        ),
        note=(
            "The skin may have had less than {skin_dry_s} s to dry; the time was put in afterwards.",
            "Nothing to do. It stays in the record.",
        ),
    ),
    _kind(
        "antiseptic-wrong",
        "CLSI M47 by way of a hospital manual, secondary source; alcohol level: CLSI GP41-A7, from memory",
        ask=(
            "The antiseptic does not suit what is drawn here.",
            "Blood cultures: chlorhexidine, or povidone-iodine under {chlorhexidine_from_months} months of age."
            " An alcohol level: nothing with alcohol in it.",
        ),
    ),
    _kind(
        "latex-allergy",
        _COMMON,
        note=("This patient is allergic to latex.", "Use gloves and a tourniquet without latex."),
    ),
    _kind(
        "discard-missing",
        "CLSI GP41 and H21, secondary source",
        ask=(
            "A winged set holds air: the first citrate tube will be short.",
            "Draw a discard tube first: without additive, or another citrate tube.",
        ),
    ),
    _kind(
        "tube-out-of-order",
        _GP41,
        ask=(
            "This container comes earlier in the order of draw than one already filled.",
            "Additive may have been carried over. Write it down; the lab decides.",
        ),
    ),
    _kind(
        "tube-short-fill",
        "CLSI H21 6th ed 2024, secondary source",
        ask=(
            "The citrate tube holds less than {citrate_fill_min_percent} % of what it should.",
            "The lab may refuse it. Fill another one if the patient agrees.",
        ),
    ),
    _kind(
        "citrate-hematocrit",
        "CLSI H21, secondary source",
        ask=(
            "The haematocrit is above {hematocrit_max_percent} %: a normal citrate tube has too much citrate.",
            "Ask the lab for an adjusted tube before going out.",
        ),
    ),
    _kind(
        "tube-not-mixed",
        _GP41,
        ask=(
            "This tube was turned over fewer times than it needs.",
            "Turn it gently now, all the way over and back. Do not shake.",
        ),
    ),
    _kind(
        "volume-over-limit",
        "Garza and Becan-McBride 2010, single-draw table; Howie 2011; the site's limit",
        stop=(
            "This is more blood than the limit for this patient.",
            "Draw only what fits under it. Ask the nurse or the physician which tests come first.",
        ),
    ),
    _kind(
        "needle-unguarded",
        "OSHA 29 CFR 1910.1030, from memory",
        ask=(
            "The needle came out without its guard.",
            "Guard it and put it into the sharps box now. Never recap.",
        ),
    ),
    _kind(
        "label-too-early",
        "CLSI GP41 and GP33 as listed by Ernst 2018, secondary source",
        ask=("This label was on the tube before the blood.", "Compare tube, label and band once more."),
        note=(
            "A label was printed before its tube was filled.",
            "Put it on only after the fill, at the bedside.",
        ),
    ),
    _kind(
        "label-mismatch",
        _GP33,
        stop=(
            "This label does not belong to this tube.",
            "Take it off the tube, destroy it, and read the right one. Check whose label it was.",
        ),
        ask=(
            "A wrong label was read on this tube, and put right.",
            "Make sure that the wrong label was destroyed.",
        ),
    ),
    _kind(
        "label-missing",
        "Joint Commission NPSG.01.01.01 EP 2",
        stop=(
            "A filled tube has no label that was read back.",
            "Label it here, in front of the patient, and read it back. If that cannot be, discard it.",
        ),
    ),
    _kind(
        "label-not-compared",
        "CLSI GP41-A7 2017 (sample labelling), secondary source",
        stop=(
            "The labels were not compared with the band, and a blood group tube is among them.",
            "Read the band once more, against the labels.",
        ),
        note=("The labels were not compared with the band.", "Read the band once more, against the labels."),
    ),
    _kind(
        "pressure-short",
        "hospital manuals and CLSI GP41-A7 2017, secondary source",
        stop=(
            "This patient needs {pressure_thinner_s} s of pressure.",
            "Keep pressing, arm straight. Then look at the site again.",
        ),
        ask=(
            "The site was pressed for less than {pressure_min_s} s.",
            "Press on, arm straight, and look again.",
        ),
        note=(
            "The site may have been pressed too briefly; the time was put in afterwards.",
            "Nothing to do. It stays in the record.",
        ),
    ),
    _kind(
        "bleeding-not-checked",
        _GP41,
        stop=(
            "Nobody has watched the uncovered site for {look_min_s} s.",
            "Lift the gauze and watch for {look_min_s} s: no blood, no swelling.",
        ),
    ),
    _kind(
        "still-bleeding",
        _GP41,
        stop=("The site is still bleeding.", "Press again and look again. If it goes on, call the nurse."),
    ),
    _kind(
        "incident-note-missing",
        "CLSI GP41-A7 4.11 (heading only)",
        stop=(
            "Something went wrong here and is not written down.",
            "Write down what happened and who was told.",
        ),
        ask=(
            "A needlestick is not written down yet.",
            "Wash and report first; the hours count. Write it down as soon as you can.",
        ),
    ),
    _kind(
        "incident-note-incomplete",
        "CLSI GP41-A7 4.11 (heading only)",
        stop=(
            "The incident note lacks when it was, what was done, who was told, or what happened.",
            "Complete the note.",
        ),
        ask=(
            "The needlestick note lacks when it was, what was done, who was told, or what happened.",
            "Report first; complete the note as soon as you can.",
        ),
    ),
    _kind(
        "nobody-told",
        "hospital criteria for not drawing, secondary source",
        ask=("The draw did not happen, and nobody was told.", "Tell the nurse, and put in the name."),
    ),
    _kind(
        "it-happened",
        _APP,
        ask=(
            "A step was taken although the app advised against it.",
            "The charge nurse looks at the reason given.",
        ),
    ),
    _kind(
        "drawn-after-cancel",
        _APP,
        ask=(
            "Blood was drawn for an order that had been cancelled.",
            "The charge nurse decides what becomes of it.",
        ),
    ),
    _kind(
        "drawn-twice",
        _APP,
        ask=("The same order was drawn twice.", "The charge nurse decides which draw counts."),
    ),
    _kind(
        "judgement-differs",
        _APP,
        ask=(
            "Tablet and server judged this visit differently.",
            "Tell whoever keeps the house. The server's answer counts.",
        ),
    ),
    _kind(
        "clock-off",
        _APP,
        note=("The tablet's clocks disagree.", "Check the times written down. Set the tablet's clock."),
    ),
)
