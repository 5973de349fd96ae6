"""Odd exports, and what must hold for whatever comes out of reading one."""

import io
import random
import zipfile
from collections.abc import Callable
from pathlib import Path

import msgspec
import numpy as np
from msgspec.structs import replace

from fixtures.exports import make
from pooling.errors import InvalidInput
from pooling.importing import ColumnMapping, Sheet, kinds_of, open_file, propose, read_series, read_typed, remarks
from pooling.importing.types import NUMBER, ROLES

LONGEST_MESSAGE = 600
_FOLDER = Path(make.__file__).parent
_INSERTED = (np.datetime64("2031-10-25T05:00:00", "s"),)
_CELLS = (
    *("", " ", "0", "-1", "5,4", "112", "1e5", "NaN", "inf", "1_0", "LO", "HI", "<40", "> 400", "≤", "bajo", "élevé"),
    *("31/12/2031", "12/31/2031", "2031-02-30", "00.00.0000", "99:99", "24:00", "12:60 PM", "2031-10-26T01:30+01:00"),
    *(
        "1 mars 2031 8h05",
        "März",
        "2031-13-45 25:61:61",
        "٣٤",
        "５４",
        "İ",
        "ß",
        "\u202e",
        "\ufeff",
        "\x1f",
        "\x85",
        "\u2028",
    ),
    *('"', "'", '""', "=1+1", "@x", "\t", "\r", ";", ",", "|", "sensor", "fingerstick", "Total", "mg/dL", "mmol/l"),
    *(
        "time",
        "date",
        "glucose",
        "wear",
        "inserted",
        "elapsed",
        "9" * 30,
        "9" * 400,
        "1.2.3.4",
        "+1:00",
        "-",
        "12 h",
        "3 d",
    ),
)
_CODE_PAGES = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252", "cp1250", "mac_roman", "utf-32")
_ZONES = (None, None, None, None, "Europe/Lisbon", "America/Sao_Paulo", "Pacific/Apia", "no/where", "../etc", "")


def corpus() -> list[bytes]:
    """The first lines of every export of the fixtures, and the workbooks whole."""
    texts = [b"\n".join(content.split(b"\n")[:14]) for content in make.texts().values()]
    return texts + list(make.workbooks().values())


def check(data: bytes, chance: random.Random) -> bool:
    """Read an export and all that can be read of it; whether it could be opened.

    Only InvalidInput may come out, with a message of bounded length.
    """
    try:
        sheets = open_file(data, filename=chance.choice(("", "a.csv", "a.tsv", "a.xlsx")))
    except InvalidInput as error:
        _check_message(error)
        return False
    for sheet in sheets[:3]:
        _check_sheet(sheet, chance)
    return True


def _check_message(error: InvalidInput) -> None:
    assert 10 < len(str(error)) < LONGEST_MESSAGE, len(str(error))


def _check_sheet(sheet: Sheet, chance: random.Random) -> None:
    assert len(sheet.rows) == len(sheet.lines) > 0
    assert list(sheet.lines) == sorted(set(sheet.lines))
    try:
        proposal = propose(sheet)
    except InvalidInput as error:
        _check_message(error)
        mapping = ColumnMapping("sensor", None, ("moment", "glucose"), "mg/dL", None, ".", None, ())
    else:
        mapping = proposal.mapping
        assert msgspec.json.decode(msgspec.json.encode(mapping), type=ColumnMapping) == mapping
        assert all(role in ROLES for role in mapping.roles)
        assert len(proposal.preview[0]) == len(mapping.roles)
    mapping = replace(
        mapping,
        glucose_unit=mapping.glucose_unit or chance.choice(("mg/dL", "mmol/L")),
        date_order=mapping.date_order or chance.choice((None, "day_first", "month_first", "year_first")),
        time_zone=chance.choice(_ZONES),
    )
    if chance.random() < 0.2:
        roles = tuple(chance.choice(ROLES) for _ in mapping.roles)
        mapping = replace(mapping, roles=roles, kind=chance.choice(("sensor", "meter", "typed")))
    _attempt(lambda: remarks(sheet, mapping))
    for kind in kinds_of(mapping):
        if kind == "typed":
            _attempt(lambda: _check_wears(sheet, mapping))
        else:
            _attempt(lambda kind=kind: _check_series(sheet, replace(mapping, kind=kind)))


def _attempt(action: Callable[[], object]) -> None:
    try:
        action()
    except InvalidInput as error:
        _check_message(error)


def _check_series(sheet: Sheet, mapping: ColumnMapping) -> None:
    series = read_series(sheet, mapping)
    assert series.n_readings > 0
    assert not np.isnat(series.time).any()
    assert (np.diff(series.time).astype(np.int64) >= 0).all()
    assert np.array_equal(np.isnan(series.mg_dl), series.mark != NUMBER)
    shown = series.mg_dl[series.mark == NUMBER]
    assert ((shown >= 18) & (shown <= 601)).all()
    assert np.isin(series.line, sheet.lines).all()
    assert "mg_dl" not in repr(series)


def _check_wears(sheet: Sheet, mapping: ColumnMapping) -> None:
    wears = read_typed(sheet, mapping, inserted=_INSERTED)
    assert wears
    for wear in wears:
        minutes = [pair.elapsed_min for pair in wear.pairs]
        assert minutes == sorted(minutes)
        assert all((pair.sensor is None) != (pair.sensor_mark is None) for pair in wear.pairs)


def odd_export(chance: random.Random, seeds: list[bytes]) -> bytes:
    """An export put together from cells, or a good one with something done to it."""
    roll = chance.random()
    if roll < 0.05:
        return chance.randbytes(chance.randrange(200))
    if roll < 0.4:
        return _assembled(chance)
    seed = chance.choice(seeds)
    if seed.startswith(b"PK") and chance.random() < 0.9:
        return _repacked(seed, chance)
    for _ in range(chance.choice((1, 1, 2, 5))):
        seed = _changed(seed, chance)
    return seed


def _assembled(chance: random.Random) -> bytes:
    separator, end = chance.choice(",;\t|~ "), chance.choice(("\n", "\r\n", "\r"))
    width = chance.randrange(1, 6)
    usual = [f"2031-{chance.randrange(1, 13):02}-{k % 28 + 1:02} {k % 24:02}:{k * 7 % 60:02}" for k in range(8)]
    cells = (*_CELLS, *usual, *usual, *(str(value) for value in range(40, 240, 20)))
    rows = [separator.join(chance.choice(cells) for _ in range(width)) for _ in range(chance.randrange(1, 9))]
    return end.join(rows).encode(chance.choice(_CODE_PAGES), "replace")


def _changed(data: bytes, chance: random.Random) -> bytes:
    if not data:
        return data
    start, stop = sorted(chance.randrange(len(data) + 1) for _ in range(2))
    match chance.randrange(7):
        case 0:
            return data[:start] + chance.randbytes(1) + data[start + 1 :]
        case 1:
            return data[:start] + chance.choice(_CELLS).encode(errors="replace") + data[start:]
        case 2:
            return data[:start] + data[stop:]
        case 3:
            return data[:stop] + data[start:]
        case 4:
            return data.decode("latin-1").encode(chance.choice(_CODE_PAGES), "replace")
        case 5:
            old = chance.choice((b";", b",", b"\t", b"2031", b"25", b":", b"0", b"\n", b'"'))
            return data.replace(old, chance.choice(_CELLS).encode(errors="replace"), chance.choice((1, -1)))[:20_000]
    lines = data.split(b"\n")
    chance.shuffle(lines)
    return b"\n".join(lines)


def _repacked(data: bytes, chance: random.Random) -> bytes:
    """A workbook with one of its parts changed, and the checksums right again."""
    packed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as archive, zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as copy:
        names = archive.namelist()
        chosen = chance.choice(names)
        for name in names:
            content = archive.read(name)[:6_000] if chance.random() < 0.3 else archive.read(name)
            copy.writestr(zipfile.ZipInfo(name), _changed(content, chance) if name == chosen else content)
    return packed.getvalue()
