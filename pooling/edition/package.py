"""An edition as one file to take along: the document, and everything that follows from it, as a zip archive.

Nothing enters but the document's bytes, the auditor's certificate and the operator's signature. The same three give the
same bytes: members stand in a fixed order, stored and not squeezed, without a date.
"""

import io
import json
import zipfile
from collections.abc import Mapping
from importlib.metadata import version
from typing import Any, Final

from pooling.charts import CHARTS, chart_svg
from pooling.edition.dictionary import data_package, table_path
from pooling.edition.document import TABLES, read_document, sha256_hex
from pooling.edition.methods import methods_text
from pooling.edition.sheet import table_csv
from pooling.edition.terms import citation_cff, terms_text

DOCUMENT: Final = "edition.json"
CERTIFICATE: Final = "certificate.json"
SIGNATURE: Final = "signature.json"
SUMS: Final = "SHA256SUMS"
DESCRIPTOR: Final = "datapackage.json"
SOURCES: Final = (DOCUMENT, CERTIFICATE, SIGNATURE)
_NO_DATE: Final = (1980, 1, 1, 0, 0, 0)  # the first that the format can write
_FOR_ALL_TO_READ: Final = 0o100644 << 16


def package_bytes(content: bytes, certificate: bytes, signature: Mapping[str, Any] | None = None) -> bytes:
    """The archive of one edition.

    Parameters
    ----------
    content
        The document's canonical bytes.
    certificate
        The auditor's certificate for them.
    signature
        The operator's signature, where there is one.

    Raises
    ------
    InvalidInput
        If the bytes are no edition document.
    """
    return archive_bytes(members_of(content, certificate, signature))


def members_of(content: bytes, certificate: bytes, signature: Mapping[str, Any] | None = None) -> dict[str, bytes]:
    """The files of the archive, by name and in their order. Errors as `package_bytes`."""
    document = read_document(content)
    tables = {table_path(table): table_csv(document, table).encode() for table in TABLES}
    signed = {} if signature is None else {SIGNATURE: _json(dict(signature))}
    files = {
        DOCUMENT: content,
        CERTIFICATE: certificate,
        **signed,
        "CAUTION.txt": f"{document['caution']['text']}\n".encode(),
        "TERMS.txt": terms_text().encode(),
        "METHODS.md": methods_text(document).encode(),
        "CITATION.cff": citation_cff(document, content).encode(),
        DESCRIPTOR: _json(data_package(document, tables, drawn_with=drawing_library())),
        **tables,
        **{chart_path(chart): chart_svg(document, chart).encode() for chart in CHARTS},
    }
    return {**files, SUMS: sums_text(files).encode()}


def archive_bytes(members: Mapping[str, bytes]) -> bytes:
    """A zip archive whose bytes follow from names, contents and their order."""
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_STORED) as archive:
        for name, content in members.items():
            entry = zipfile.ZipInfo(name, _NO_DATE)
            entry.create_system, entry.external_attr = 3, _FOR_ALL_TO_READ
            archive.writestr(entry, content)
    return target.getvalue()


def sums_text(files: Mapping[str, bytes]) -> str:
    """SHA-256 of every file, in the form that `sha256sum --check` reads."""
    return "".join(f"{sha256_hex(content)}  {name}\n" for name, content in sorted(files.items()))


def chart_path(chart: str) -> str:
    return f"charts/{chart}.svg"


def drawing_library() -> str:
    """Name and version of what draws the charts: another one may draw other bytes from the same numbers."""
    return f"vl-convert-python {version('vl-convert-python')}"


def _json(content: Mapping[str, Any]) -> bytes:
    return (json.dumps(content, indent=2, ensure_ascii=False) + "\n").encode()
