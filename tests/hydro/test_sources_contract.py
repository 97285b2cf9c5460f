"""What every reader keeps, whatever the layout: one class runs against the same invented record in all of them."""

from __future__ import annotations

import gzip
import hashlib
import io
import zipfile
from pathlib import Path

import numpy as np
import pytest

from hydro.discharge import APPROVALS, Discharge
from hydro.problems import InputError
from hydro.sources.gauge_file import GaugeFile, ReadChoices
from hydro.sources.recognise import read_gauge_file
from tests.hydro.gauge_layouts import ESTIMATED, LAYOUTS, Layout


def read_bytes(folder: Path, data: bytes, name: str = "anything.bin", **choices: object) -> GaugeFile:
    path = folder / name
    path.write_bytes(data)
    return read_gauge_file(path, ReadChoices(**choices), shown_as=name)  # type: ignore[arg-type]


def only(file: GaugeFile) -> Discharge:
    assert file.problems == (), file.problems
    (series,) = file.series
    return series


def same(one: Discharge, two: Discharge) -> bool:
    return (
        one.step == two.step
        and bool((one.frame.index == two.frame.index).all())
        and np.array_equal(one.values, two.values, equal_nan=True)
        and one.frame["flags"].tolist() == two.frame["flags"].tolist()
        and one.frame["approval"].tolist() == two.frame["approval"].tolist()
    )


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=list(LAYOUTS))
class TestEveryReader:
    def test_values_come_back_in_m3s_and_a_missing_one_is_no_zero(self, layout: Layout, tmp_path: Path) -> None:
        series = only(read_bytes(tmp_path, layout.data))
        np.testing.assert_allclose(series.values.to_numpy(), layout.values, rtol=1e-12)
        assert np.isnan(series.values.iloc[1])
        assert series.values.iloc[2] == 0

    def test_days_are_civil_days_and_instants_are_in_utc(self, layout: Layout, tmp_path: Path) -> None:
        series = only(read_bytes(tmp_path, layout.data))
        assert series.step == ("daily" if layout.daily else "PT15M")
        assert (series.frame.index == layout.index).all()

    def test_flags_are_sets_of_known_words(self, layout: Layout, tmp_path: Path) -> None:
        flags = only(read_bytes(tmp_path, layout.data)).frame["flags"].tolist()
        marked = ["estimated" in f.split() for f in flags]
        assert marked == [layout.estimated and i == ESTIMATED for i in range(6)]
        assert all(f == " ".join(sorted(set(f.split()))) for f in flags)

    def test_approval_is_one_of_three_words(self, layout: Layout, tmp_path: Path) -> None:
        approval = only(read_bytes(tmp_path, layout.data)).frame["approval"].tolist()
        assert set(approval) <= set(APPROVALS)
        assert [a == "provisional" for a in approval] == [layout.provisional and i >= 4 for i in range(6)]

    def test_the_origin_names_file_bytes_unit_and_how_the_unit_was_known(self, layout: Layout, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, layout.data)
        origin = only(file).origins[0]
        assert origin.file == "anything.bin"
        assert origin.digest == file.digest == hashlib.sha256(layout.data).hexdigest()
        assert origin.unit_from and origin.clock
        assert origin.format == file.format
        if layout.format:
            assert file.format == layout.format
        if layout.format != "delimited text":
            assert origin.station

    def test_rows_lead_back_into_the_file(self, layout: Layout, tmp_path: Path) -> None:
        rows = only(read_bytes(tmp_path, layout.data)).frame["row"].tolist()
        assert rows == sorted(rows) and rows[0] >= 1
        lines = layout.text.replace("\r", "").split("\n")
        if rows[0] > 1:  # text: the row is a line of the file
            assert all("2021" in lines[r - 1] for r in rows)

    def test_line_ends_and_the_name_of_the_file_do_not_matter(self, layout: Layout, tmp_path: Path) -> None:
        plain = only(read_bytes(tmp_path, layout.data))
        windows = layout.text.replace("\r", "").replace("\n", "\r\n").encode()
        assert same(only(read_bytes(tmp_path, windows, "x.xlsx")), plain)

    def test_packed_files_read_the_same(self, layout: Layout, tmp_path: Path) -> None:
        plain = only(read_bytes(tmp_path, layout.data))
        assert same(only(read_bytes(tmp_path, gzip.compress(layout.data))), plain)
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("README.txt", "Invented data. Please cite nobody.\n")
            archive.writestr("deep/down/data", layout.data)
        file = read_bytes(tmp_path, packed.getvalue())
        assert same(only(file), plain)
        assert file.series[0].origins[0].file == "anything.bin/deep/down/data"
        assert any("README.txt" in sentence for sentence in file.not_discharge)

    def test_a_byte_order_mark_and_utf_16_do_not_matter(self, layout: Layout, tmp_path: Path) -> None:
        plain = only(read_bytes(tmp_path, layout.data))
        text = layout.text.removeprefix("\ufeff")
        assert same(only(read_bytes(tmp_path, text.encode("utf-8-sig"))), plain)
        assert same(only(read_bytes(tmp_path, text.encode("utf-16"))), plain)

    def test_reading_twice_gives_the_same(self, layout: Layout, tmp_path: Path) -> None:
        assert same(only(read_bytes(tmp_path, layout.data)), only(read_bytes(tmp_path, layout.data)))

    def test_half_a_file_is_half_a_record_or_a_problem(self, layout: Layout, tmp_path: Path) -> None:
        """A download that broke off: nothing is invented, and markup that is not whole is refused."""
        file = read_bytes(tmp_path, layout.data[: len(layout.data) * 3 // 4])
        known = {float(v) for v in layout.values if v == v}
        found = {round(float(v), 9) for s in file.series for v in s.values if v == v}
        truncated = {round(float(n[:k]) * layout.factor, 9) for n in ("1.5", "0.75", "2.5") for k in range(1, len(n))}
        assert found <= {round(v, 9) for v in known} | truncated
        assert file.series or file.problems
        if layout.text.lstrip("\ufeff ")[0] in "<{":
            assert file.series == ()
            assert "whole" in file.problems[0].expected

    def test_a_web_page_in_its_place_is_refused(self, layout: Layout, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, b"<!DOCTYPE html><html><body>" + layout.data + b"</body></html>")
        assert file.series == ()
        assert "web page" in file.problems[0].expected

    def test_a_unit_against_the_file_is_a_problem(self, layout: Layout, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, layout.data, unit="acre-ft/d")
        with pytest.raises(InputError, match="no other unit"):
            file.only_series(ReadChoices())
