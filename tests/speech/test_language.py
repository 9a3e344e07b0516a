"""Every sentence has a translation, and answers keep to cheap characters and few parts."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from babel.messages.catalog import Message

from bot.speech.language import LANGUAGES, PAGE, SOURCE, Tongue, economical, page_tongue, tongue
from bot.speech.parts import count_parts, in_gsm7
from tests.speech.sentences import catalogue, in_python, of_pages, of_texts

OTHERS = [language for language in LANGUAGES if language != SOURCE]


@pytest.mark.parametrize("language", OTHERS)
def test_every_sentence_is_translated_with_the_same_places_for_values(language: str) -> None:
    messages = catalogue(language)

    assert set() == of_texts() - {source for context, source in messages if context is None}
    assert set() == of_pages() - {source for context, source in messages if context == PAGE}
    for (_, source), message in messages.items():
        for form in forms(message):
            assert form.strip(), source
            assert places(form) == places(source), source


def places(text: str) -> list[str]:
    return sorted(part.split("}")[0] for part in text.split("{")[1:])


def forms(message: Message) -> tuple[str, ...]:
    return (message.string,) if isinstance(message.string, str) else message.string


@pytest.mark.parametrize("language", OTHERS)
def test_words_of_pages_are_those_that_pages_say(language: str) -> None:
    assert {source for context, source in catalogue(language) if context == PAGE} == of_pages()


def test_vietnamese_that_pages_show_has_its_marks() -> None:
    """Three Vietnamese words in a row without any mark are words that lost theirs."""
    files = [*Path("bot/speech").glob("*.py"), Path("bot/week/words.py"), Path("bot/week/concerns.py")]
    of_both = {message for path in files for message in in_python(path)}
    shown = [each for (context, source), each in catalogue("vi").items() if context == PAGE or source in of_both]
    bare = [form for each in shown for form in forms(each) if form.isascii() and len(re.findall(WORD, form)) >= 3]

    assert bare == []


#: A word of small letters, not one between braces.
WORD = r"(?<![{\w])[A-Za-z]{2,}(?![}\w])"


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("speech", [tongue, page_tongue])
def test_plurals_are_those_of_the_language(speech: Callable[[str], Tongue], language: str) -> None:
    said = [speech(language).count("{n} sheet", "{n} sheets", n) for n in (0, 1, 2, 11)]

    assert (
        said
        == {
            "en": ["0 sheets", "1 sheet", "2 sheets", "11 sheets"],
            "fr": ["0 feuille", "1 feuille", "2 feuilles", "11 feuilles"],
            "id": ["0 lembar", "1 lembar", "2 lembar", "11 lembar"],
            "th": ["0 แผ่น", "1 แผ่น", "2 แผ่น", "11 แผ่น"],
            "vi": ["0 tờ", "1 tờ", "2 tờ", "11 tờ"],
            "es": ["0 láminas", "1 lámina", "2 láminas", "11 láminas"],
        }[language]
    )


def test_pages_have_their_own_words_and_fall_back_to_those_of_texts() -> None:
    assert (tongue("es").say("week"), page_tongue("es").say("week")) == ("resumen", "semana")
    assert page_tongue("vi").say("yesterday") == tongue("vi").say("yesterday") == "hôm qua"
    assert page_tongue("xx").code == "en"


@pytest.mark.parametrize("language", [language for language in OTHERS if language != "th"])
def test_answers_in_latin_script_use_the_cheap_alphabet(language: str) -> None:
    texts = [tongue(language)._translations.gettext(sentence) for sentence in of_texts()]

    assert [text for text in texts if not in_gsm7(economical(text))] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_nothing_is_less_than_nothing(language: str) -> None:
    speech = page_tongue(language)

    assert [speech.signed(each, 1) for each in (-0.04, 0.04, 0)] == ["0", "0", "0"]
    assert speech.fixed(-0.004, 2) == speech.fixed(0, 2)
    assert speech.signed(4, 0) == "+4"


@pytest.mark.parametrize(("language", "parts"), [("en", 1), ("fr", 1), ("id", 1), ("vi", 1), ("es", 1), ("th", 2)])
def test_the_dose_itself_keeps_to_its_parts(language: str, parts: int) -> None:
    text = tongue(language).say(
        "Water {water} L, then acid {strength}% {ml} ml thinned in {thin} L water (acid into water; gloves, goggles).",
        water="20",
        strength="85",
        ml="26",
        thin="1.3",
    )

    assert parts >= count_parts(economical(text)).parts
