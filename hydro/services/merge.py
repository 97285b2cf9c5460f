"""New answers into the kept table: what is new, what changed, what is no longer given. Nothing is thrown away."""

from __future__ import annotations

import datetime
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.csv

from hydro.services.provider import Provider, Stretch
from hydro.sources.us_ogc import FETCHED

#: A mark of ours among the service's remarks: the service gave this value once and does not give it any more.
WITHDRAWN = "withdrawn"
#: A mark of ours: one answer held the value twice, with different numbers.
DUPLICATE = "duplicate"
CHANGE_COLUMNS = ("series", "time", "was", "is")
_KEY, _AT = "(key)", "(at)"


@dataclass(frozen=True, eq=False, kw_only=True)
class Merged:
    """The table after a merge, sorted by series and time, and what the merge found.

    changes      values that are others than those kept, as columns series, time, was, is (texts of the service)
    n_new        values that were not kept before
    n_judged     values whose approval or remark alone changed
    n_withdrawn  kept values that the answer lacks, newly marked
    n_twice      values that one answer held twice with different numbers
    n_restored   values that were marked as withdrawn and are given again
    """

    table: pd.DataFrame
    changes: pd.DataFrame
    n_new: int = 0
    n_judged: int = 0
    n_withdrawn: int = 0
    n_twice: int = 0
    n_restored: int = 0

    @property
    def anything(self) -> bool:
        """Whether the table is another than before."""
        return bool(len(self.changes) or self.n_new or self.n_judged or self.n_withdrawn or self.n_restored)


def empty_table(provider: Provider) -> pd.DataFrame:
    return pd.DataFrame({c: pd.Series(dtype=str) for c in (*provider.columns, FETCHED)})


def read_table(path: Path, provider: Provider) -> pd.DataFrame:
    """The kept table, every cell a text. Raises ValueError where the file is none of ours."""
    try:
        table = pa.csv.read_csv(
            path,
            convert_options=pa.csv.ConvertOptions(
                column_types={c: pa.string() for c in (*provider.columns, FETCHED)}, strings_can_be_null=False
            ),
        )
    except pa.ArrowInvalid as error:
        raise ValueError(f"the kept table cannot be read ({error})") from None
    if table.column_names != [*provider.columns, FETCHED]:
        raise ValueError("the kept table has other columns than the service")
    return table.to_pandas()


def table_bytes(table: pd.DataFrame) -> bytes:
    out = io.BytesIO()
    options = pa.csv.WriteOptions(quoting_style="needed")
    pa.csv.write_csv(pa.Table.from_pandas(table, preserve_index=False), out, options)
    return out.getvalue()


def merge(
    provider: Provider,
    kept: pd.DataFrame,
    rows: Sequence[tuple[str, ...]],
    stretch: Stretch,
    retrieved: datetime.datetime,
) -> Merged:
    """Merge the whole answer for a stretch into the kept table. Inputs are not changed."""
    stamp = retrieved.astimezone(datetime.UTC).isoformat(timespec="seconds")
    came = pd.DataFrame(rows, columns=list(provider.columns), dtype=str).assign(**{FETCHED: stamp})
    came, n_twice = _one_each(provider, _keyed(provider, came))
    before = _keyed(provider, kept)
    known = before.set_index(_KEY)
    place = known.index.get_indexer(came[_KEY])
    is_new = place < 0
    old, new = known.iloc[place[~is_new]].reset_index(), came[~is_new].reset_index(drop=True)
    differs = _differ(old[provider.value], new[provider.value])
    was_withdrawn = np.array([_has_mark(t, WITHDRAWN) for t in old[provider.remark]], bool)
    judged = ~differs & ~was_withdrawn
    judged &= (old[provider.approval].to_numpy() != new[provider.approval].to_numpy()) | (
        old[provider.remark].to_numpy() != new[provider.remark].to_numpy()
    )
    changes = pd.DataFrame(
        {
            "series": _series_name(provider, new[differs]),
            "time": new.loc[differs, provider.time].to_numpy(),
            "was": old.loc[differs, provider.value].to_numpy(),
            "is": new.loc[differs, provider.value].to_numpy(),
        },
        columns=list(CHANGE_COLUMNS),
    )
    # A row that says nothing new stays as it was, with the time at which it first came.
    taken = new[differs | judged | was_withdrawn]
    rest = before[~before[_KEY].isin(taken[_KEY])]
    rest, n_withdrawn = _mark_withdrawn(provider, rest, set(came[_KEY]), stretch)
    everything = pd.concat([rest, taken, came[is_new]], ignore_index=True)
    everything = everything.sort_values([*provider.series, _AT], kind="stable")
    return Merged(
        table=everything[[*provider.columns, FETCHED]].reset_index(drop=True),
        changes=changes.sort_values(["series", "time"], kind="stable", ignore_index=True),
        n_new=int(is_new.sum()),
        n_judged=int(judged.sum()),
        n_withdrawn=n_withdrawn,
        n_twice=n_twice,
        n_restored=int((was_withdrawn & ~differs).sum()),
    )


def last_day(provider: Provider, table: pd.DataFrame) -> datetime.date | None:
    """The day of the newest number in the table."""
    known = table[pd.to_numeric(table[provider.value], errors="coerce").notna()]
    return None if known.empty else datetime.date.fromisoformat(known[provider.time].str[:10].max())


def rows_within(provider: Provider, table: pd.DataFrame, stretch: Stretch) -> int:
    """How many kept values lie in a stretch, those aside that the service no longer gives."""
    days = table[provider.time].str[:10]
    inside = table[(days >= f"{stretch.first}") & (days <= f"{stretch.last}")]
    return int((~inside[provider.remark].map(lambda t: _has_mark(t, WITHDRAWN)).astype(bool)).sum())


def _keyed(provider: Provider, table: pd.DataFrame) -> pd.DataFrame:
    """With an instant to sort by and a key: a time counts as the same however it is written."""
    at = pd.to_datetime(table[provider.time], format="ISO8601", utc=True)
    key = at.dt.strftime("%Y-%m-%dT%H:%M:%S.%f").astype(str)
    for column in provider.series:
        key = table[column].astype(str) + "|" + key
    return table.assign(**{_KEY: key, _AT: at})


def _one_each(provider: Provider, came: pd.DataFrame) -> tuple[pd.DataFrame, int]:
    """One row a value: the newest version where versions are dated, else the first; and how many contradict."""
    if came[_KEY].is_unique:
        return came, 0
    if provider.modified is not None:
        came = came.sort_values(provider.modified, ascending=False, kind="stable")
    first = came.drop_duplicates(_KEY)
    others = came[came.duplicated(_KEY)]
    standing = first.set_index(_KEY).loc[others[_KEY]]
    contradicts = _differ(standing[provider.value], others[provider.value])
    if provider.modified is not None:
        # An older version that differs is no contradiction: it has been replaced.
        contradicts &= standing[provider.modified].to_numpy() == others[provider.modified].to_numpy()
    doubtful = set(others.loc[contradicts, _KEY])
    marked = first[_KEY].isin(doubtful)
    remarks = first[provider.remark].where(~marked, first[provider.remark].map(lambda t: _with_mark(t, DUPLICATE)))
    return first.assign(**{provider.remark: remarks}), len(doubtful)


def _mark_withdrawn(
    provider: Provider, rest: pd.DataFrame, given: set[str], stretch: Stretch
) -> tuple[pd.DataFrame, int]:
    days = rest[provider.time].str[:10]
    inside = (days >= f"{stretch.first}") & (days <= f"{stretch.last}")
    already = rest[provider.remark].map(lambda t: _has_mark(t, WITHDRAWN)).astype(bool)
    lacking = inside & ~rest[_KEY].isin(given) & ~already
    marked = rest[provider.remark].where(~lacking, rest[provider.remark].map(lambda t: _with_mark(t, WITHDRAWN)))
    return rest.assign(**{provider.remark: marked}), int(lacking.sum())


def _differ(old: pd.Series, new: pd.Series) -> np.ndarray:
    """Where two values are not the same: as numbers where both are numbers, else as written."""
    a, b = (pd.to_numeric(s, errors="coerce").to_numpy(np.float64) for s in (old, new))
    both = ~np.isnan(a) & ~np.isnan(b)
    return np.where(both, a != b, old.to_numpy(object) != new.to_numpy(object)).astype(bool)


def _series_name(provider: Provider, rows: pd.DataFrame) -> list[str]:
    return [" ".join(t for t in texts if t) for texts in rows[list(provider.series)].itertuples(index=False)]


def _has_mark(remark: str, mark: str) -> bool:
    return mark in remark.split(", ")


def _with_mark(remark: str, mark: str) -> str:
    return remark if _has_mark(remark, mark) else f"{remark}, {mark}" if remark else mark
