"""Every sentence has a translation, and answers keep to cheap characters and few parts."""

import ast
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

from bot.speech.language import LANGUAGES, SOURCE, economical, tongue
from bot.speech.parts import count_parts, in_gsm7

OTHERS = [language for language in LANGUAGES if language != SOURCE]


def sentences() -> set[str]:
    """Every message in the code: the first argument of `say` and `count`."""
    found = set()
    for path in Path("bot").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            is_call = (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Attribute)
                and node.func.attr in ("say", "count")
            )
            if is_call and node.args and isinstance(node.args[0], ast.Constant):
                found.add(node.args[0].value)
    return found


@pytest.mark.parametrize("language", OTHERS)
def test_every_sentence_is_translated_with_the_same_places_for_values(language: str) -> None:
    with Path(f"bot/speech/catalogues/{language}.po").open("rb") as file:
        catalogue = {
            (m.id if isinstance(m.id, str) else m.id[0]): m.string for m in read_po(file, locale=language) if m.id
        }

    assert set() == sentences() - catalogue.keys()
    for source, translation in catalogue.items():
        for form in (translation,) if isinstance(translation, str) else translation:
            assert sorted(part.split("}")[0] for part in source.split("{")[1:]) == sorted(
                part.split("}")[0] for part in form.split("{")[1:]
            ), source


@pytest.mark.parametrize("language", [language for language in OTHERS if language != "th"])
def test_answers_in_latin_script_use_the_cheap_alphabet(language: str) -> None:
    texts = [tongue(language)._translations.gettext(sentence) for sentence in sentences()]

    assert [text for text in texts if not in_gsm7(economical(text))] == []


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
