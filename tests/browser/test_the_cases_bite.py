"""A sample of small mistakes in the tablet's rules: the shared cases notice each. (The server's: `tests/mutations`.)"""

from __future__ import annotations

import pytest

from tests.mutations import against_javascript
from tests.mutations.mistake import some
from tests.mutations.survivors import not_noticed

HOW_MANY = 60


# By hand until `survivors.md` names what is left over: a mistake that changes nothing would fail it by chance.
@pytest.mark.long
def test_mistakes_in_the_tablets_rules_are_noticed(browser):
    found = some(against_javascript.all_mistakes(), HOW_MANY)

    assert not_noticed(against_javascript.judged_in(browser, found)) == []
