"""The auditor's certificate for one edition: what was looked at, by which rule, and for exactly which document.

It says nothing that the document does not say: how many sums and people stand behind everything ever made is told to
nobody more finely than in bands, and nothing in it depends on who has left since.
"""

import rfc8785

from pooling.edition.document import read_document, sha256_hex

CERTIFICATE_FORMAT = "audit-certificate/1"


def certificate_bytes(content: bytes, *, auditor_version: int) -> bytes:
    """The certificate of a document that passed, as canonical JSON (RFC 8785).

    Parameters
    ----------
    content
        The document's canonical bytes. That the auditor passed stands in it; no other document can be assembled.
    auditor_version
        The rules by which the auditor looked.

    Raises
    ------
    InvalidInput
        If the bytes are no edition document.
    """
    document = read_document(content)
    return rfc8785.dumps(
        {
            "format": CERTIFICATE_FORMAT,
            "edition": {
                "group": document["group"]["slug"],
                "number": document["number"],
                "cut_off": document["cut_off"],
                "sha256": sha256_hex(content),
            },
            "auditor_version": auditor_version,
            "passed": document["audit"]["passed"],
            "k": document["rules"]["k"],
            "records": document["audit"]["records"],
            "rule": document["audit"]["rule"],
        }
    )
