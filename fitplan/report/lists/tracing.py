"""In which steps of the order of work an article is used, and the other way round."""

from __future__ import annotations

from fitplan.model.buying import Article
from fitplan.model.plan import Plan
from fitplan.model.wired import WireEnd
from fitplan.model.work import WorkStep


def steps_of(plan: Plan, article: Article) -> tuple[int, ...]:
    """Return the numbers of the steps in which an article is used; what findings ask for is in none."""
    if article.shop == "findings ask for":
        return ()
    tracer = _Tracer(plan)
    return tuple(
        step.number
        for step in plan.work.steps
        if any(tracer.serves(article, word, step) for word in article.serves)
    )


class _Tracer:
    """Tells what serves what."""

    def __init__(self, plan: Plan) -> None:
        self.wires = {wire.number: wire for wire in plan.built.harness.wires}
        self.inside = {wire.number: wire.inside for wire in plan.built.harness.wires if wire.inside}

    def serves(self, article: Article, word: str, step: WorkStep) -> bool:
        """Return whether what an article serves, by its word, is worked at in a step."""
        if article.shop == "comes out":
            return step.act == "take out" and step.vehicle == word and article.name in step.bricks
        if word in step.parts:
            return True
        kind, _, name = word.partition(" ")
        if kind == "wire" and name.isdigit():
            number = int(name)
            return self.inside.get(number, number) in step.wires
        if kind == "splice" and name == step.splice:
            return True
        ends = self._ends(step)
        if kind == "coupling":
            return name == step.crossing or any((e.kind, e.owner) == ("connector", name) for e in ends)
        if word.endswith(" joints"):
            return step.act in ("splice", "join") and step.joint == "solder"
        pin = word.removesuffix(" resistor")
        if any(end.kind == "pin" and f"{end.owner}.{end.pin}" == pin for end in ends):
            return True
        cavity = word.split(" ")
        return len(cavity) > 1 and any((e.kind, e.owner) == ("connector", cavity[0]) for e in ends)

    def _ends(self, step: WorkStep) -> list[WireEnd]:
        return [
            self.wires[number].start if side == "start" else self.wires[number].end
            for number, side in step.ends
        ]
