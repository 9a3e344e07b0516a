"""How people of each language put what they have to say. The season tests the house and no odd words: these are read right."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from random import Random

from bot.demonstration.season import WORDS

LANGUAGES = ("en", "fr", "id", "th", "vi", "es")

#: Languages that write a decimal comma.
COMMA = frozenset({"fr", "id", "vi", "es"})

#: Tongues in which the season's collectors write.
OF_COLLECTORS = ("en", "fr", "id", "es", "vi")


@dataclass(frozen=True)
class Said:
    """What is said beside latex and sheets. Each list is drawn from at random."""

    yesterday: Sequence[str]
    other_figure: Sequence[str]
    other_block: Sequence[str]
    lump: Sequence[str]
    disputed: Sequence[str]
    agreed: Sequence[str]
    block_phone: str
    enrol: str
    dismiss: str
    pay_a_day: str
    pay_share: str
    advance: str
    pay_due: str
    settle: str


SAID: Mapping[str, Said] = {
    "en": Said(
        yesterday=("yesterday block {b} {l} litres", "block {b} {l} litres yesterday"),
        other_figure=("sorry block {b} was {new} not {old}", "block {b} {new} litres not {old}"),
        other_block=("sorry block {new} not {old}", "sorry that was block {new} not block {old}"),
        lump=("cup lump block {b} {kg} kg",),
        disputed=("{n} it was {kg} kg", "receipt {n}: {kg} kg on my own scale"),
        agreed=("{n} ok",),
        block_phone="block {name}",
        enrol="add tapper {name} {number} blocks {blocks}",
        dismiss="dismiss {name}",
        pay_a_day="pay {name} {rate} a day",
        pay_share="pay {name} {rate}%",
        advance="advance {name} {amount}",
        pay_due="pay due?",
        settle="settle {total}",
    ),
    "fr": Said(
        yesterday=("hier parcelle {b} {l} litres",),
        other_figure=("pardon parcelle {b} {new} pas {old}",),
        other_block=("pardon parcelle {new} pas {old}",),
        lump=("fonds de tasse parcelle {b} {kg} kg",),
        disputed=("{n} c'était {kg} kg",),
        agreed=("{n} ok",),
        block_phone="bloquer {name}",
        enrol="ajouter saigneur {name} {number} parcelles {blocks}",
        dismiss="retirer saigneur {name}",
        pay_a_day="paie {name} {rate} par jour",
        pay_share="paie {name} {rate}%",
        advance="avance {name} {amount}",
        pay_due="la paie?",
        settle="solder {total}",
    ),
    "id": Said(
        yesterday=("kemarin blok {b} {l} liter",),
        other_figure=("maaf blok {b} {new} bukan {old}",),
        other_block=("maaf blok {new} bukan {old}",),
        lump=("lump blok {b} {kg} kg",),
        disputed=("{n} sebenarnya {kg} kg",),
        agreed=("{n} ok",),
        block_phone="blokir {name}",
        enrol="tambah penyadap {name} {number} blok {blocks}",
        dismiss="keluarkan penyadap {name}",
        pay_a_day="gaji {name} {rate} per hari",
        pay_share="gaji {name} {rate}%",
        advance="kasbon {name} {amount}",
        pay_due="berapa gaji?",
        settle="lunas {total}",
    ),
    "th": Said(
        yesterday=("เมื่อวาน แปลง {b} {l} ลิตร",),
        other_figure=("ขอโทษ แปลง {b} {new} ไม่ใช่ {old}",),
        other_block=("ขอโทษ แปลง {new} ไม่ใช่ {old}",),
        lump=("ขี้ยาง แปลง {b} {kg} กก.",),
        disputed=("{n} น้ำหนัก {kg} กก.",),
        agreed=("{n} ok",),
        block_phone="ระงับเบอร์ {name}",
        enrol="เพิ่มคนกรีด {name} {number} แปลง {blocks}",
        dismiss="เอาคนกรีดออก {name}",
        pay_a_day="ค่าแรง {name} {rate} ต่อวัน",
        pay_share="ค่าแรง {name} {rate}%",
        advance="เบิก {name} {amount}",
        pay_due="ค่าแรงเท่าไร",
        settle="จ่ายแล้ว {total}",
    ),
    "vi": Said(
        yesterday=("hôm qua lô {b} {l} lít",),
        other_figure=("xin lỗi lô {b} {new} không phải {old}",),
        other_block=("xin lỗi lô {new} không phải {old}",),
        lump=("mủ đông lô {b} {kg} kg",),
        disputed=("{n} là {kg} kg mới đúng",),
        agreed=("{n} ok",),
        block_phone="chặn {name}",
        enrol="thêm thợ cạo {name} {number} lô {blocks}",
        dismiss="bỏ thợ {name}",
        pay_a_day="lương {name} {rate} một ngày",
        pay_share="lương {name} {rate}%",
        advance="ứng {name} {amount}",
        pay_due="lương bao nhiêu?",
        settle="thanh toán {total}",
    ),
    "es": Said(
        yesterday=("ayer lote {b} {l} litros",),
        other_figure=("perdón lote {b} {new} no {old}",),
        other_block=("perdón lote {new} no {old}",),
        lump=("chipa lote {b} {kg} kg",),
        disputed=("{n} eran {kg} kg",),
        agreed=("{n} ok",),
        block_phone="bloquear {name}",
        enrol="agregar picador {name} {number} lotes {blocks}",
        dismiss="quitar picador {name}",
        pay_a_day="pago {name} {rate} por día",
        pay_share="pago {name} {rate}%",
        advance="anticipo {name} {amount}",
        pay_due="cuánto es el pago?",
        settle="liquidar {total}",
    ),
}


@dataclass(frozen=True)
class Collected:
    """How a collector puts a round. `why` says why a grade was given."""

    at: Sequence[str]
    took: str
    sheets: str
    lump: str
    latex: str
    tare: str
    moisture: str
    why: Mapping[str, str]
    again: str


COLLECTED: Mapping[str, Collected] = {
    "en": Collected(
        at=("at {place}", "arrived {place}", "at {number}"),
        took="took ",
        sheets="{n} sheets {kg} kg {grade}{more} from {farm}",
        lump="lump {kg} kg{more} from {farm}",
        latex="latex {kg} kg drc {drc} from {farm}",
        tare=" tare {kg} kg",
        moisture=" moisture {percent}%",
        why={"mould": " mould", "dirt": " dirty", "bubbles": " bubbles"},
        again="again ",
    ),
    "fr": Collected(
        at=("suis à {place}", "arrivé à {place}"),
        took="pris ",
        sheets="{n} feuilles {kg} kg {grade}{more} de {farm}",
        lump="fonds de tasse {kg} kg{more} de {farm}",
        latex="latex {kg} kg drc {drc} de {farm}",
        tare=" tare {kg} kg",
        moisture=" humidité {percent}%",
        why={"mould": " moisi", "dirt": " sale", "bubbles": " bulles"},
        again="encore ",
    ),
    "id": Collected(
        at=("di {place}", "sampai di {place}"),
        took="ambil ",
        sheets="{n} lembar {kg} kg {grade}{more} dari {farm}",
        lump="lump {kg} kg{more} dari {farm}",
        latex="lateks {kg} kg kkk {drc} dari {farm}",
        tare=" tara {kg} kg",
        moisture=" kadar air {percent}%",
        why={"mould": " jamur", "dirt": " kotor", "bubbles": " gelembung"},
        again="lagi ",
    ),
    "es": Collected(
        at=("estoy en {place}", "llegué a {place}"),
        took="recogí ",
        sheets="{n} láminas {kg} kg {grade}{more} de {farm}",
        lump="chipa {kg} kg{more} de {farm}",
        latex="látex {kg} kg drc {drc} de {farm}",
        tare=" tara {kg} kg",
        moisture=" humedad {percent}%",
        why={"mould": " moho", "dirt": " sucio", "bubbles": " burbujas"},
        again="otra vez ",
    ),
    "vi": Collected(
        at=("tại {place}", "tới {place}"),
        took="lấy ",
        sheets="{n} tờ {kg} kg {grade}{more} từ {farm}",
        lump="mủ đông {kg} kg{more} từ {farm}",
        latex="mủ nước {kg} kg drc {drc} từ {farm}",
        tare=" bì {kg} kg",
        moisture=" độ ẩm {percent}%",
        why={"mould": " mốc", "dirt": " bẩn", "bubbles": " bọt"},
        again="thêm ",
    ),
}


def figure(value: object, language: str) -> str:
    """A number as people of a language write it in a text."""
    written = f"{value}"
    written = written.rstrip("0").rstrip(".") if "." in written else written
    return written.replace(".", ",") if language in COMMA else written


def of_latex(language: str, dice: Random, block: str, litres: object, *, rain: bool) -> str:
    """`block 3 18 litres rain`."""
    words = WORDS[language]
    said = str(dice.choice(words.litres)).format(b=block, l=figure(litres, language))
    return said + (str(dice.choice(words.rain)) if rain else "")


def of_sheets(language: str, dice: Random, count: int, kg: object | None = None) -> str:
    """Sheets rolled, or weighed dry where a weight is given."""
    words = WORDS[language]
    if kg is None:
        return str(dice.choice(words.rolled)).format(n=count)
    return str(dice.choice(words.dry)).format(n=count, kg=figure(kg, language))


def put(language: str, dice: Random, what: str, **values: object) -> str:
    """One of the other things that people of a farm say."""
    forms = getattr(SAID[language], what)
    chosen = forms if isinstance(forms, str) else dice.choice(list(forms))
    return str(chosen).format(**{name: _plain(value, language) for name, value in values.items()})


def _plain(value: object, language: str) -> str:
    return str(value) if isinstance(value, str) else figure(value, language)
