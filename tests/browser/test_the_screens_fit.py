"""Every bedside screen, both ways up and in two lights: big enough for a glove, far enough apart, readable, whole.

Sizes: design section 9 (20 mm is 104 px on one common screen; main 112, others 80, anything 56, gaps 12).
Contrast: WCAG 2.2, 1.4.3 and, for identity, 1.4.6.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext

from bedside.clinical.fitting import WHO_MAY_ALLOW
from bedside.sync.volume_told import WEIGH_FIRST

from .a_round import LONGEST_NAME, a_round
from .at_the_bedside import Bedside
from .stand_in import StandIn

FITTING = (Path(__file__).parent / "fitting.js").read_text()
WIDTH = "document.documentElement.scrollWidth"
SCROLLED_AWAY = "(body => body.scrollHeight - body.clientHeight)(document.querySelector('.body'))"
PAINTED = "() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))"
UPRIGHT, LYING = {"width": 820, "height": 1180}, {"width": 1280, "height": 800}


@pytest.fixture
def bedside(closed_app: Bedside) -> Bedside:
    """Not opened yet: some tests lay something else into the house first."""
    return closed_app


@pytest.fixture
def fits(bedside: Bedside) -> Callable[[], None]:
    """Measures the screen that is open, both ways up and in both lights."""

    def measure() -> None:
        found = []
        for size in (LYING, UPRIGHT):
            bedside.page.set_viewport_size(size)
            for light in ("day", "night"):
                bedside.page.evaluate("light => { document.documentElement.className = light; }", light)
                bedside.page.evaluate(PAINTED)
                complaints = bedside.page.evaluate(FITTING)
                found += [f"{bedside.screen} {size['width']} {light}: {complaint}" for complaint in complaints]
        assert found == []

    return measure


def test_a_whole_visit_fits_with_the_longest_name_and_eight_tubes(bedside: Bedside, fits: Callable[[], None]):
    who = "maximiliana"
    tubes = bedside.open().visit(who)["tubes"]
    fits()
    bedside.main("round")
    fits()
    bedside.to_the_door(who)
    fits()
    bedside.main("birth_date")
    bedside.keys(bedside.born(who))
    fits()
    bedside.main("heard_name")
    fits()
    bedside.main("band")
    fits()
    bedside.main()
    fits()
    bedside.scan(bedside.band(who), "consent")
    fits()
    bedside.main("questions")
    fits()
    bedside.main("arms")
    fits()
    bedside.main("look_for_vein")
    fits()
    bedside.main()
    bedside.page.wait_for_selector('.main[data-look="panel"]')
    fits()
    bedside.main("clean")
    fits()
    bedside.main("drying")
    fits()
    bedside.skip(31)
    bedside.main("needle")
    fits()
    bedside.main("draw")
    fits()
    bedside.skip(61)
    bedside.page.wait_for_selector('.clocks[data-tone="stop"]')
    fits()
    bedside.main("draw")
    bedside.tap("mL", "short")
    fits()
    bedside.tap("Back", "draw")
    for tube in tubes:
        word = "Bottle" if tube["kind"].startswith("culture") else "Tube"
        bedside.page.locator("button.main", has_text=f"{word} {tube['position']} is full").click()
    bedside.page.locator("button.main", has_text="Needle out").click()
    bedside.wait("mix")
    fits()
    bedside.main("print")
    fits()
    bedside.main("read_back")
    fits()
    for tube in tubes:
        bedside.scan(tube["specimen"], "compare")
        if tube is tubes[0]:
            fits()
        bedside.main("band_again" if tube is tubes[-1] else "read_back")
    fits()
    bedside.main()
    bedside.page.wait_for_selector('.key[data-key="0"]')
    fits()
    assert bedside.page.evaluate(SCROLLED_AWAY) <= 1, "under the clock a key of the band's digits is below the edge"
    bedside.tap("Scan it instead", "band_again")
    bedside.scan(bedside.band(who), "site")
    fits()
    bedside.skip(125)
    bedside.page.locator("button.main[data-look=act]").click()
    fits()
    bedside.skip(6)
    bedside.page.locator("button.main", has_text="It is dry").click()
    bedside.page.locator("button.main", has_text="Taped").click()
    bedside.wait("bag")
    fits()
    bedside.skip(115 * 60)  # the cultures' clock: it stands in the head beside the longest name
    bedside.page.wait_for_selector('.head-lab[data-look="act"]')
    fits()
    bedside.main("leave")
    fits()
    bedside.main("ended")
    fits()
    bedside.main("round")
    fits()
    bedside.tap("To the lab", "to_lab")
    fits()
    bedside.main("hand_over")
    fits()
    bedside.main()
    bedside.page.get_by_label("Name of whoever takes them").fill("Rui Tavares")
    fits()
    bedside.main("to_lab")
    fits()
    assert bedside.page.evaluate("window.printed") == len(tubes)
    assert bedside.visit(who)["patient"]["name"] == LONGEST_NAME


def test_what_goes_wrong_fits_too(bedside: Bedside, fits: Callable[[], None]):
    weighs_nothing_yet(bedside.visit("katariina"))
    may_give_little(bedside.visit("bo"))
    bedside.to_the_round()
    bedside.tap("Supplies", "supplies")
    fits()
    bedside.main("round")
    bedside.page.locator('.door[data-visit="v-katariina"]').click()
    bedside.wait("weigh_first")
    fits()
    bedside.page.locator(".head-round").click()
    bedside.to_the_door("bo")
    fits()
    bedside.page.locator(".more").click()
    bedside.wait("blood")
    fits()
    bedside.main("door")
    bedside.tap("Something is wrong", "wrong")
    fits()
    bedside.main("door")
    bedside.main("birth_date")
    bedside.tap("Cannot say it", "voucher")
    fits()
    bedside.tap("The patient can speak", "birth_date")
    bedside.keys("02012001")
    bedside.main("identity_stop")
    fits()
    bedside.tap("End the visit: not settled", "not_drawn")
    fits()
    bedside.tap("Nobody yet", "ended")
    fits()
    bedside.main("round")
    bedside.to_the_door("thandi")
    bedside.tap("Not drawn", "not_drawn")
    fits()
    bedside.main("door")
    bedside.settle_identity("thandi")
    bedside.prepare()
    bedside.main("draw")
    bedside.tap("No blood flows", "no_flow")
    fits()
    bedside.tap("Something is wrong", "wrong")
    bedside.tap("Swelling arm", "first_aid")
    fits()
    bedside.main()
    bedside.page.locator("button.main", has_text="Safe now").click()
    bedside.wait("note")
    fits()
    bedside.tap("Finish it later", "first_aid")
    bedside.tap("Write it later", "afterwards")
    fits()
    bedside.tap("No blood flowed", "site")
    bedside.page.locator(".head-where").click()
    bedside.wait("story")
    fits()
    bedside.page.locator(".head-state").click()
    bedside.wait("this_tablet")
    fits()


def weighs_nothing_yet(visit: dict[str, Any]) -> None:
    visit["patient"] |= {"birth_date": "2019-04-02", "weight_kg": None}
    visit |= {"limits": {"max_draw_ml": 0}, "tubes": [], "volume": {"says": [WEIGH_FIRST]}}


def may_give_little(visit: dict[str, Any]) -> None:
    visit["limits"] = {"max_draw_ml": 1.5}
    visit["volume"] = {
        "draw_limit_ml": 10.0, "day_limit_ml": 43.125, "eight_weeks_limit_ml": 86.25,
        "drawn_24h_ml": 41.625, "drawn_8_weeks_ml": 60.0, "may_allow": WHO_MAY_ALLOW,
        "blood_ml": 862.5, "reckoned": "75 mL for each kg",
    }  # fmt: skip


def test_what_must_not_wait_fits_too(bedside: Bedside, fits: Callable[[], None]):
    bedside.to_the_round().to_the_door("maximiliana")
    bedside.settle_identity("maximiliana")
    bedside.prepare()
    bedside.main("draw")
    bedside.page.locator("button.main", has_text="1 is full").click()
    bedside.tap("Something is wrong", "wrong")
    bedside.tap("Faint", "first_aid")
    bedside.main()
    bedside.page.locator("button.main", has_text="Safe now").wait_for()
    fits()
    bedside.tap("Write it later", "afterwards")
    bedside.page.locator(".head-round").click()
    bedside.wait("unfinished")
    fits()
    bedside.page.locator(".tile", has_text="Somebody takes over").click()
    bedside.page.get_by_label("Who takes over (name)").wait_for()
    fits()
    bedside.tap("Back")
    bedside.tap("Leave all the same", "round")
    fits()
    bedside.page.locator('.door[data-visit="v-thandi"]').click()
    bedside.wait("settle_first")
    fits()
    bedside.page.get_by_role("button", name="Back to the round").click()
    bedside.wait("round")
    bedside.main("afterwards")
    bedside.tap("Something is wrong", "wrong")
    bedside.tap("Swelling arm", "first_aid")
    bedside.tap("Write it later", "afterwards")
    bedside.page.locator(".head-notes").click()
    bedside.wait("notes")
    fits()


def test_a_bed_begun_elsewhere_fits_too(bedside: Bedside, house: StandIn, fits: Callable[[], None]):
    packet = a_round()
    begun = {"at": "2026-11-25T05:22:00.000Z", "by": "p-ines"}
    house.packet = packet | {"visits": [visit | {"begun": begun} for visit in packet["visits"]]}
    bedside.to_the_round()
    fits()
    bedside.page.locator('.door[data-visit="v-maximiliana"]').click()
    bedside.wait("begun_elsewhere")
    fits()


def test_rules_that_did_not_pass_their_self_test_say_so_in_full(
    bedside: Bedside, house: StandIn, fits: Callable[[], None]
):
    house.packet = a_round() | {"self_test": {"shared": [], "cases": []}}
    bedside.open()
    bedside.main("rules_refused")
    fits()


def test_two_clocks_stand_side_by_side_and_neither_is_cut_off(bedside: Bedside, fits: Callable[[], None]):
    bedside.to_the_round().to_the_door("maximiliana")
    bedside.settle_identity("maximiliana")
    bedside.main("questions")
    bedside.main("arms")
    bedside.main("look_for_vein")
    bedside.tap("Vein seen without it", "clean")
    bedside.main("drying")
    bedside.main("needle")

    assert bedside.page.locator(".strap").count() == 2
    fits()


def test_small_windows_and_large_letters_lose_nothing_sideways(bedside: Bedside):
    bedside.to_the_round()
    bedside.page.set_viewport_size({"width": 320, "height": 700})

    widths = {"round": bedside.page.evaluate(WIDTH)}
    bedside.main("door")
    widths["door"] = bedside.page.evaluate(WIDTH)
    bedside.main("birth_date")
    widths["birth date"] = bedside.page.evaluate(WIDTH)

    assert max(widths.values()) <= 320, widths


@pytest.fixture
def without_colours(browser: Browser) -> Iterator[BrowserContext]:
    """A person who has set the machine to their own few colours."""
    context = browser.new_context(viewport=UPRIGHT, forced_colors="active")
    yield context
    context.close()


def test_with_forced_colours_every_action_keeps_an_outline(without_colours: BrowserContext, house: StandIn):
    bedside = Bedside(without_colours, house).to_the_round()

    widths = bedside.page.eval_on_selector_all(
        ".main, .beside, .door", "nodes => nodes.map(node => parseFloat(getComputedStyle(node).borderTopWidth))"
    )
    assert widths
    assert min(widths) >= 1


def test_tubes_are_told_apart_without_colour(bedside: Bedside):
    bedside.to_the_round().to_the_door("maximiliana")

    captions = bedside.page.locator(".tube-caption").all_inner_texts()
    names = [caption.split("\n")[0] for caption in captions]
    assert len(set(names)) == 8
    assert [name.split(" ")[0] for name in names] == [str(number) for number in range(1, 9)]
    patterns = bedside.page.eval_on_selector_all(".tube .cap-pattern", "nodes => nodes.map(node => node.innerHTML)")
    assert len(set(patterns)) == 8
