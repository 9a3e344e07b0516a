"""A lot for sale on paper, A4: what it is, its plots with days and kilos, its receipts, and what is not proven."""

from collections.abc import Sequence
from datetime import date, datetime

from bot.papers.ink import SIZES, Align, Ink
from bot.papers.lot_paper import Statement, bales, notes, receipts, remark, table_of
from bot.papers.table import Cell, Table
from bot.speech.language import Tongue

_MARGIN = 14.0
_BOTTOM = 18.0
_WIDTH = SIZES["a4"][0] - 2 * _MARGIN

#: Columns of the table of plots on paper (by place in `lot_paper.columns`), with their widths in mm.
_PLOTS = ((4, 14), (5, 30), (6, 10), (7, 16), (8, 10), (9, 20), (10, 21), (12, 18), (13, 18), (14, 9))
_KG_WIDTH = 18.0
_RECEIPTS = (60.0, 20.0, 30.0, 20.0, 20.0, 32.0)
_BALES = (50.0, 20.0, 16.0, 22.0, 24.0, 24.0, 26.0)


def pdf_of(stated: Statement, now: datetime, speech: Tongue) -> bytes:
    """The lot's paper; `now` is when it is printed."""
    with Ink("a4", speech.say("Lot {name}", name=stated["lot"]), now) as ink:
        _Paper(ink, stated, now, speech).draw()
        return ink.finished()


class _Paper:
    """The drawing: from top to bottom, on a new page where one is full."""

    def __init__(self, ink: Ink, stated: Statement, now: datetime, speech: Tongue) -> None:
        self.ink, self.stated, self.now, self.speech = ink, stated, now, speech
        self.y = 0.0

    def draw(self) -> None:
        self._page()
        self._head()
        say = self.speech.say
        table = table_of(self.stated, self.speech)
        places = [place for place, _ in _PLOTS]
        widths = [*(float(width) for _, width in _PLOTS), _KG_WIDTH]
        heads = [table.columns[place].title for place in places]
        for place, short in ((8, "ha"), (12, say("First day")), (13, say("Last day")), (14, say("Days"))):
            heads[places.index(place)] = short
        heads.append("kg")
        known = [row for row in table.rows if row[5] is not None]
        rows = [[_text(row[place]) for place in places] + [_text(row[15])] for row in known]
        for n, row in enumerate(known):
            if row[11] is not None:
                rows[n][5] = say("border in file")
        self._table(say("Plots"), heads, widths, rows)
        self._unknown()
        if self.stated.get("bales"):
            self._plain(bales(self.stated, self.speech), _BALES)
        self._plain(receipts(self.stated, self.speech), _RECEIPTS)
        self._lines(say("Not proven"), [row[0] for row in notes(self.stated, self.speech).rows])

    def _page(self) -> None:
        self.ink.add_page()
        self.ink.use("", 7)
        foot = self.speech.say(
            "Lot {name}, printed {at} UTC, page {n}",
            name=self.stated["lot"],
            at=f"{self.now:%Y-%m-%d %H:%M}",
            n=self.ink.page_no(),
        )
        self.ink.put_line(foot, _MARGIN, SIZES["a4"][1] - 12, _WIDTH)
        self.y = _MARGIN

    def _room(self, height: float) -> None:
        if self.y + height > SIZES["a4"][1] - _BOTTOM:
            self._page()

    def _head(self) -> None:
        stated, say = self.stated, self.speech.say
        self._line("B", 18, say("Lot {name}", name=stated["lot"]))
        net = say("not weighed yet") if stated["net_kg"] is None else say("{kg} kg net", kg=stated["net_kg"])
        closed = stated["closed_at"]
        state = say("open") if closed is None else say("closed {day}", day=closed[:10])
        self._line("B", 11, f"{stated['product']}: {net}, {state}")
        if stated["buyer"]:
            self._line("", 10, say("Buyer: {name}", name=stated["buyer"]))
        named = ", ".join(self.speech.country(each) for each in stated["countries"]) or say("not known")
        days = f"{stated['first_tapping_day'] or '-'} - {stated['last_tapping_day'] or '-'}"
        self._line("", 10, say("Country: {countries}. Tapped: {days}.", countries=named, days=days))
        weights = {"received": stated["received_kg"], "known": stated["known_origin_kg"]}
        self._line("", 10, say("By receipts {received} kg, of which {known} kg from known plots.", **weights))
        if stated.get("bales"):
            pieces = sum(each["pieces"] for each in stated["bales"])
            self._line("", 10, say("In {n} bales of {kg} kg together.", n=pieces, kg=stated["bales_kg"]))
        if stated["mixed_with_unknown_origin"]:
            self._line("B", 11, say("MIXED: {kg} kg are of unknown origin.", kg=stated["unknown_origin_kg"]))
        self.y += 3

    def _line(self, weight: str, points: float, text: str) -> None:
        self.ink.use("B" if weight else "", points)
        height = self.ink.height_of(text, _WIDTH)
        self._room(height)
        self.ink.use("B" if weight else "", points)
        self.y = self.ink.put_lines(text, _MARGIN, self.y, _WIDTH)

    def _table(self, title: str, heads: Sequence[str], widths: Sequence[float], rows: Sequence[Sequence[str]]) -> None:
        self._room(20)
        self._line("B", 11, title)
        self._row(heads, widths, bold=True)
        self.ink.rule(_MARGIN, self.y, sum(widths), 0.4)
        for row in rows:
            before = self.ink.page_no()
            self._room(5)
            if self.ink.page_no() != before:
                self._row(heads, widths, bold=True)
            self._row(row, widths, bold=False)
            self.ink.rule(_MARGIN, self.y, sum(widths), 0.1, grey=True)
        self.y += 4

    def _plain(self, made: Table, widths: Sequence[float]) -> None:
        self._table(made.title, made.headings, widths, [[_text(cell) for cell in row] for row in made.rows])

    def _row(self, cells: Sequence[str], widths: Sequence[float], *, bold: bool) -> None:
        self.ink.use("B" if bold else "", 7.5)
        x = _MARGIN
        for place, (cell, width) in enumerate(zip(cells, widths, strict=True)):
            side: Align = "R" if place == len(cells) - 1 else "L"
            self.ink.put_line(cell, x + 0.4, self.y + 0.5, width - 1.2, side)
            x += width
        self.y += 4.6

    def _unknown(self) -> None:
        if self.stated["unknown"]:
            lines = [f"{each['kg']} kg: {remark(self.speech, each['what'])}" for each in self.stated["unknown"]]
            self._lines(self.speech.say("Unknown origin"), lines)

    def _lines(self, title: str, lines: Sequence[Cell]) -> None:
        self._room(14)
        self._line("B", 11, title)
        for each in lines:
            self._line("", 8.5, f"- {each}")
        self.y += 4


def _text(cell: Cell) -> str:
    if isinstance(cell, datetime):
        return f"{cell:%Y-%m-%d %H:%M}"
    return "" if cell is None else cell.isoformat() if isinstance(cell, date) else str(cell)
