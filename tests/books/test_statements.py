"""The named statements: one text for both engines, found by keys."""

import re
from pathlib import Path

import pytest

from bot.books import Books, open_books
from bot.books.engines import Session
from bot.books.sqlite import SqliteEngine
from bot.books.statements import parse, statements

TOP = Path(__file__).parents[2]
TEXT = (TOP / "bot/books/queries.sql").read_text(encoding="utf-8")
PARAMETER = re.compile(r"(?<![:\w]):(\w+)")

#: What exists on one engine only or differs between them (tried on SQLite 3.40 and PostgreSQL 15).
NOT_ON_BOTH = re.compile(
    r"(?<!:)\b(strftime|julianday|date_trunc|now|current_timestamp|current_date|greatest|least|round|avg|like|ilike|glob|ifnull|"
    r"rowid|autoincrement|serial|for update|skip locked|json_\w+|group_concat|string_agg|insert or)\b|->|::"
)

#: Statements that go through a whole small table on purpose (farms, cooperatives, points, roles, plots, lots), or count few rows.
WHOLE_TABLES = {
    "ping",
    "all_farms",
    "all_cooperatives",
    "points",
    "all_members",
    "all_owners",
    "all_plots",
    "all_lots",
    "cooperatives_of_grower",
    "lots_of_cooperative",
}


def plan(session: Session, books: Books, word: str, name: str) -> list[dict]:
    sql = statements()[name]
    values = dict.fromkeys(PARAMETER.findall(sql))
    return session.execute(f"{word} {books.engine.translated(sql)}", values)


def test_a_statement_has_a_name_and_a_line_of_purpose() -> None:
    pieces = re.split(r"^-- name: (\w+)\n", TEXT, flags=re.MULTILINE)[1:]

    assert len(pieces) // 2 == len(statements())
    for name, body in zip(pieces[::2], pieces[1::2], strict=True):
        assert body.startswith("-- "), name
        assert body.strip().endswith(";"), name
        assert body.split("\n", 1)[1].count(";") == 1, name


def test_a_name_stands_once() -> None:
    with pytest.raises(ValueError, match="twice"):
        parse("-- name: a\nselect 1;\n-- name: a\nselect 2;\n")


def test_comments_are_left_out() -> None:
    assert parse("-- head\n\n-- name: a\n-- Purpose.\nselect :x\nfrom y;\n") == {"a": "select :x\nfrom y"}


def test_every_statement_is_used() -> None:
    source = "\n".join(path.read_text(encoding="utf-8") for path in (TOP / "bot").rglob("*.py"))

    assert [name for name in statements() if f'"{name}"' not in source] == []


@pytest.mark.parametrize("name", statements())
def test_a_statement_keeps_to_what_both_engines_have(name: str) -> None:
    sql = statements()[name]

    assert NOT_ON_BOTH.findall(sql.casefold()) == []
    assert '"' not in sql
    assert [each for each in re.findall(r"'[^']*'", sql) if ":" in each or "%" in each] == []


@pytest.mark.parametrize("path", sorted((TOP / "bot/books/migrations").glob("*.sql")), ids=lambda path: path.stem)
def test_a_migration_keeps_to_what_both_engines_have(path: Path) -> None:
    bare = "\n".join(line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("--"))

    assert NOT_ON_BOTH.findall(bare.casefold()) == []
    assert (
        re.findall(r"\b(integer|bigint|real|numeric|boolean|timestamp|blob|bytea|trigger|sequence)\b", bare.casefold())
        == []
    )
    assert bare.count("create table") == bare.count("{strict}")


def test_the_engine_understands_every_statement(books: Books) -> None:
    with books.engine.session() as session:
        for name in statements():
            assert plan(session, books, "explain", name), name


@pytest.mark.parametrize(
    "name", [name for name, sql in statements().items() if name not in WHOLE_TABLES and not sql.startswith("insert")]
)
def test_rows_are_found_by_a_key(tmp_path_factory: pytest.TempPathFactory, name: str) -> None:
    books = open_books(tmp_path_factory.getbasetemp() / "plans.sqlite")
    with books.engine.session() as session:
        steps = [row["detail"] for row in plan(session, books, "explain query plan", name)]
    books.close()

    assert [step for step in steps if step.startswith("SCAN")] == []


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("person_by_number", "sqlite_autoindex_people_2 (number=?)"),
        ("message", "sqlite_autoindex_messages_1 (id=?)"),
        ("standing", "entries_by_day (farm_id=? AND day>? AND day<?)"),
        ("standing_of_kind", "entries_by_kind (farm_id=? AND what=? AND day>? AND day<?)"),
        ("successor", "sqlite_autoindex_entries_2 (replaces=?)"),
        ("claim", "outbox_waiting (state=? AND due_at<?)"),
        ("latest_farm_of", "entries_by_person (by_person=?)"),
        ("parts_with_an_end", "outbox_by_time (created_at>?)"),
        ("position_of_take", "INDEX entries_of_takes (farm_id=? AND id<?)"),
        ("highest_receipt", "INDEX entries_of_takes (farm_id=? AND id<?)"),
    ],
)
def test_what_every_text_asks_for_is_found_by_its_own_key(
    tmp_path_factory: pytest.TempPathFactory, name: str, key: str
) -> None:
    books = open_books(tmp_path_factory.getbasetemp() / "plans.sqlite")
    with books.engine.session() as session:
        steps = " ".join(row["detail"] for row in plan(session, books, "explain query plan", name))
    books.close()

    assert key in steps


@pytest.mark.parametrize(
    ("written", "translated"),
    [
        ("select :a", "select %(a)s"),
        ("select :a, :ab where x = :a", "select %(a)s, %(ab)s where x = %(a)s"),
        ("select 5 % 2", "select 5 %% 2"),
        ("select x::text", "select x::text"),
    ],
)
def test_parameters_are_translated(written: str, translated: str) -> None:
    postgres = pytest.importorskip("bot.books.postgres", reason="psycopg is not installed", exc_type=ImportError)

    assert postgres.PostgresEngine.translated(None, written) == translated
    assert SqliteEngine.translated(None, written) == written
