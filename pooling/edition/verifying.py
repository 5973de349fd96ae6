"""Is a package what it says it is? Everything in it is made again from its document and compared byte for byte."""

import io
import json
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from pooling.charts import CHARTS
from pooling.edition.certificate import CERTIFICATE_FORMAT, certificate_bytes
from pooling.edition.document import read_document, sha256_hex
from pooling.edition.package import (
    CERTIFICATE,
    DESCRIPTOR,
    DOCUMENT,
    SIGNATURE,
    SOURCES,
    SUMS,
    archive_bytes,
    chart_path,
    drawing_library,
    members_of,
)
from pooling.edition.signature import check_signature
from pooling.errors import PoolingError
from pooling.protection import FLOOR_PEOPLE

LARGEST_BYTES: Final = 64 * 1024 * 1024
# Of what is read as JSON, which takes many times its size in memory; the demo's largest document has 70 kB.
LARGEST_SOURCE_BYTES: Final = 2 * 1024 * 1024
THE_ARCHIVE: Final = "the archive"
FETCH_AGAIN = "Fetch the package again from its server, and do not use this copy."
_UNREADABLE = (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, NotImplementedError, OSError, ValueError)
# What a document that passes for one at first sight can still lack.
_LACKING = (KeyError, TypeError, AttributeError, IndexError, ValueError, PoolingError)
_CHART_FILES: Final = frozenset(map(chart_path, CHARTS))


@dataclass(frozen=True, slots=True)
class PackageFault:
    """One file of a package that is not as it must be: what is wrong with it, and what to do."""

    file: str
    message: str
    do: str = FETCH_AGAIN


class NoPackage(PoolingError):
    """What was given cannot be read as a package at all."""

    def __init__(self, file: str, message: str) -> None:
        super().__init__(message)
        self.fault = PackageFault(file, message)


@dataclass(frozen=True, slots=True)
class Checked:
    """What a package was found to be; `signed_by` is the public key of a signature that holds."""

    faults: tuple[PackageFault, ...]
    group: str = ""
    number: int = 0
    sha256: str = ""
    signed_by: str | None = None
    n_files: int = 0


@dataclass(frozen=True, slots=True)
class Signed:
    """The signed parts of a package, held to each other; what else lies in it was not looked at."""

    content: bytes
    certificate: bytes
    signature: dict[str, Any]
    sha256: str


def open_signed(raw: bytes, *, public_key: str, sha256: str | None = None) -> Signed:
    """The signed parts of a package of any server, whatever version wrote it.

    Raises
    ------
    NoPackage
        If it cannot be read, its parts do not belong together or lack what every edition has, or it is not signed with
        that key.
    """
    members = read_members(raw)
    content, certificate = members[DOCUMENT], members[CERTIFICATE]
    document = _document(content)
    signature = _mapping(members[SIGNATURE], SIGNATURE) if SIGNATURE in members else None
    faults = [*_of_certificate(members, content), *_of_identity(content, sha256)]
    faults += _signed_by(signature, content, certificate, public_key)[1]
    if faults or signature is None:
        raise NoPackage(faults[0].file, faults[0].message)
    if not _is_an_edition(document):
        raise NoPackage(DOCUMENT, "it lacks parts of an edition")
    return Signed(content, certificate, signature, sha256_hex(content))


def _is_an_edition(document: Mapping[str, Any]) -> bool:
    """Whether what readers are told first is there, and is text and numbers."""
    try:
        texts = [document["group"]["slug"], document["group"]["name"], document["cut_off"], document["caution"]["text"]]
        rows = [row for table in document["tables"].values() for row in table]
        whole = isinstance(document["number"], int) and int(document["rules"]["k"]) >= FLOOR_PEOPLE
    except _LACKING:
        return False
    return (
        whole and all(isinstance(text, str) and text for text in texts) and all(isinstance(row, dict) for row in rows)
    )


def check_package(
    raw: bytes, *, sha256: str | None = None, public_key: str | None = None, charts: bool = True
) -> Checked:
    """Make every file of a package again from its document, and say which are not as they should be.

    Parameters
    ----------
    raw
        The archive.
    sha256
        The digest that the document must have, as its server or a paper states it.
    public_key
        The key that must have signed it.
    charts
        Whether charts are compared: another version of the drawing library, or other fonts, draw other bytes.

    Notes
    -----
    Without `sha256` and `public_key` this finds whatever does not fit together. It cannot find a package that somebody
    made anew as a whole, from a document of their own.
    """
    try:
        members = read_members(raw)
        content, certificate = members[DOCUMENT], members[CERTIFICATE]
        document = _document(content)
        signature = _mapping(members[SIGNATURE], SIGNATURE) if SIGNATURE in members else None
    except NoPackage as broken:
        return Checked((broken.fault,))
    faults = [*_of_certificate(members, content), *_of_identity(content, sha256)]
    signed_by = None
    if not faults:  # a signature cannot be of a document or a certificate that was changed
        signed_by, faults = _signed_by(signature, content, certificate, public_key)
    try:
        group, number = str(document["group"]["slug"]), int(document["number"])
        made = members_of(content, certificate, signature)
    except _LACKING:
        lacking = PackageFault(DOCUMENT, "it lacks parts of an edition, so nothing can be made from it")
        return Checked((*faults, lacking), sha256=sha256_hex(content))
    at_fault = {fault.file for fault in faults}
    faults += [fault for fault in _of_files(members, made, charts=charts) if fault.file not in at_fault]
    if not faults and charts and archive_bytes(made) != raw:
        faults.append(PackageFault(THE_ARCHIVE, "its files are right, but it was packed anew, or something was added"))
    # Sources that are not what they seem make files differ that were never touched.
    if at_fault & set(SOURCES):
        faults = [fault for fault in faults if fault.file in at_fault]
    return Checked(tuple(faults), group, number, sha256_hex(content), signed_by, len(members))


def read_members(raw: bytes) -> dict[str, bytes]:
    """The files of an archive, in its order.

    Raises
    ------
    NoPackage
        If it is no zip archive, a file is damaged, named twice, missing or too large, or it would unpack to too much.
    """
    try:
        archive = zipfile.ZipFile(io.BytesIO(raw))
    except _UNREADABLE:
        raise NoPackage(THE_ARCHIVE, "this is no zip archive, or not a whole one") from None
    with archive:
        entries = archive.infolist()
        names = [entry.filename for entry in entries]
        if len(set(names)) < len(names):
            raise NoPackage(THE_ARCHIVE, "it holds a file of the same name twice")
        if sum(entry.file_size for entry in entries) > LARGEST_BYTES:
            raise NoPackage(THE_ARCHIVE, "it would unpack to more than any package holds")
        for entry in entries:
            if entry.filename in SOURCES and entry.file_size > LARGEST_SOURCE_BYTES:
                raise NoPackage(entry.filename, "it is larger than any edition is")
        members = {entry.filename: _read(archive, entry) for entry in entries}
    for name in (DOCUMENT, CERTIFICATE):
        if name not in members:
            raise NoPackage(name, "it is missing")
    return members


def _read(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bytes:
    try:
        with archive.open(entry) as stream:
            return stream.read(LARGEST_BYTES)
    except _UNREADABLE:
        raise NoPackage(entry.filename, "it is damaged and cannot be read") from None


def _document(content: bytes) -> dict[str, Any]:
    try:
        return read_document(content)
    except PoolingError as error:
        raise NoPackage(DOCUMENT, str(error)) from None
    except RecursionError:
        raise NoPackage(DOCUMENT, "it is nested too deeply") from None


def _mapping(raw: bytes, name: str) -> dict[str, Any]:
    try:
        found = json.loads(raw)
    except (ValueError, RecursionError):
        raise NoPackage(name, "it is no JSON") from None
    if not isinstance(found, dict):
        raise NoPackage(name, "it is no JSON object")
    return found


def _of_certificate(members: Mapping[str, bytes], content: bytes) -> Iterator[PackageFault]:
    """A certificate belongs to one document; where the two part, the list of digests says which was changed."""
    raw = members[CERTIFICATE]
    try:
        certificate = _mapping(raw, CERTIFICATE)
        of, auditor_version = certificate["edition"]["sha256"], certificate["auditor_version"]
        known = certificate["format"] == CERTIFICATE_FORMAT and isinstance(auditor_version, int)
    except (NoPackage, KeyError, TypeError):
        of, auditor_version, known = "", 0, False
    if not known:
        yield PackageFault(CERTIFICATE, f"this is no certificate in the format {CERTIFICATE_FORMAT}")
    elif of != sha256_hex(content):
        changed = CERTIFICATE if _listed(members).get(DOCUMENT) == sha256_hex(content) else DOCUMENT
        yield PackageFault(changed, "the certificate of the auditor is for another document")
    elif certificate_bytes(content, auditor_version=auditor_version) != raw:
        yield PackageFault(CERTIFICATE, "it says something else than the document that it is for")


def _of_identity(content: bytes, sha256: str | None) -> Iterator[PackageFault]:
    if sha256 is not None and sha256.strip().lower() != sha256_hex(content):
        yield PackageFault(DOCUMENT, f"its SHA-256 is {sha256_hex(content)} and not the one you named")


def _signed_by(
    signature: Mapping[str, Any] | None, content: bytes, certificate: bytes, public_key: str | None
) -> tuple[str | None, list[PackageFault]]:
    if signature is None:
        asked = public_key is not None
        return None, [PackageFault(SIGNATURE, "it is missing: this edition was not signed")] if asked else []
    try:
        return check_signature(signature, content, certificate, public_key=public_key), []
    except PoolingError as error:
        return None, [PackageFault(SIGNATURE, str(error))]


def _listed(members: Mapping[str, bytes]) -> dict[str, str]:
    """The digests that the package itself lists, by file."""
    lines = members.get(SUMS, b"").decode(errors="replace").splitlines()
    return {name: digest for digest, _, name in (line.partition("  ") for line in lines)}


def _of_files(members: Mapping[str, bytes], made: Mapping[str, bytes], *, charts: bool) -> Iterator[PackageFault]:
    drawn_elsewhere = _drawn_with(members) != drawing_library()
    passed_over = frozenset() if charts else _CHART_FILES | {SUMS, DESCRIPTOR}
    for name in (*made, *(name for name in members if name not in made)):
        if name not in members:
            yield PackageFault(name, "it is missing")
        elif name not in made:
            yield PackageFault(name, "it does not belong to a package", "Ignore this file; it is not of the edition.")
        elif members[name] != made[name] and name not in passed_over:
            yield PackageFault(name, "it is not what follows from edition.json", _what_to_do(name, drawn_elsewhere))
    if not charts:
        yield from _of_sums(members, members.keys() & passed_over - {SUMS})


def _of_sums(members: Mapping[str, bytes], names: Iterable[str]) -> Iterator[PackageFault]:
    """What cannot be made again without charts is held against the list of digests at least."""
    listed = _listed(members)
    for name in sorted(names):
        if listed.get(name) != sha256_hex(members[name]):
            yield PackageFault(name, f"its SHA-256 is not the one that {SUMS} lists")


def _drawn_with(members: Mapping[str, bytes]) -> str:
    try:
        return str(_mapping(members.get(DESCRIPTOR, b""), DESCRIPTOR).get("drawn_with"))
    except NoPackage:
        return ""


def _what_to_do(name: str, drawn_elsewhere: bool) -> str:
    if name in _CHART_FILES or (drawn_elsewhere and name in (SUMS, DESCRIPTOR)):
        return (
            "Another version of the drawing library or other fonts draw other bytes: check the rest with "
            f"--without-charts. If charts should be the same here, too: {FETCH_AGAIN[0].lower()}{FETCH_AGAIN[1:]}"
        )
    return FETCH_AGAIN
