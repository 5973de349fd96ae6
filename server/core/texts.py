"""The catalogues of texts: found in the code, kept as `.po` files that people edit, compiled to what Django reads.

No system package is needed: Django turns a template into Python that a reader of Python understands
(`templatize`), and Babel reads that, merges and compiles.
"""

import hashlib
import os
import tempfile
from collections.abc import Iterator, Mapping
from io import BytesIO
from pathlib import Path
from typing import Final

from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from server.core.sentences import spoken

SERVER: Final = Path(__file__).resolve().parents[1]
LOCALE: Final = SERVER / "locale"
WIDTH: Final = 110
FROM_BELOW: Final = "sentences"
"""The catalogue of what `pooling` and the services say; the pages translate it (`server/web/saying.py`)."""
_KEYWORDS: Final[Mapping[str, tuple[int | tuple[int, str], ...]]] = {
    "_": (1,),
    "gettext": (1,),
    "gettext_lazy": (1,),
    "gettext_noop": (1,),
    "ngettext": (1, 2),
    "ngettext_lazy": (1, 2),
    "pgettext": ((1, "c"), 2),
    "pgettext_lazy": ((1, "c"), 2),
    "npgettext": ((1, "c"), 2, 3),
    "npgettext_lazy": ((1, "c"), 2, 3),
}
_COMMENT: Final = ("Translators:",)
# What each catalogue is made of: where its texts stand, and how the files there end.
_SOURCES: Final[Mapping[str, tuple[tuple[str, str], ...]]] = {
    "django": (("", ".py"), ("templates", ".html")),
    "djangojs": (("static", ".js"),),
}


def catalogue_files(locale: Path = LOCALE) -> list[Path]:
    return sorted(locale.glob("*/LC_MESSAGES/*.po"))


def stale(locale: Path = LOCALE) -> list[Path]:
    """The catalogues whose compiled form is missing, or was made of other words; it names what it was made of."""
    made = {source: source.with_suffix(".mo") for source in catalogue_files(locale)}
    return [
        source
        for source, target in made.items()
        if not target.exists() or _digest(source).encode() not in target.read_bytes()
    ]


def compile_stale(locale: Path = LOCALE) -> list[Path]:
    """Compile each catalogue that needs it; say which. Other processes may do the same at once."""
    made = []
    for source in stale(locale):
        catalogue, target = read(source), source.with_suffix(".mo")
        catalogue.version = _digest(source)
        with tempfile.NamedTemporaryFile(dir=target.parent, delete=False) as file:
            write_mo(file, catalogue)
        Path(file.name).chmod(0o644)
        os.replace(file.name, target)
        made.append(target)
    return made


def _digest(source: Path) -> str:
    return hashlib.sha256(source.read_bytes()).hexdigest()


def read(file: Path) -> Catalog:
    with file.open("rb") as lines:
        return read_po(lines, locale=file.parent.parent.name, domain=file.stem, abort_invalid=True)


def extracted(domain: str = "django") -> Catalog:
    """Every text of the code that goes through gettext, in the order of the files it stands in."""
    found = Catalog(domain=domain)
    if domain == FROM_BELOW:
        for where, sentence in (*spoken(), *_of_the_register()):
            found.add(sentence, locations=[(where, 0)])
        return found
    for place, ending in _SOURCES[domain]:
        for path in sorted((SERVER / place).rglob(f"*{ending}")):
            if "static_built" in path.parts:
                continue
            locations = [(path.relative_to(SERVER.parent).as_posix(), 0)]
            for _line, message, comments, context in _texts_of(path):
                found.add(message, locations=locations, auto_comments=comments, context=context)
    return found


def _of_the_register() -> Iterator[tuple[str, str]]:
    """What the page about members' data says of each field that tells something about a person."""
    from server.core.processing import telling_fields

    for app, fields in telling_fields().items():
        for field in fields.values():
            for text in (field.purpose, field.reader, field.retention):
                yield f"server/{app}/fields.py", text.replace("%", "%%")


def update(file: Path) -> Catalog:
    """Bring a catalogue up to what the code says: new texts come in empty, those that are gone go."""
    catalogue = read(file)
    catalogue.update(extracted(file.stem), no_fuzzy_matching=True, update_creation_date=False)
    catalogue.obsolete.clear()
    with file.open("wb") as lines:
        write_po(lines, catalogue, width=WIDTH, include_lineno=False, ignore_obsolete=True)
    return catalogue


def _texts_of(path: Path) -> Iterator[tuple[int, str | tuple[str, ...], list[str], str | None]]:
    """The texts of one file: its line, message (with its plural, if it has one), comments and context."""
    content = path.read_text(encoding="utf-8")
    if path.suffix == ".html":
        from django.utils.translation.template import templatize

        # Indented as a template is, it would be no Python.
        content = "\n".join(map(str.strip, templatize(content, origin=path.name).split("\n")))
    language = "javascript" if path.suffix == ".js" else "python"
    yield from extract(language, BytesIO(content.encode()), _KEYWORDS, _COMMENT)


if __name__ == "__main__":
    compile_stale()
