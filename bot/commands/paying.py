"""`pay`: what a tapper earns. It needs neither settings nor books."""

from decimal import Decimal, InvalidOperation
from typing import Any

import click

from bot.commands.common import JSON, BadInput, as_json
from bot.commands.figures import Amount, one_line
from bot.rubber import pay as wages
from bot.rubber.money import rounded, share_of
from bot.rubber.pay import Cost, Norm, PerDay, PerHundredTrees, PerKilo, Share, Term, Work
from bot.rubber.selling import Sale, latex_sale


@click.command()
@click.option("--day", "days", multiple=True, metavar="KG[/TREES]", help="A day's dry kg and trees; once for each day.")
@click.option("--per-kilo", type=Amount(), help="Rate a kg of dry rubber.")
@click.option("--per-100-trees", type=Amount(), help="Rate for every 100 trees tapped.")
@click.option("--per-day", type=Amount(), help="Rate a day.")
@click.option("--norm", metavar="BASE/KG/OVER", help="Base a day up to so many dry kg, and the rate a kg above.")
@click.option("--sale", "sold", type=Amount(), help="Amount of the sale that is shared.")
@click.option("--latex", type=Amount(), help="Instead of --sale: kg of latex, with --drc and --price.")
@click.option("--drc", type=Amount(), help="Its dry rubber content, percent.")
@click.option("--price", type=Amount(), help="Price a kg of dry rubber.")
@click.option("--share", "share", metavar="SHARE", help="The tapper's share of the sale: 45%, 1/3, 45:55.")
@click.option(
    "--cost", "costs", multiple=True, metavar="NAME=AMOUNT[:WHO]", help="A cost, taken before the split or from WHO."
)
@click.option("--advance", type=Amount(), help="An advance that the tapper still owes.")
@click.option("--take-back", default="100%", show_default=True, help="The most of the pay that goes into the advance.")
@click.option("--decimals", type=click.IntRange(0, 4), default=2, show_default=True, help="Decimals of the currency.")
@JSON
def pay(plain_json: bool, **given: Any) -> None:
    """What a tapper earns: by kilo, trees, day, norm, a share of the sale, or several of these together.

    WHO of a cost is before (if left out), owner or tapper. Every amount is rounded once and all parts add up.

    
    Example:
      tapping-log pay --latex 100 --drc 32 --price 67 --share 45% --cost acid=40
      tapping-log pay --day 9.4/300 --day 14/310 --norm 12.50/11/0.90
    """
    with one_line():
        answer = _pay(given, given["decimals"])
    if plain_json:
        click.echo(as_json(answer))
    else:
        _say_pay(answer)


def _pay(given: dict[str, Any], decimals: int) -> dict[str, Any]:
    sale = _sale(given, decimals)
    sold = sale.amount if sale else rounded(given["sold"] or Decimal(0), decimals)
    work = Work(tuple(map(_day, given["days"])), sales=sold, costs=tuple(map(_cost, given["costs"])))
    terms = _terms(given)
    if any(isinstance(term, Share) for term in terms) and not (sale or given["sold"] is not None):
        raise BadInput("a share needs the sale: give --sale, or --latex with --drc and --price")
    earned = wages.pay(work, terms, decimals)
    answer: dict[str, Any] = {
        "lines": [{"label": line.label, "rule": line.rule, "amount": str(line.amount)} for line in earned.lines],
        "tapper": str(earned.amount),
    }
    if sale:
        answer = {"sale": {"rule": sale.rule, "amount": str(sale.amount), "sources": list(sale.sources)}} | answer
    if given["share"]:
        answer["owner_share"] = str(wages.share_sale(sold, share_of(given["share"]), work.costs, decimals).owner)
    if given["advance"] is not None:
        answer["advance"] = _advance(earned.amount, given, decimals)
    return answer


def _sale(given: dict[str, Any], decimals: int) -> Sale | None:
    parts = [given[name] for name in ("latex", "drc", "price")]
    if all(part is None for part in parts):
        return None
    if any(part is None for part in parts) or given["sold"] is not None:
        raise BadInput("give --latex, --drc and --price together, and no --sale with them")
    return latex_sale(given["latex"], given["drc"], given["price"], decimals)


def _terms(given: dict[str, Any]) -> list[Term]:
    terms: list[Term] = []
    for option, term in (("per_kilo", PerKilo), ("per_100_trees", PerHundredTrees), ("per_day", PerDay)):
        if given[option] is not None:
            terms.append(term(given[option]))
    if given["norm"]:
        base, norm, over = _numbers(given["norm"], 3, "a norm is BASE/KG/OVER, such as 12.50/11/0.90")
        terms.append(Norm(base, norm, over))
    if given["share"]:
        terms.append(Share(share_of(given["share"])))
    if not terms:
        raise BadInput("say how it is paid: --share, --per-kilo, --per-100-trees, --per-day or --norm")
    return terms


def _day(text: str) -> wages.Day:
    """A day written 9.4 or 9.4/300."""
    kilos, _, trees = text.partition("/")
    (kg,) = _numbers(kilos, 1, "a day is KG or KG/TREES, such as 9.4/300")
    if trees and not trees.isdecimal():
        raise BadInput(f'"{trees}" is no number of trees; a day is KG or KG/TREES, such as 9.4/300')
    return wages.Day(kg, int(trees or 0))


def _cost(text: str) -> Cost:
    """A cost written acid=40 or knife=5:tapper."""
    label, _, rest = text.partition("=")
    figure, _, borne = rest.partition(":")
    (amount,) = _numbers(figure, 1, "a cost is NAME=AMOUNT or NAME=AMOUNT:WHO, such as acid=40")
    match borne or "before":
        case "before" | "owner" | "tapper" as who:
            return Cost(label, amount, who)
    raise BadInput(f'"{borne}" bears no cost; it is before, owner or tapper')


def _numbers(text: str, count: int, form: str) -> tuple[Decimal, ...]:
    """So many numbers of 0 or more with slashes between them."""
    try:
        numbers = tuple(Decimal(part) for part in text.split("/"))
    except InvalidOperation:
        numbers = ()
    if len(numbers) != count or not all(number.is_finite() and number >= 0 for number in numbers):
        raise BadInput(f'"{text}" cannot be used: {form}')
    return numbers


def _advance(earned: Decimal, given: dict[str, Any], decimals: int) -> dict[str, str]:
    found = wages.settle(earned, given["advance"], decimals, share_of(given["take_back"]))
    return {"taken_back": str(found.recovered), "paid": str(found.paid), "still_owed": str(found.still_owed)}


def _say_pay(answer: dict[str, Any]) -> None:
    if "sale" in answer:
        click.echo(f"Sale      {answer['sale']['amount']:>12}  {answer['sale']['rule']}")
    for line in answer["lines"]:
        click.echo(f"          {line['amount']:>12}  {line['label']}: {line['rule']}")
    click.echo(f"Tapper    {answer['tapper']:>12}")
    if "owner_share" in answer:
        click.echo(f"Owner     {answer['owner_share']:>12}  his share of the sale")
    if "advance" in answer:
        advance = answer["advance"]
        click.echo(f"Paid out  {advance['paid']:>12}  after {advance['taken_back']} for the advance")
        click.echo(f"Owed      {advance['still_owed']:>12}")
    click.echo("Laws on wages, working time and age come first.")
