"""datapackage.json: every table of the export with the type of each column (Frictionless Data Package, v2)."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping

import pandas as pd

PROFILE = "https://datapackage.org/profiles/2.0/datapackage.json"
TABLE_PROFILE = "https://datapackage.org/profiles/2.0/tableschema.json"


def data_package(
    title: str, files: Mapping[str, tuple[pd.DataFrame, bytes]], terms: Mapping[str, Mapping[str, str]], day: str
) -> str:
    """The package of CSV files: `files` gives frame and bytes by file name, `terms` a term's address by column of each.

    `day` is the day as of which everything was exported (ISO).
    """
    resources = [
        {
            "name": name.removesuffix(".csv").replace("/", "-").lower(),
            "path": name,
            "type": "table",
            "scheme": "file",
            "format": "csv",
            "mediatype": "text/csv",
            "encoding": "utf-8",
            "bytes": len(data),
            "hash": f"sha256:{hashlib.sha256(data).hexdigest()}",
            "schema": {
                "$schema": TABLE_PROFILE,
                "fields": [_field(frame, c, terms.get(name, {}).get(c)) for c in frame.columns],
                "missingValues": [""],
            },
        }
        for name, (frame, data) in files.items()
    ]
    package = {"$schema": PROFILE, "name": _slug(title), "title": title, "created": f"{day}T00:00:00Z"}
    return json.dumps(package | {"resources": resources}, ensure_ascii=False, indent=1) + "\n"


def _field(frame: pd.DataFrame, column: object, term: str | None) -> dict[str, object]:
    values = frame[column]
    kind: dict[str, object] = {"type": "string"}
    if pd.api.types.is_bool_dtype(values):
        kind = {"type": "boolean", "trueValues": ["True"], "falseValues": ["False"]}
    elif pd.api.types.is_datetime64_any_dtype(values):
        kind = {"type": "date"} if (values.dropna() == values.dropna().dt.normalize()).all() else {"type": "string"}
    elif pd.api.types.is_integer_dtype(values):
        kind = {"type": "integer"}
    elif pd.api.types.is_float_dtype(values):
        kind = {"type": "number"}
    found: dict[str, object] = {"name": str(column), **kind}
    return found if term is None else found | {"rdfType": term}


def _slug(title: str) -> str:
    """A name of small letters, digits and hyphens, as the standard has it."""
    kept = "".join(c if c.isascii() and c.isalnum() else "-" for c in title.lower())
    return "-".join(part for part in kept.split("-") if part) or "springs"
