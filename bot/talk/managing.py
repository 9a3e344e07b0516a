"""What an owner changes by text: people, acid strength, containers, the hour of his summary, a language."""

import phonenumbers

from bot.books import farms, people
from bot.books.farm_settings import QUIET_FROM, QUIET_UNTIL
from bot.books.model import Membership, Person
from bot.speech import say
from bot.speech.language import LANGUAGES, tongue
from bot.talk import bark, blocking, paying
from bot.talk.desk import Desk, Outcome, Told
from bot.talk.exchange import Kind
from bot.week.reminders import MORNING, MOST_A_WEEK
from parsers.reading import Manage, Reading, Request, Role

#: Strengths of acid that a bottle on sale can have, percent by mass.
STRENGTH_LOW, STRENGTH_HIGH = 10, 100


def manage(desk: Desk, reading: Reading) -> Outcome:
    """Do what an owner asks of his farm's settings and people; anybody else is told who can."""
    request = reading.request
    assert request is not None
    if request.manage is Manage.LANGUAGE:
        return _language(desk, request)
    if request.manage is Manage.BARK:
        return bark.measured(desk, request)
    if not desk.is_owner:
        return Outcome(Kind.REFUSED, desk.tongue.say("Only the owner can change that. Nothing changed."))
    actions = {
        Manage.ENROL: _enrol,
        Manage.DISMISS: _dismiss,
        Manage.PEOPLE: _people,
        Manage.ACID_STRENGTH: _strength,
        Manage.CONTAINER: _container,
        Manage.SUMMARY_TIME: _summary_time,
        Manage.LINK: _link,
        Manage.REMINDERS: _reminders,
        Manage.PAY_TERMS: paying.set_terms,
        Manage.ADVANCE: paying.money,
        Manage.DEDUCTION: paying.money,
        Manage.BONUS: paying.money,
        Manage.SETTLE: paying.settle,
        Manage.BLOCK: _block,
        Manage.UNBLOCK: _unblock,
    }
    return actions[request.manage](desk, request)


def _enrol(desk: Desk, request: Request) -> Outcome:
    number = _number(desk, request.number)
    if request.name is None or number is None:
        return Outcome(
            Kind.ASKED,
            desk.tongue.say(
                "To enrol somebody text name, number and blocks: add tapper Kofi +447700900123 blocks 2, 3"
            ),
        )
    unknown = [name for name in request.blocks if name not in farms.blocks(desk.tx, desk.farm.id)]
    if unknown:
        there = desk.tongue.several(farms.blocks(desk.tx, desk.farm.id))
        return Outcome(
            Kind.REFUSED,
            desk.tongue.say("There is no block {name} here; there are {blocks}.", name=unknown[0], blocks=there),
        )
    person = people.person_by_number(desk.tx, number)
    enrolled = people.enrol(
        desk.tx,
        name=request.name,
        number=number,
        language=person.language if person else desk.me.language,
        farm_id=desk.farm.id,
        role=request.role or Role.TAPPER,
        blocks=request.blocks,
        at=desk.sent,
        message_id=desk.message.id,
    )
    return Outcome(Kind.ANSWERED, _enrolled(desk, enrolled), (welcome(desk.me.name, desk.farm.name, enrolled),))


def _enrolled(desk: Desk, enrolled: Membership) -> str:
    blocks = desk.tongue.several(say.block_name(desk.tongue, name) for name in enrolled.blocks)
    text = desk.tongue.say(
        "Enrolled: {name}, {number}, {blocks}. Nobody under 18 may do hazardous work such as tapping with acid or at night "
        "(ILO C138); check your country's rules.",
        name=enrolled.person.name,
        number=enrolled.person.number,
        blocks=blocks or "-",
    )
    return text


def welcome(owner: str, farm: str, enrolled: Membership) -> Told:
    """The first text to somebody who was enrolled."""
    theirs = tongue(enrolled.person.language)
    block = next(iter(enrolled.blocks), "3")
    text = theirs.say(
        "{owner} put you in the day-book of {farm}. Text after tapping, for example: block {name} 18 litres. STOP ends it.",
        owner=owner,
        farm=farm,
        name=block,
    )
    return Told(enrolled.person, text)


def _number(desk: Desk, written: str | None) -> str | None:
    """The number in E.164 form; a national number is taken for one of the country of the owner's own."""
    if written is None:
        return None
    region = phonenumbers.region_code_for_number(phonenumbers.parse(desk.me.number, None))
    try:
        number = phonenumbers.parse(written, region)
    except phonenumbers.NumberParseException:
        return None
    return phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164)


def _dismiss(desk: Desk, request: Request) -> Outcome:
    person = desk.named(request.name)
    if person is None:
        return _who_is_that(desk, request)
    if person.id == desk.me.id:
        return Outcome(Kind.REFUSED, desk.tongue.say("You cannot take yourself out. Ask the operator."))
    people.dismiss(desk.tx, person.id, desk.farm.id, None, at=desk.sent)
    theirs = tongue(person.language)
    told = Told(
        person, theirs.say("{owner} took you out of the day-book of {farm}.", owner=desk.me.name, farm=desk.farm.name)
    )
    text = desk.tongue.say("{name} is out of the day-book. What was entered stays.", name=person.name)
    return Outcome(Kind.ANSWERED, text, (told,))


def _who_is_that(desk: Desk, request: Request) -> Outcome:
    there = desk.tongue.several(dict.fromkeys(each.person.name for each in desk.members))
    return Outcome(
        Kind.REFUSED,
        desk.tongue.say(
            "I know no {name} here; there are {people}.", name=request.name or request.number or "?", people=there
        ),
    )


def _block(desk: Desk, request: Request) -> Outcome:
    person = _meant(desk, request)
    if person is None:
        return _who_is_that(desk, request)
    if person.id == desk.me.id:
        return Outcome(Kind.REFUSED, desk.tongue.say("You cannot block yourself. Call the operator."))
    blocking.block(desk.tx, person, desk.now)
    text = desk.tongue.say(
        "{name}'s phone is blocked: no texts in or out, links are void. When it is back: unblock {name}",
        name=person.name,
    )
    others = blocking.owners_told(desk.tx, person, desk.me, blocked=True)
    return Outcome(Kind.CHANGED, text, others)


def _unblock(desk: Desk, request: Request) -> Outcome:
    blocked = (each.person for each in desk.members if each.person.blocked_at is not None)
    person = next((each for each in blocked if each.name == request.name), None) or _meant(desk, request)
    if person is None:
        return _who_is_that(desk, request)
    people.unblock(desk.tx, person.id)
    text = desk.tongue.say("{name}'s phone works again. Old links stay void.", name=person.name)
    others = blocking.owners_told(desk.tx, person, desk.me, blocked=False)
    return Outcome(Kind.CHANGED, text, others)


def _meant(desk: Desk, request: Request) -> Person | None:
    """Somebody of the farm by name or number."""
    number = _number(desk, request.number)
    by_number = (each.person for each in desk.members if each.person.number == number)
    return desk.named(request.name) or next(by_number, None)


def _people(desk: Desk, _request: Request) -> Outcome:
    said = "; ".join(_member(desk, each) for each in desk.members)
    return Outcome(Kind.ANSWERED, f"{desk.farm.name}: {said}.")


def _member(desk: Desk, member: Membership) -> str:
    roles = {
        Role.TAPPER: desk.tongue.say("tapper"),
        Role.OWNER: desk.tongue.say("owner"),
        Role.COLLECTOR: desk.tongue.say("collector"),
    }
    blocks = desk.tongue.several(member.blocks) if member.role is Role.TAPPER else ""
    stopped = desk.tongue.say("no texts (STOP)") if member.person.opted_out_at is not None else ""
    stopped = desk.tongue.say("blocked") if member.person.blocked_at is not None else stopped
    return " ".join(piece for piece in (member.person.name, roles[member.role], blocks, stopped) if piece)


def _strength(desk: Desk, request: Request) -> Outcome:
    if request.value is None or not STRENGTH_LOW <= request.value <= STRENGTH_HIGH:
        return Outcome(
            Kind.REFUSED,
            desk.tongue.say("The strength stands on the bottle's label, 10 to 100 %. Text it like: acid is 85%"),
        )
    before = desk.farm.settings.acid_strength_percent
    farms.change_setting(
        desk.tx, desk.farm.id, "acid_strength_percent", request.value, at=desk.sent, message_id=desk.message.id
    )
    values = {"now": desk.tongue.number(request.value), "before": desk.tongue.number(before)}
    told = tuple(
        Told(each, tongue(each.language).say("The acid is now {now}% (was {before}%): doses change.", **values))
        for each in desk.tappers()
    )
    text = desk.tongue.say("Acid is now {now}% (was {before}%). Check the label; doses change from now on.", **values)
    return Outcome(Kind.CHANGED, text, told)


def _container(desk: Desk, request: Request) -> Outcome:
    if request.word is None or request.value is None or not 0 < request.value <= 1000:
        return Outcome(Kind.ASKED, desk.tongue.say("How many litres does it hold? Text it like: bucket is 12 litres"))
    before = farms.containers(desk.tx, desk.farm.id).get(request.word)
    farms.set_container(desk.tx, desk.farm.id, request.word, request.value, at=desk.sent, message_id=desk.message.id)
    values = {"word": request.word, "litres": desk.tongue.number(request.value)}
    if before is None:
        return Outcome(Kind.ANSWERED, desk.tongue.say("Noted: 1 {word} is {litres} L.", **values))
    was = desk.tongue.number(before)
    return Outcome(
        Kind.CHANGED, desk.tongue.say("Changed: 1 {word} is {litres} L (was {before} L).", before=was, **values)
    )


def _summary_time(desk: Desk, request: Request) -> Outcome:
    changes = _weekday_and_hour(request)
    if not changes:
        return Outcome(Kind.ASKED, desk.tongue.say("When shall the week come? Text it like: summary on sunday 18"))
    for name, value in changes.items():
        farms.change_setting(desk.tx, desk.farm.id, name, value, at=desk.sent, message_id=desk.message.id)
    settings = farms.farm(desk.tx, desk.farm.id).settings
    monday = desk.today.toordinal() - desk.today.weekday()
    day = desk.tongue.weekday(desk.today.fromordinal(monday + settings.summary_weekday))
    text = desk.tongue.say("The week comes on {day} at {hour}:00.", day=day, hour=settings.summary_hour)
    return Outcome(Kind.CHANGED, text)


def _weekday_and_hour(request: Request) -> dict[str, int]:
    changes = {}
    if request.word is not None and request.word.isdecimal() and int(request.word) <= 6:
        changes["summary_weekday"] = int(request.word)
    if request.value is not None and 0 <= request.value <= 23:
        changes["summary_hour"] = int(request.value)
    return changes


def _reminders(desk: Desk, request: Request) -> Outcome:
    """Reminders on from an hour, or off."""
    if request.word is None and (request.value is None or not QUIET_UNTIL <= request.value < QUIET_FROM):
        return Outcome(
            Kind.ASKED, desk.tongue.say("At which hour from 6 to 20? Text it like: reminders on 14 / reminders off")
        )
    hour = None if request.word is not None or request.value is None else int(request.value)
    farms.change_setting(desk.tx, desk.farm.id, "reminder_hour", hour, at=desk.sent, message_id=desk.message.id)
    if hour is None:
        return Outcome(Kind.CHANGED, desk.tongue.say("Reminders are off. Nobody is reminded any more."))
    said = desk.tongue.say(
        "Reminders at {hour}:00 to tappers without a word on a tapping day, at most {most} a week. If there is still none "
        "you hear at {morning}:00.",
        hour=hour,
        most=MOST_A_WEEK,
        morning=MORNING,
    )
    return Outcome(Kind.CHANGED, " ".join([said, *_without_calendar(desk)]))


def _without_calendar(desk: Desk) -> list[str]:
    if desk.farm.settings.tapping and desk.farm.settings.tapping_from is not None:
        return []
    return [desk.tongue.say("First set the tapping system and its first day on your page (text: link).")]


def _language(desk: Desk, request: Request) -> Outcome:
    if request.word not in LANGUAGES:
        return Outcome(Kind.REFUSED, desk.tongue.say("I speak: {languages}.", languages=", ".join(LANGUAGES)))
    people.set_language(desk.tx, desk.me.id, request.word)
    return Outcome(Kind.CHANGED, tongue(request.word).say("I answer you in English from now on."))


def _link(desk: Desk, _request: Request) -> Outcome:
    if desk.house.link is None:
        return Outcome(Kind.ANSWERED, desk.tongue.say("Text: week. There is no page for you yet."))
    address = desk.house.link(desk.farm.id, desk.me.id)
    return Outcome(Kind.ANSWERED, desk.tongue.say("Your page, for you alone, for 30 days: {address}", address=address))
