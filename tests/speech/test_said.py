"""Sentences that are reckoned with their figures are said in any language, sentences within them too."""

from bot.reckon.wording import figure, later
from bot.speech.language import page_tongue
from bot.speech.said import said

BALANCE = later("{name}'s balance", name="Mara")
SHOWS = later(
    "{balance} shows {percent} than the others. Which one reads true? Hang the same weight on both.",
    balance=BALANCE,
    percent=later("{percent} % less", percent=figure(5)),
)


def test_it_reads_as_english_where_it_is_reckoned() -> None:
    assert (
        SHOWS == "Mara's balance shows 5.0 % less than the others. Which one reads true? Hang the same weight on both."
    )
    assert said(page_tongue("en"), SHOWS) == SHOWS


def test_it_is_said_in_another_language_with_figures_as_there() -> None:
    assert said(page_tongue("fr"), SHOWS).startswith("Balance de Mara : 5,0 % de moins que les autres.")
    assert said(page_tongue("th"), BALANCE) == "ตาชั่งของ Mara"


def test_a_name_is_as_it_is() -> None:
    assert said(page_tongue("fr"), "Ama") == "Ama"
