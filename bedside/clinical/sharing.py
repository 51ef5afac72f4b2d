"""Which tests share which container: the least blood, then the fewest containers, then the directory's order.

The directory's order decides before the number of different kinds would: so the contract says, and it leaves no two
plans equal, so that fewer kinds would never be asked for after it.

Exact. Two observations keep the search small. Tests that share a container cost what the largest of them
costs, so sharing never costs more than not sharing, within one kind of container. And when tests are placed
largest first, a container that is open already takes every later test it may take, at no cost: a new one
needs opening only for a test that fits nowhere, and then at exactly that test's volume.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Need:
    """What one test needs.

    kinds: the containers it may go into, the preferred one first.
    microlitres: the least blood for it.
    full: its container is filled to its nominal volume.
    party: only needs of one party may share a container.
    """

    kinds: tuple[str, ...]
    microlitres: int
    full: bool = False
    party: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Shared:
    """One container: the needs in it (their places in the list given), and how much it draws."""

    kind: str
    needs: tuple[int, ...]
    microlitres: int


class NoContainer(Exception):
    """This need (its place in the list given) fits into none of its kinds: each is too small for it."""

    def __init__(self, need: int) -> None:
        self.need = need
        super().__init__(f"Need {need} is larger than every container it may go into.")


Sizes = Mapping[str, Sequence[int]]
Fills = Mapping[str, Mapping[int, int]]
"""The least blood that each size of a kind takes, both in microlitres; a size left out takes any."""
# A kind of container, and whether it is one that is filled to its nominal volume.
_Slot = tuple[str, bool]


def share(needs: Sequence[Need], sizes: Sizes, fills: Fills | None = None) -> list[Shared]:
    """The best plan for these needs, taken in the directory's order.

    sizes: the nominal volumes of each kind in microlitres, smallest first; fills: the least each of them takes. Of two
    plans with as much blood and as many containers, the one wins that gives the first need the kind it prefers, then
    the second.
    `NoContainer` when a need is larger than everything it may go into.
    """
    parties: dict[tuple[str, ...], list[int]] = {}
    for place, need in enumerate(needs):
        parties.setdefault(need.party, []).append(place)
    return [one for places in parties.values() for one in _Party(needs, places, sizes, fills or {}).best_plan()]


def smallest_holding(sizes: Sequence[int], microlitres: int) -> int | None:
    """The smallest nominal volume that holds so much, or None."""
    return next((size for size in sizes if size >= microlitres), None)


def least_drawn(sizes: Sequence[int], microlitres: int, fills: Mapping[int, int]) -> tuple[int, int] | None:
    """The least blood drawn for so much, and the smallest size that takes it so; None: none holds it.

    It never falls as more is needed, so that needs in one container draw what the largest of them draws.
    """
    holding = ((max(microlitres, fills.get(size, 0)), size) for size in sizes if size >= microlitres)
    return min(holding, default=None)


@dataclass
class _Party:
    """The needs that may share with one another, and the best way found so far."""

    needs: Sequence[Need]
    places: list[int]
    sizes: Sizes
    fills: Fills
    slots: dict[int, list[tuple[_Slot, int]]] = field(init=False)
    blood: int | None = None
    count: int = 0
    best: list[dict[_Slot, int]] = field(default_factory=list)

    def best_plan(self) -> list[Shared]:
        filled = {kind for place in self.places if self.needs[place].full for kind in self.needs[place].kinds}
        self.slots = {place: list(self._slots_of(place, filled)) for place in self.places}
        largest_first = sorted(self.places, key=lambda place: -self.needs[place].microlitres)
        self._search(largest_first, {}, 0)
        plans = [self._settled(open_slots) for open_slots in self.best]
        chosen = min(plans, key=self._ranks)
        return self._as_shared(chosen)

    def _slots_of(self, place: int, filled: set[str]) -> Iterator[tuple[_Slot, int]]:
        """Where this need may go, the preferred kind first, and what opening that place for it costs."""
        need = self.needs[place]
        found = False
        for kind in need.kinds:
            size = smallest_holding(self.sizes[kind], need.microlitres)
            if size is None:
                continue
            found = True
            if kind in filled:
                yield (kind, True), size
            if not need.full:
                yield (kind, False), self._least(kind, need.microlitres)
        if not found:
            raise NoContainer(place)

    def _search(self, waiting: Sequence[int], open_slots: dict[_Slot, int], blood: int) -> None:
        """Open containers until every need has one; keep each way that is as good as the best."""
        uncovered = next((n for n, place in enumerate(waiting) if not self._is_covered(place, open_slots)), None)
        if uncovered is None:
            self._keep(open_slots, blood)
            return
        place, rest = waiting[uncovered], waiting[uncovered + 1 :]
        for slot, cost in self.slots[place]:
            if self._may_still_win(blood + cost, len(open_slots) + 1):
                self._search(rest, {**open_slots, slot: cost}, blood + cost)

    def _is_covered(self, place: int, open_slots: dict[_Slot, int]) -> bool:
        return any(slot in open_slots for slot, _ in self.slots[place])

    def _may_still_win(self, blood: int, count: int) -> bool:
        return self.blood is None or (blood, count) <= (self.blood, self.count)

    def _keep(self, open_slots: dict[_Slot, int], blood: int) -> None:
        if self.blood is None or (blood, len(open_slots)) < (self.blood, self.count):
            self.blood, self.count, self.best = blood, len(open_slots), []
        self.best.append(open_slots)

    def _settled(self, open_slots: dict[_Slot, int]) -> dict[int, _Slot]:
        """Each need into the open container it likes best. None stays empty: none was opened idly."""
        return {place: next(self._fitting(place, open_slots)) for place in self.places}

    def _fitting(self, place: int, open_slots: dict[_Slot, int]) -> Iterator[_Slot]:
        wanted = self.needs[place].microlitres
        return (slot for slot, _ in self.slots[place] if open_slots.get(slot, 0) >= wanted)

    def _ranks(self, plan: dict[int, _Slot]) -> list[int]:
        return [self.needs[place].kinds.index(kind) for place, (kind, _) in plan.items()]

    def _as_shared(self, plan: dict[int, _Slot]) -> list[Shared]:
        together: dict[_Slot, list[int]] = {}
        for place, slot in plan.items():
            together.setdefault(slot, []).append(place)
        return [Shared(kind, tuple(places), self.drawn(kind, places)) for (kind, _), places in together.items()]

    def drawn(self, kind: str, places: Iterable[int]) -> int:
        """What a container of this kind draws for these needs: the largest of them, or its whole size."""
        inside = [self.needs[place] for place in places]
        largest = max(need.microlitres for need in inside)
        if not any(need.full for need in inside):
            return self._least(kind, largest)
        size = smallest_holding(self.sizes[kind], largest)
        return largest if size is None else size

    def _least(self, kind: str, microlitres: int) -> int:
        found = least_drawn(self.sizes[kind], microlitres, self.fills.get(kind, {}))
        return microlitres if found is None else found[0]
