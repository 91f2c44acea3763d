"""A class as JSON and as CSV.

Invariant: what is written is what the digest has; no text of ours can become a formula in a spreadsheet.
"""

from __future__ import annotations

from typing import Any

from pydantic import TypeAdapter

from floorclock.digest.class_digest import ClassDigest
from floorclock.digest.export import LiftedReviewValues, ReviewValues, csv_rows, review_values
from floorclock.transfer.cells import row


def review_json(digest: ClassDigest) -> dict[str, Any]:
    """The values of `review --json`, ready for a JSON writer."""
    values: dict[str, Any] = TypeAdapter(LiftedReviewValues | ReviewValues).dump_python(
        review_values(digest), mode="json", by_alias=True
    )
    return values


def splits_csv(digest: ClassDigest) -> str:
    """Every split and every result as CSV (RFC 4180: CRLF, quotes where needed), with a header line.

    A text that a spreadsheet could take for a formula gets an apostrophe in front and is quoted (OWASP ASVS 5, 1.2.10);
    numbers are left alone.
    """
    return "".join(map(row, csv_rows(digest)))
