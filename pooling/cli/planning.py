"""`commonwear plan`: a fair test without an account."""

import csv
import io
import re
import secrets
from datetime import date, time
from pathlib import Path
from typing import Annotated, Any

import msgspec
import numpy as np
import typer

from pooling import planning
from pooling.cli.exits import Exit, Stop
from pooling.cli.records import read_bytes, write_bytes
from pooling.cli.terminal import Terminal
from pooling.planning import Plan, PlanInvalid, PlanRequest
from pooling.planning.outlook import Outlook
from pooling.vocabulary import SITES

NOT_REGISTERED = (
    "This plan is registered nowhere. A wear counts as drawn by lot in a pool only if the plan was registered there "
    "before it started; this one is for your own comparison."
)
NOT_KNOWN = (
    "Whether the sensor's instructions name these sites is not known here. One that they do not name is off-label and "
    "at your own risk: read them first, and ask your clinician. A plan never replaces checks that treatment needs."
)
OPTION_OF = {
    "spots": "SITE",
    "wears_per_site": "--wears",
    "pairs_per_wear": "--fingersticks",
    "daily_cap": "--daily-cap",
    "first_day_pairs": "--first-day-fingersticks",
    "waking_min": "--waking-hours",
    "insert_after_waking_min": "--change-after",
    "resting": "--rested",
}
HEADER = ("day", "wear", "do", "after_waking")


def plan(
    sites: Annotated[list[str], typer.Argument(metavar="SITE", hidden=True)],
    life_days: Annotated[
        int, typer.Option("--life-days", metavar="DAYS", min=1, max=60, help="Whole days that a sensor is worn.")
    ],
    wears: Annotated[int, typer.Option("--wears", metavar="N", help="Wears at each site.")] = 2,
    fingersticks: Annotated[
        int | None, typer.Option("--fingersticks", metavar="N", help="In each wear; as many as help unless given.")
    ] = None,
    daily_cap: Annotated[int, typer.Option("--daily-cap", metavar="N", help="Most fingersticks on any day.")] = 5,
    first_day: Annotated[
        int, typer.Option("--first-day-fingersticks", metavar="N", help="How many the first day of a wear has.")
    ] = 3,
    waking_hours: Annotated[
        int, typer.Option("--waking-hours", metavar="H", help="Hours of a day in which you are sure to be awake.")
    ] = 14,
    change_after: Annotated[
        int, typer.Option("--change-after", metavar="MIN", help="Minutes after waking at which a sensor is changed.")
    ] = 60,
    alternating: Annotated[
        bool, typer.Option("--alternating", help="Draw one order and keep it for every round.")
    ] = False,
    rested: Annotated[
        list[str] | None,
        typer.Option("--rested", metavar="SITE:SIDE:DAYS", help="A spot worn lately, and days since; may be repeated."),
    ] = None,
    edition: Annotated[
        str | None, typer.Option("--edition", metavar="FILE", help="The edition.json whose spreads are used.")
    ] = None,
    seed: Annotated[
        int | None, typer.Option("--seed", metavar="N", min=0, help="Draw this order again; any whole number.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON value on standard output.")] = False,
    table: Annotated[Path | None, typer.Option("--csv", metavar="FILE", help="Write the days into this table.")] = None,
    calendar: Annotated[
        Path | None, typer.Option("--ics", metavar="FILE", help="Write a calendar file; needs --starts and --wakes.")
    ] = None,
    starts: Annotated[
        str | None, typer.Option("--starts", metavar="DATE", help="Day of the first sensor, such as 2037-05-04.")
    ] = None,
    wakes: Annotated[str | None, typer.Option("--wakes", metavar="HH:MM", help="When you wake.")] = None,
) -> None:
    """Plan a fair test of two or more sites.

    Draws which site comes when, and spreads fingersticks over the days. SITE is a site of the body, two to six of them,
    such as thigh.front. Says what the test can show before it says the order. Nothing leaves this device.

    \b
    Examples:
      commonwear plan upper_arm.back thigh.front --life-days 14
      commonwear plan upper_arm.back calf --life-days 10 --wears 3 --seed 7
      commonwear plan chest calf --life-days 14 --rested calf:left:5 --csv p.csv
      commonwear plan chest calf --life-days 14 --ics plan.ics \\
        --starts 2037-05-04 --wakes 07:00
    """
    terminal = Terminal(as_json=as_json)
    when = _when(calendar, starts, wakes)
    content = {
        "spots": [{"site": site} for site in sites],
        "sensor_model": "unnamed",
        "wears_per_site": wears,
        "pairs_per_wear": fingersticks,
        "daily_cap": daily_cap,
        "first_day_pairs": min(first_day, max(daily_cap, 0)),
        "waking_min": 60 * waking_hours,
        "insert_after_waking_min": change_after,
        "design": "alternating" if alternating else "blocked",
        "resting": [_spot(text) for text in rested or ()],
    }
    seed = secrets.randbits(32) if seed is None else seed
    request = _request(content)
    seen, made = _drawn(request, seed, life_days, _document(edition))
    if table:
        _write(table, _as_csv(made), terminal)
    if calendar and when:
        first, waking = when
        drawn = planning.plan_ics(
            made,
            token=f"{seed}|{first}",
            first_day=first,
            wakes_at=waking,
            stamped_on=first,
            insert_after_waking_min=change_after,
        )
        _write(calendar, drawn, terminal)
    _show(seen, made, seed, terminal)


def _request(content: dict[str, Any]) -> PlanRequest:
    unknown = [spot["site"] for spot in content["spots"] if spot["site"] not in SITES]
    if unknown:
        raise Stop(Exit.USAGE, f"{', '.join(unknown)}: no such site. There are {', '.join(SITES)}.")
    if len(content["spots"]) < 2:
        raise Stop(Exit.USAGE, "Name two sites or more: a test sets one against another.")
    try:
        return msgspec.convert(content, PlanRequest)
    except msgspec.ValidationError as error:
        said, _, place = str(error).partition(" - at `$.")
        field = re.split(r"[\[.`]", place)[0]
        told = said.replace("`array` of", "").replace("`int`", "a whole number")
        raise Stop(Exit.USAGE, f"{OPTION_OF.get(field, field)}: {told}. See commonwear plan --help.") from None


def _drawn(request: PlanRequest, seed: int, life_days: int, document: Any) -> tuple[Outlook, Plan]:
    # Which sites instructions name stands in the catalogue of a service: nothing is said of them here but `NOT_KNOWN`.
    told = {"rated_life_days": life_days, "licensed_sites": SITES, "document": document}
    try:
        return planning.outlook(request, **told), planning.make_plan(request, np.random.default_rng(seed), **told)
    except PlanInvalid as error:
        lines = [f"{OPTION_OF.get(fault.pointer[2:], fault.pointer)}: {fault.message}" for fault in error.faults]
        raise Stop(Exit.USAGE, "\n".join(lines)) from None


def _spot(text: str) -> dict[str, Any]:
    found = re.fullmatch(r"([a-z_.]+):([a-z]+):(\d{1,3})", text)
    if found is None or found[1] not in SITES:
        raise Stop(Exit.USAGE, f"--rested {text}: write site, side and days, such as thigh.front:left:5.")
    return {"site": found[1], "side": found[2], "days_since": int(found[3])}


def _when(calendar: Path | None, starts: str | None, wakes: str | None) -> tuple[date, time] | None:
    if calendar is None:
        return None
    try:
        return date.fromisoformat(starts or ""), time.fromisoformat(wakes or "")
    except ValueError:
        message = "--ics needs a first day and an hour of waking: --starts 2037-05-04 --wakes 07:00."
        raise Stop(Exit.USAGE, message) from None


def _document(name: str | None) -> Any:
    if name is None:
        return None
    try:
        document = msgspec.json.decode(read_bytes(name))
        planning.wear_spread({name: document[name] for name in ("model", "tables")})
    except (msgspec.DecodeError, KeyError, TypeError, AttributeError, IndexError):
        raise Stop(Exit.FINDINGS, f"{name} is no edition. Take the edition.json of a package.") from None
    return document


def _as_csv(made: Plan) -> bytes:
    text = io.StringIO()
    writer = csv.DictWriter(text, HEADER, lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(planning.rows(made))
    return text.getvalue().encode()


def _write(name: Path, content: bytes, terminal: Terminal) -> None:
    write_bytes(name, content)
    terminal.note(f"written: {name}")


def _show(seen: Outlook, made: Plan, seed: int, terminal: Terminal) -> None:
    rows = planning.rows(made)
    terminal.answer(
        {
            "seed": seed,
            "notes": [NOT_KNOWN, NOT_REGISTERED],
            "steps": msgspec.to_builtins(seen.steps),
            "plan": {name: value for name, value in msgspec.to_builtins(made).items() if name != "sensor_model"},
            "rows": rows,
        }
    )
    if not terminal.as_json:
        _tell(seen, made, seed, rows, terminal)
    terminal.caution()


def _tell(seen: Outlook, made: Plan, seed: int, rows: list[dict[str, Any]], terminal: Terminal) -> None:
    terminal.say("What it can show", style="bold")
    for sentence in made.can_show.says:
        terminal.say(sentence, indent=2)
    terminal.say()
    terminal.table(
        [(str(one.pairs_per_wear), f"{one.seen_4_of_5_points:.1f}", f"{one.margin_points:.1f}") for one in seen.steps],
        heads=("Fingersticks a wear", "Difference seen 4 times of 5", "Sure to about, either way"),
    )
    terminal.say()
    terminal.say(f"The order, drawn by lot with --seed {seed}", style="bold")
    terminal.table(
        [(str(one.number), one.label, f"{one.from_day} to {one.to_day}") for one in made.wears],
        heads=("Wear", "Where", "Days"),
    )
    terminal.say()
    terminal.say("Day by day, hours after waking", style="bold")
    terminal.table(
        [(str(row["day"]), str(row["do"]), str(row["after_waking"])) for row in rows],
        heads=("Day", "To do", "When"),
    )
    terminal.say()
    terminal.say("To be read with it", style="bold")
    for note in (NOT_KNOWN, NOT_REGISTERED, *made.notes):
        terminal.say(note, indent=2)
