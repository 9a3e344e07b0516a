"""A farm that is being begun by text: what was said so far, its steps, and the plan that it becomes."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from enum import StrEnum

from bot.books.plans import FarmPlan, PersonPlan
from bot.speech.language import tongue
from bot.talk.homeland import PROFILES, currency, zones
from parsers.reading import Block, Role


class Step(StrEnum):
    """What is asked, in this order; the zone only where a country has several."""

    NAME = "name"
    ZONE = "zone"
    BLOCKS = "blocks"
    TAPPING = "tapping"
    ACID = "acid"
    DRYING = "drying"
    TAPPERS = "tappers"
    SUMMARY = "summary"


@dataclass(frozen=True)
class Draft:
    """What was said so far. `people` holds name, number and blocks of each tapper; `texts` counts what was answered."""

    language: str
    region: str
    step: Step = Step.NAME
    texts: int = 0
    zone: str = ""
    name: str = ""
    owner: str = ""
    blocks: Mapping[str, int] = field(default_factory=dict)
    settings: Mapping[str, str] = field(default_factory=dict)
    people: tuple[tuple[str, str, tuple[str, ...]], ...] = ()

    def to_json(self) -> str:
        """As it is kept in the books."""
        return json.dumps(asdict(self), ensure_ascii=False)

    @classmethod
    def from_json(cls, body: str) -> "Draft":
        """As it was kept."""
        values = json.loads(body)
        values["step"] = Step(values["step"])
        values["people"] = tuple((name, number, tuple(own)) for name, number, own in values["people"])
        return cls(**values)

    @property
    def steps(self) -> list[Step]:
        """What is asked of him."""
        return [step for step in Step if step is not Step.ZONE or len(zones(self.region)) > 1]

    @property
    def acid_said(self) -> str:
        """The acid in his language."""
        speech = tongue(self.language)
        return speech.say("acetic acid") if self.settings.get("acid") == "acetic" else speech.say("formic acid")

    def back(self) -> "Draft":
        """One step back, or the first again."""
        return replace(self, step=self.steps[max(0, self.steps.index(self.step) - 1)])

    def forward(self) -> "Draft":
        """The next step; itself where there is none."""
        at = self.steps.index(self.step) + 1
        return self if at == len(self.steps) else replace(self, step=self.steps[at])

    def with_settings(self, **changes: str) -> "Draft":
        """With some settings changed."""
        return replace(self, settings={**self.settings, **changes})

    def without_setting(self, name: str) -> "Draft":
        """With a setting left as it is usual."""
        return replace(self, settings={key: value for key, value in self.settings.items() if key != name})


def plan_of(draft: Draft, number: str) -> FarmPlan:
    """The farm with its owner and tappers, as a file would say it."""
    profile = {"country": PROFILES[draft.region]} if draft.region in PROFILES else {}
    everybody = (
        PersonPlan(draft.owner, number, Role.OWNER, (), draft.language, None, ""),
        *(PersonPlan(name, phone, Role.TAPPER, own, draft.language, None, "") for name, phone, own in draft.people),
    )
    return FarmPlan(
        name=draft.name,
        timezone=draft.zone,
        currency=currency(draft.region) or "USD",
        language=draft.language,
        blocks={name: Block(trees) for name, trees in draft.blocks.items()},
        containers={},
        settings={**profile, **draft.settings},
        other_farms=(),
        people=everybody,
        points=(),
    )
