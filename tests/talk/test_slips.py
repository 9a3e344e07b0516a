"""Slips of pay and receipts in the language of those who get them: words, numbers and days."""

import re
from datetime import date, timedelta
from pathlib import Path

import pytest

from bot.books import people, wages
from bot.papers import pay
from bot.speech.language import LANGUAGES, economical, tongue
from tests.small_farm import GUS, KOFI, OWNER, SmallFarm
from tests.speech.leftover import english_in

MONDAY = date(2026, 3, 2)
OTHERS = [language for language in LANGUAGES if language != "en"]
TERMS = (
    "pay all 0.40 per kg",
    "pay all 1.5 per 100 trees",
    "pay all 5.5 a day",
    "pay all 45%",
    "pay all norm 5/12/0.30",
)


class Week:
    """A week of the farm; Kofi and the collector get their texts in another language than the owner."""

    def __init__(self, folder: Path, language: str, terms: str) -> None:
        self.hill = hill = SmallFarm(folder, settings={"pay_period": "week"})
        hill.text(OWNER, MONDAY - timedelta(days=8), terms)
        hill.text(KOFI, MONDAY, "18 litres")
        hill.text(KOFI, MONDAY + timedelta(days=1), "35.5 litres")
        hill.text(OWNER, MONDAY, "rolled 24 sheets")
        hill.text(OWNER, MONDAY, "advance Kofi 2.5")
        hill.text(OWNER, MONDAY, "deduct Kofi 1")
        with hill.books.transaction() as tx:
            for number in (KOFI, GUS):
                person = people.person_by_number(tx, number)
                assert person is not None
                people.set_language(tx, person.id, language)
            kofi = people.person_by_number(tx, KOFI)
            assert kofi is not None
            self.kofi = kofi.id
        took = hill.text(GUS, MONDAY + timedelta(days=2), "Hill Farm 12 sheets 7.45 kg rss3 1.55")
        self.taken = took.text or ""
        self.receipt = next(each.text for each in took.to_others if each.to == KOFI)

    def slip(self, monday: date = MONDAY + timedelta(days=7)) -> str:
        due = re.search(r"settle ([\d.]+)", self.hill.said(OWNER, monday, "pay due?"))
        assert due is not None
        settled = self.hill.text(OWNER, monday, f"settle {due[1]}")
        return next(each.text for each in settled.to_others if each.to == KOFI)


@pytest.mark.parametrize("terms", TERMS)
@pytest.mark.parametrize("language", OTHERS)
def test_a_slip_is_in_the_tappers_language_in_words_numbers_and_days(tmp_path: Path, language: str, terms: str) -> None:
    slip = Week(tmp_path, language, terms).slip()

    assert english_in(slip, language) - {"kofi"} == set()
    assert bool(re.search(r"\d\.\d", slip)) is (language == "th")
    assert bool(re.search(r"\d,\d", slip)) is (language != "th")
    assert "2026" not in slip


@pytest.mark.parametrize("language", OTHERS)
def test_the_paper_of_pay_tells_it_in_the_same_words(tmp_path: Path, language: str) -> None:
    week = Week(tmp_path, language, TERMS[0])
    slip = week.slip()
    with week.hill.books.transaction() as tx:
        settled = next(each for each in wages.settlements(tx, week.hill.farm.id) if each.person_id == week.kofi)
    lines = pay.how(tongue(language), settled).split("; ")

    assert len(lines) == 2
    assert all(economical(line).casefold() in slip.casefold() for line in lines)


@pytest.mark.parametrize("language", OTHERS)
def test_what_was_taken_and_its_receipt_are_in_the_language_of_each(tmp_path: Path, language: str) -> None:
    week = Week(tmp_path, language, TERMS[0])

    for text in (week.taken, week.receipt):
        assert english_in(text, language) - {"hill", "farm"} == set()
        assert ("11.55" if language == "th" else "11,55") in text


def test_a_correction_of_settled_days_names_them_as_days_are_written(tmp_path: Path) -> None:
    week = Week(tmp_path, "fr", TERMS[0])
    week.slip()
    week.hill.text(KOFI, MONDAY + timedelta(days=8), "lundi 2 mars bloc 1 20 litres au lieu de 18")
    week.hill.text(KOFI, MONDAY + timedelta(days=8), "bloc 1 18 litres")

    assert "2-8 mars = " in week.slip(MONDAY + timedelta(days=14))
