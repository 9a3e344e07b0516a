"""Speaking for somebody else, and talk about the book that enters nothing: disputes, why, leaving things as they are."""

from dataclasses import replace

from parsers.facts import Facts
from parsers.reading import Intent, Reading, Role, Setting, What

#: A name must be introduced within so many items of its word (`this is`, `phone of`).
NEAR = 3


def speaker(facts: Facts, setting: Setting) -> str | None:
    """The name of him for whom a text speaks, when it is not the owner of the phone."""
    own = (setting.name or "").casefold()
    names = [fact for fact in facts.of("person") if (fact.name or "").casefold() != own]
    if (
        not names
        or not facts.has("phone_of", "this_is", "again_me", "again")
        or (setting.role is Role.OWNER and not (facts.has("phone_of") and facts.has("this_is")))
    ):
        return None
    for fact in names:
        if facts.has("phone_of") and any(0 < each.at - fact.at <= 2 for each in facts.of("again_me")):
            return fact.name
    known = {person.name for person in setting.people if person.role is Role.TAPPER}
    spoke = {entry.by for entry in setting.entered}
    for fact in names:  # `encore Adjoua, ...` on the phone of somebody else, where she has texted before
        again = any({fact.at, each.at} == {0, 1} for each in facts.of("again", "again_me"))
        if again and fact.name in known and fact.name in spoke:
            return fact.name
    phone = facts.of("phone_of")
    mine = [fact for fact in facts.of("person") if (fact.name or "").casefold() == own]
    lent = any(-1 <= each.at - one.at <= 2 for each in mine for one in phone)
    if lent and names[0].name in known and names[0].at <= 4:  # `Kofi, from Ama's phone`, on Ama's phone
        return names[0].name
    for fact in names:
        introduced = any(
            0 <= fact.at - each.at <= NEAR or (0 < each.at - fact.at <= NEAR and each.kind == "this_is")
            for each in facts.of("this_is")
        )
        of_phone = any(0 < fact.at - each.at <= 2 for each in facts.of("phone_of")) and not introduced
        if introduced and not of_phone and fact.name in known:
            return fact.name
    return (
        names[0].name
        if facts.has("phone_of") and names[0].name in known and names[0].at <= 4 and facts.has("this_is")
        else None
    )


def as_spoken_by(setting: Setting, name: str) -> Setting:
    """The setting with the blocks of him for whom the text speaks."""
    blocks = next(
        (person.blocks for person in setting.people if person.name == name and person.role is Role.TAPPER), ()
    )
    entered = tuple(replace(entry, mine=entry.by == name) for entry in setting.entered)
    return replace(setting, own_blocks=blocks, role=Role.TAPPER, entered=entered, question=None)


def without_introduction(facts: Facts, name: str) -> Facts:
    """The facts without the introduction, so that its words mean nothing else."""
    at = next((fact.at for fact in facts.of("person") if fact.name == name), -1)
    return Facts(
        [
            fact
            for fact in facts.found
            if fact.kind not in ("person", "phone_of", "this_is", "again_me", "from")
            and not (fact.kind == "again" and abs(fact.at - at) == 1)
        ],
        facts.items,
    )


def about_the_book(facts: Facts, setting: Setting) -> Reading | None:
    """A dispute, a question why, or word that all stays as it is: nothing is entered."""
    figures = facts.of("kg", "number", "sheets", "litres")
    if (
        facts.has("dispute")
        and not facts.has("collected")
        and (setting.role is not Role.TAPPER or facts.has("kg"))
        and not (setting.role is Role.COLLECTOR and facts.has("fix") and figures)  # he corrects what he took
        and not _is_weighing(facts)
    ):
        return Reading(Intent.DISPUTE, figure=figures[0].value if figures else None)
    if facts.has("why") and not facts.has("not_tapped", "rain", "litres", "block"):
        return Reading(Intent.WHY, figure=figures[0].value if figures else None)
    if any(facts.items[each.at].has("hands_off") for each in facts.of("keep")):
        return Reading(Intent.CHAT, confirmed=True)  # `36, not 35; do not change it yet`
    if _agrees(facts, setting):
        return Reading(Intent.CHAT, confirmed=True)
    contrast = facts.has("not", "fix") and len(figures) > 1
    recounts = facts.has("sheets") and facts.has("fix")  # `46 tờ mới đúng, số ký giữ nguyên`
    keeping = facts.has("keep") and not contrast and not facts.has("collected", "not_tapped", "lump", "dry", "rolled")
    keeping = keeping and not recounts
    if keeping and setting.question is None and (figures or facts.has("person")) and not facts.has("litres", "block"):
        return Reading(Intent.CHAT, confirmed=True)
    if keeping and setting.question is None and facts.has("person") and not figures:
        return Reading(Intent.CHAT, confirmed=True)
    return None


def _agrees(facts: Facts, setting: Setting) -> bool:
    """`sí, de acuerdo con 27.5`: a yes, and one bare figure that a take in the book holds."""
    figures = facts.of("number", "kg")
    first = facts.found[0] if facts.found else None
    agreed = first is not None and first.kind == "yes" and setting.question is None and len(figures) == 1
    latex = bool(setting.own_blocks) and not facts.has("kg") and len(facts.of("yes", "chat")) < 2  # `yes 18`
    if not agreed or latex or facts.has("litres", "sheets", "block", "day", "fix", "not"):
        return False
    return any(each.record.what is What.COLLECTED and each.record.kg == figures[0].value for each in setting.entered)


def _is_weighing(facts: Facts) -> bool:
    """`I weighed 12 kg` alone is a tapper's report."""
    return facts.has("weighed") and facts.has("block") and not facts.has("not")
