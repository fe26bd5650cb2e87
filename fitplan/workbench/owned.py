"""What the user has already, taken off the list that is bought from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from fitplan.model.buying import Article
from fitplan.model.on_hand import OnHand
from fitplan.model.wiring import Spool

_CRIMPED = ("pin contact for ", "socket contact for ", "crimp contact")
READY_CRIMPED = "ready-crimped, on a lead of 100 mm or more"
"""How a contact is bought by whoever has no crimping tool (common practice, no source)."""
_WIRE = "stranded wire, AWG {awg}, {colour}"


def less_what_is_owned(
    articles: Iterable[Article], owned: OnHand, spools: Iterable[Spool]
) -> tuple[Article, ...]:
    """Return the articles with what lies in the drawer and on the spools, and without a crimping tool leads.

    A spool without a gauge serves the thickest wire of its colour first.
    """
    drawer = dict(owned.parts)
    wire = {(spool.colour, spool.awg): spool.metres for spool in spools if spool.metres != float("inf")}
    found = list(_with_drawer(articles, drawer))
    found = list(_with_spools(found, wire))
    if "crimping tool" not in owned.tools:
        found = [_ready_crimped(one) for one in found]
    return tuple(found)


def less_what_stands(articles: Iterable[Article], there: Iterable[Article]) -> Iterator[Article]:
    """Yield the articles with what stands as built, as the user has it: nothing of that is bought.

    Which connector pair lies at a coupling is not written down with what is built: it stays in the list.
    """
    stand = {(one.shop, one.name, one.part, one.unit): one.needed for one in there}
    for one in articles:
        have = min(stand.get((one.shop, one.name, one.part, one.unit), 0.0), one.needed)
        if have and one.unit == "pair":
            yield replace(one, note=f"{one.note}; one is built in: buy it if it is another")
        elif have:
            left = (one.needed - have) / one.needed
            spare = one.spare * left if one.unit == "m" or not left else one.spare
            yield replace(one, owned=have, spare=spare)
        else:
            yield one


def _with_drawer(articles: Iterable[Article], drawer: dict[str, int]) -> Iterator[Article]:
    for one in articles:
        have = min(drawer.get(one.part, 0), int(one.needed + one.spare - one.owned)) if one.part else 0
        if have:
            drawer[one.part] -= have
            one = replace(one, owned=one.owned + have)
        yield one


def _with_spools(articles: Iterable[Article], wire: dict[tuple[str, int], float]) -> Iterator[Article]:
    for one in articles:
        for (colour, awg), metres in wire.items():
            gauges = (awg,) if awg else range(60)
            if metres and one.name in {_WIRE.format(awg=gauge, colour=colour) for gauge in gauges}:
                have = min(metres, one.needed + one.spare - one.owned)
                wire[colour, awg] = metres - have
                one = replace(one, owned=one.owned + have)
        yield one


def _ready_crimped(one: Article) -> Article:
    if not one.name.startswith(_CRIMPED) or not one.buy:
        return one
    note = f"{READY_CRIMPED}: you have no crimping tool; join its bare end to the wire"
    return replace(one, note=note)
