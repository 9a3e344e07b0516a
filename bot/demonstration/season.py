"""A believable season, by a seeded generator: weather, tapping days, litres, DRC, and the texts that report them.

The generator does not use the product's own estimates: litres swing with a block's own level, rain and chance; the true DRC
drifts and drops with rain; sheets weigh a little more or less than expected. Facts in the shape only, no figure is published.
"""

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

#: At the start of the history one block rests while its leaves change.
WINTERING_DAYS = 12

#: Chance of a rainy morning after a dry one and after a wet one: rain comes in spells.
RAIN_AFTER_DRY, RAIN_AFTER_WET = 0.12, 0.45

#: Of rainy mornings, those on which there is no tapping at all.
WASHED_OUT = 0.6


@dataclass(frozen=True)
class Text:
    """One text of the history."""

    at: datetime
    sender: str
    text: str


@dataclass(frozen=True)
class Worded:
    """How people of one language put things. Each list is drawn from at random."""

    litres: Sequence[str]
    rain: Sequence[str]
    no_tap_rain: Sequence[str]
    sick: Sequence[str]
    wintering: Sequence[str]
    rolled: Sequence[str]
    dry: Sequence[str]
    drc: str
    thanks: Sequence[str]


WORDS: Mapping[str, Worded] = {
    "en": Worded(
        litres=("block {b} {l} litres", "{b} {l}l", "B{b} {l} ltr", "blk {b} {l} litres today"),
        rain=(" rain", ", rain early", " some rain"),
        no_tap_rain=("no tap all blocks rain", "rain, no tapping today"),
        sick=("no tapping today, fever",),
        wintering=("block {b} no tapping, wintering",),
        rolled=("rolled {n} sheets",),
        dry=("dry sheets {n} pcs {kg} kg",),
        drc=" drc {d}",
        thanks=("thanks boss", "ok"),
    ),
    "id": Worded(
        litres=("{b} {l} liter", "blok {b} {l} lt", "blok {b} dapat {l} liter"),
        rain=(" hujan", ", hujan dikit"),
        no_tap_rain=("hujan ga nyadap", "hujan pagi, libur sadap"),
        sick=("sakit pak, tidak nyadap",),
        wintering=("blok {b} tidak nyadap, gugur daun",),
        rolled=("giling {n} lembar",),
        dry=("sit kering {n} lembar {kg} kg",),
        drc=" kkk {d}",
        thanks=("makasih pak",),
    ),
    "th": Worded(
        litres=("แปลง {b} {l} ลิตร", "แปลง{b} ได้ {l} ลิตร"),
        rain=(" ฝนตก",),
        no_tap_rain=("ฝนตก วันนี้ไม่ได้กรีด",),
        sick=("ไม่สบาย วันนี้หยุดกรีด",),
        wintering=("แปลง {b} หยุดกรีด ยางผลัดใบ",),
        rolled=("รีด {n} แผ่น",),
        dry=("ยางแห้ง {n} แผ่น {kg} กก.",),
        drc=" drc {d}",
        thanks=("ขอบคุณค่ะ",),
    ),
    "vi": Worded(
        litres=("lô {b} {l} lít", "lo {b} duoc {l} lit"),
        rain=(" mưa nhỏ",),
        no_tap_rain=("mưa, hôm nay nghỉ cạo",),
        sick=("bệnh, nay nghỉ cạo",),
        wintering=("lô {b} nghỉ cạo, rụng lá",),
        rolled=("cán {n} tờ",),
        dry=("tờ khô {n} tờ {kg} kg",),
        drc=" drc {d}",
        thanks=("cảm ơn chị",),
    ),
    "fr": Worded(
        litres=("{b} {l} litres", "parcelle {b} {l} l", "bjr {b} {l} litres"),
        rain=(" pluie", ", un peu de pluie"),
        no_tap_rain=("pluie, pas de saignée aujourd'hui",),
        sick=("malade, pas de saignée",),
        wintering=("{b} pas de saignée, défoliation",),
        rolled=("laminé {n} feuilles",),
        dry=("feuilles sèches {n} pièces {kg} kg",),
        drc=" drc {d}",
        thanks=("merci patronne",),
    ),
    "es": Worded(
        litres=("lote {b} {l} litros", "{b} {l} lts"),
        rain=(" lluvia",),
        no_tap_rain=("lluvia, no hubo pica",),
        sick=("enfermo, hoy no hay pica",),
        wintering=("lote {b} sin picar, defoliación",),
        rolled=("laminé {n} láminas",),
        dry=("láminas secas {n} piezas {kg} kg",),
        drc=" drc {d}",
        thanks=("gracias patrona",),
    ),
}


@dataclass
class _Block:
    """A block's own level of litres and its true DRC, which drift."""

    name: str
    usual: float
    level: float = 1.0
    drc: float = 33.0


def history(farm: Mapping[str, Any], first: date, last: date, dice: random.Random) -> Iterator[Text]:
    """The texts of one farm from `first` to `last`, in the order of their sending."""
    zone = ZoneInfo(farm["timezone"])
    tappers = [each for each in farm["people"] if each["role"] == "tapper"]
    blocks = {
        name: _Block(name, float(block["usual_litres"]), drc=dice.uniform(30, 36))
        for name, block in farm["blocks"].items()
    }
    resting = dice.choice(list(blocks))
    wet = False
    drying: list[tuple[date, int, float]] = []
    for n in range((last - first).days + 1):
        day = first + timedelta(days=n)
        wet = dice.random() < (RAIN_AFTER_WET if wet else RAIN_AFTER_DRY)
        washed_out = wet and dice.random() < WASHED_OUT
        dry_kg = 0.0
        for order, tapper in enumerate(tappers):
            if (n + order) % farm["interval_days"] or day.weekday() == 6:
                continue
            own = [blocks[name] for name in tapper["blocks"]]
            resting_now = resting if n < WINTERING_DAYS else None
            texts, gave = _morning(tapper, own, wet, washed_out, resting_now, dice)
            dry_kg += gave
            yield from _timed(day, zone, tapper["number"], texts, dice)
        if dry_kg > 0.5:
            sheets = max(1, round(dry_kg / 0.5 * dice.uniform(0.94, 1.05)))
            drying.append((day, sheets, dry_kg * dice.uniform(0.95, 1.03)))
            worker = tappers[0]
            yield Text(_at(day, time(15), zone, dice), worker["number"], _one(worker, "rolled", dice, n=sheets))
        yield from _weekly(farm, day, zone, drying, dice)


def _morning(
    tapper: Mapping[str, Any],
    own: Sequence[_Block],
    wet: bool,
    washed_out: bool,
    resting: str | None,
    dice: random.Random,
) -> tuple[list[str], float]:
    """What one tapper texts on a tapping day, and the dry rubber that he really brought."""
    if washed_out:
        return [_one(tapper, "no_tap_rain", dice)], 0.0
    if dice.random() < 0.02:
        return [_one(tapper, "sick", dice)], 0.0
    texts, dry_kg = [], 0.0
    for block in own:
        if block.name == resting:
            texts.append(_one(tapper, "wintering", dice, b=block.name))
            continue
        litres = _litres(block, wet, dice)
        dry_kg += litres * 0.98 * block.drc / 100
        text = _one(tapper, "litres", dice, b=block.name, l=_number(litres, tapper["language"]))
        if wet:
            text += dice.choice(WORDS[tapper["language"]].rain)
        if dice.random() < 0.08:
            text += WORDS[tapper["language"]].drc.format(d=round(block.drc + dice.gauss(0, 1)))
        texts.append(text)
    if dice.random() < 0.05:
        texts.append(dice.choice(WORDS[tapper["language"]].thanks))
    return texts, dry_kg


def _litres(block: _Block, wet: bool, dice: random.Random) -> float:
    block.level = min(max(block.level + dice.gauss(0, 0.03), 0.75), 1.2)
    block.drc = min(max(block.drc + dice.gauss(0, 0.25) - (0.8 if wet else 0.0), 27.0), 39.0)
    litres = block.usual * block.level * (0.8 if wet else 1.0) * dice.uniform(0.92, 1.08)
    return round(litres * 2) / 2


def _weekly(
    farm: Mapping[str, Any], day: date, zone: ZoneInfo, drying: list[tuple[date, int, float]], dice: random.Random
) -> Iterator[Text]:
    """Once a week: dry sheets are weighed, the collector comes, the owner counts the acid."""
    if day.weekday() != 4:
        return
    dry = [each for each in drying if (day - each[0]).days >= 6]
    if not dry:
        return
    drying[:] = [each for each in drying if each not in dry]
    sheets = sum(each[1] for each in dry)
    kg = round(sum(each[2] for each in dry), 1)
    worker = next(each for each in farm["people"] if each["role"] == "tapper")
    collector = next(each for each in farm["people"] if each["role"] == "collector")
    owner = next(each for each in farm["people"] if each["role"] == "owner")
    written = _number(kg, worker["language"])
    yield Text(_at(day, time(8), zone, dice), worker["number"], _one(worker, "dry", dice, n=sheets, kg=written))
    weighed = round(kg * dice.uniform(0.985, 1.01), 1)
    take = f"took {sheets} sheets {weighed} kg rss3 1.55 from {farm['name']}"
    yield Text(_at(day, time(11), zone, dice), collector["number"], take)
    left = {"en": "{l} litres of acid left", "id": "sisa asam {l} liter", "fr": "il reste {l} litres d'acide"}
    litres = _number(round(dice.uniform(0.8, 3.0), 1), owner["language"])
    yield Text(_at(day, time(17), zone, dice), owner["number"], left[owner["language"]].format(l=litres))


def _timed(day: date, zone: ZoneInfo, number: str, texts: Sequence[str], dice: random.Random) -> Iterator[Text]:
    at = _at(day, time(9), zone, dice)
    for n, text in enumerate(texts):
        yield Text(at + timedelta(minutes=3 * n), number, text)


def _at(day: date, hour: time, zone: ZoneInfo, dice: random.Random) -> datetime:
    return datetime.combine(day, hour, zone) + timedelta(minutes=dice.randrange(50))


def _one(person: Mapping[str, Any], kind: str, dice: random.Random, **values: object) -> str:
    return str(dice.choice(getattr(WORDS[person["language"]], kind))).format(**values)


def _number(value: float, language: str) -> str:
    written = f"{value:g}"
    return written.replace(".", ",") if language in ("fr", "id", "vi", "es") else written
