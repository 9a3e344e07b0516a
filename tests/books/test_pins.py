"""PINs in the books, on both engines: tries are counted one by one, however many come at once."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

from bot.books import Books, pins
from tests.books import made


def with_pin(books: Books) -> str:
    with books.transaction() as tx:
        person = made.a_person(tx, made.a_farm(tx).id).id
        pins.choose(tx, person, pins.hashed("482193"), made.NOW)
    return person


def attempt(books: Books, person: str, pin: str, hours: float = 0) -> bool:
    return books.run_transaction(lambda tx: pins.attempt(tx, person, pin, made.NOW + timedelta(hours=hours)))


def test_the_right_pin_is_right_and_a_wrong_one_is_not(books: Books) -> None:
    person = with_pin(books)

    assert attempt(books, person, "482193")
    assert not attempt(books, person, "482194")
    assert attempt(books, person, "482193")


def test_one_without_a_pin_has_no_right_one(books: Books) -> None:
    with books.transaction() as tx:
        person = made.a_person(tx, made.a_farm(tx).id).id
        pins.hinted(tx, person, made.NOW)

    assert not attempt(books, person, "482193")
    assert not attempt(books, person, "")


def test_after_the_fifth_wrong_one_none_is_right_any_more(books: Books) -> None:
    person = with_pin(books)
    for n in range(5):
        assert not attempt(books, person, f"48219{n + 4}")

    assert not attempt(books, person, "482193")
    assert not attempt(books, person, "482193", hours=1000)


def test_wrong_ones_of_another_day_do_not_count(books: Books) -> None:
    person = with_pin(books)
    for n in range(4):
        attempt(books, person, f"48219{n + 4}")

    assert not attempt(books, person, "000000", hours=24)
    assert attempt(books, person, "482193", hours=24)


def test_many_guesses_at_once_get_no_more_tries_than_one_by_one(books: Books) -> None:
    person = with_pin(books)
    guesses = [f"{n:06}" for n in range(12)] + ["482193"]
    with ThreadPoolExecutor(8) as senders:
        for guess in guesses[:-1]:
            senders.submit(attempt, books, person, guess)

    assert not attempt(books, person, guesses[-1])
    with books.transaction() as tx:
        assert pins.of(tx, person).blocked_at is not None


def test_a_reset_takes_pin_and_block_away(books: Books) -> None:
    person = with_pin(books)
    for _ in range(5):
        attempt(books, person, "1")
    with books.transaction() as tx:
        pins.reset(tx, person)
        assert pins.of(tx, person) == pins.Pin(False, None, None)
        pins.choose(tx, person, pins.hashed("903571"), made.NOW)

    assert attempt(books, person, "903571")
