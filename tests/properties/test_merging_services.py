"""Whatever a service answers day after day, the kept table holds its newest word, and no day that it told is lost."""

from __future__ import annotations

import datetime

from hypothesis import given
from hypothesis import strategies as st

from hydro.services.merge import empty_table, merge, read_table, table_bytes
from hydro.services.plan import join, missing
from hydro.services.provider import Stretch
from hydro.services.us_water import DAILY

FIRST = datetime.date(2024, 1, 1)
WHEN = datetime.datetime(2024, 2, 1, tzinfo=datetime.UTC)


def day(n: int) -> datetime.date:
    return FIRST + datetime.timedelta(days=n)


def row(n: int, value: str) -> tuple[str, ...]:
    cells = {
        "time_series_id": "s", "monitoring_location_id": "USGS-1", "parameter_code": "00060", "statistic_id": "00003",
        "time": f"{day(n)}", "value": value, "unit_of_measure": "ft^3/s", "approval_status": "Provisional",
    }  # fmt: skip
    return tuple(cells.get(c, "") for c in DAILY.columns)


pairs = st.tuples(st.integers(0, 20), st.integers(0, 20))
stretches = pairs.map(lambda p: Stretch(first=day(min(p)), last=day(max(p))))
answers = st.lists(
    st.tuples(stretches, st.dictionaries(st.integers(0, 20), st.sampled_from(["", "1.5", "2.5", "0"]), max_size=15)),
    max_size=4,
)


@given(answers)
def test_the_newest_word_on_each_day_stands_and_no_day_is_lost(said):
    table, newest, withdrawn = empty_table(DAILY), {}, set()
    for stretch, values in said:
        inside = {n: v for n, v in values.items() if stretch.first <= day(n) <= stretch.last}
        merged = merge(DAILY, table, [row(n, v) for n, v in inside.items()], stretch, WHEN)
        within = {n for n in newest if stretch.first <= day(n) <= stretch.last}
        assert merged.n_new == len(set(inside) - set(newest))
        assert len(merged.changes) == sum(newest[n] != v for n, v in inside.items() if n in newest)
        assert merged.n_withdrawn == len(within - set(inside) - withdrawn)
        withdrawn = (withdrawn | (within - set(inside))) - set(inside)
        newest |= inside
        table = merged.table
    assert dict(zip(table["time"], table["value"], strict=True)) == {f"{day(n)}": newest[n] for n in sorted(newest)}
    assert set(table.loc[table["qualifier"] == "withdrawn", "time"]) == {f"{day(n)}" for n in withdrawn}
    assert table["time"].is_monotonic_increasing


@given(st.dictionaries(st.integers(0, 20), st.text(st.characters(codec="utf-8"), max_size=5)))
def test_what_is_written_is_read_back_as_it_was(tmp_path_factory, values):
    rows = [row(n, v) for n, v in values.items()]
    table = merge(DAILY, empty_table(DAILY), rows, Stretch(first=day(0), last=day(20)), WHEN).table
    path = tmp_path_factory.mktemp("kept") / "values.csv"
    path.write_bytes(table_bytes(table))
    assert read_table(path, DAILY).astype(object).equals(table.astype(object))


@given(stretches, st.lists(stretches, max_size=6))
def test_what_is_missing_and_what_is_covered_make_the_whole_without_overlap(wanted, covered):
    def all_days(of):
        return [s.first + datetime.timedelta(days=i) for s in of for i in range((s.last - s.first).days + 1)]

    lacking = all_days(missing(wanted, covered))
    assert len(lacking) == len(set(lacking))
    assert set(lacking) == set(all_days([wanted])) - set(all_days(covered))
    joined = join(covered)
    assert sorted(set(all_days(covered))) == all_days(joined)
