"""Files made to do harm, packed files, and formats that tie or are unknown."""

from __future__ import annotations

import gzip
import io
import json
import zipfile
from pathlib import Path

import pytest

from tests.hydro.gauge_layouts import ROOT, hash_header, rdb, waterml2, waterml2_collection, waterml_json, waterml_xml
from tests.hydro.test_sources_contract import only, read_bytes

BILLION = "".join(f'<!ENTITY b{i} "{f"&b{i - 1};" * 10}">' for i in range(1, 10))


def zipped(**files: bytes) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return packed.getvalue()


class TestXml:
    @pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
    def test_entities_that_expand_into_each_other_are_refused(self, tmp_path: Path, encoding: str) -> None:
        head = f'<!DOCTYPE x [<!ENTITY b0 "0">{BILLION}]>'
        text = waterml_xml(head=head, points='<a:value dateTime="2021-01-01T00:00:00">&b9;</a:value>')
        file = read_bytes(tmp_path, text.encode(encoding))
        assert file.series == () and "entities" in file.problems[0].expected

    def test_an_entity_that_names_a_file_is_not_opened(self, tmp_path: Path) -> None:
        (tmp_path / "secret").write_text("42")
        head = f'<!DOCTYPE x [<!ENTITY s SYSTEM "file://{tmp_path}/secret">]>'
        text = waterml_xml(head=head, points='<a:value dateTime="2021-01-01T00:00:00">&s;</a:value>')
        assert read_bytes(tmp_path, text.encode()).series == ()

    def test_an_entity_nobody_declared_is_refused(self, tmp_path: Path) -> None:
        text = waterml_xml(points='<a:value dateTime="2021-01-01T00:00:00">&s;</a:value>')
        assert "whole" in read_bytes(tmp_path, text.encode()).problems[0].expected

    def test_elements_nested_without_end_are_refused(self, tmp_path: Path) -> None:
        text = waterml_xml(points="<a:x>" * 100_000)
        assert read_bytes(tmp_path, text.encode()).series == ()

    def test_a_file_that_breaks_off_gives_nothing_and_says_where(self, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, waterml2_collection()[:-200].encode())
        assert file.series == () and "breaks off" in file.problems[0].expected

    def test_an_unknown_kind_is_named_with_what_was_tried(self, tmp_path: Path) -> None:
        expected = read_bytes(tmp_path, b'<?xml version="1.0"?><feed:rss xmlns:feed="x"/>').problems[0].expected
        assert "<feed:rss>" in expected and "OGC WaterML 2.0" in expected

    def test_a_tie_is_said(self, tmp_path: Path) -> None:
        text = waterml_xml(tail=waterml2()).replace("<a:timeSeriesResponse", f"<a:timeSeriesResponse {ROOT}")
        expected = read_bytes(tmp_path, text.encode()).problems[0].expected
        assert "US WaterML 1.1 (XML) and OGC WaterML 2.0" in expected


class TestJson:
    def test_nesting_without_end_is_refused(self, tmp_path: Path) -> None:
        for text in ('{"timeSeries": ' + "[" * 200_000, '{"queryInfo": 0, "timeSeries": ' + '{"a":' * 200_000):
            file = read_bytes(tmp_path, text.encode())
            assert file.series == () and file.problems

    def test_a_file_that_breaks_off_gives_nothing_and_says_where(self, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, waterml_json().encode()[:-50])
        assert file.series == () and "breaks off" in file.problems[0].expected

    def test_something_behind_the_end_is_refused(self, tmp_path: Path) -> None:
        assert "behind its end" in read_bytes(tmp_path, (waterml_json() + "{}").encode()).problems[0].expected

    def test_half_a_surrogate_pair_does_no_harm(self, tmp_path: Path) -> None:
        text = waterml_json().replace('"A"', '"\\ud800"', 1)
        assert len(only(read_bytes(tmp_path, text.encode())).frame) == 6

    def test_numbers_beyond_all_measure_are_problems(self, tmp_path: Path) -> None:
        text = waterml_json().replace('"2.5"', "1e999")
        file = read_bytes(tmp_path, text.encode())
        assert file.problems and "number" in file.problems[0].expected

    def test_an_unknown_kind_is_named_with_what_was_tried(self, tmp_path: Path) -> None:
        expected = read_bytes(tmp_path, json.dumps({"a": ["b"]}).encode()).problems[0].expected
        assert "France hydrometry (JSON)" in expected


class TestPacked:
    def test_a_gzip_bomb_is_refused(self, tmp_path: Path) -> None:
        assert "unpacks to" in read_bytes(tmp_path, gzip.compress(b"\n" * 30_000_000)).problems[0].expected

    def test_a_zip_bomb_is_refused(self, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, zipped(a=b"0" * 30_000_000))
        assert "unpacks to" in file.problems[0].expected

    def test_an_archive_in_an_archive_is_not_opened(self, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, zipped(**{"inner.zip": zipped(a=rdb().encode())}))
        assert file.series == () and "inner.zip" in file.problems[0].expected

    def test_a_broken_archive_is_refused(self, tmp_path: Path) -> None:
        data = zipped(a=rdb().encode())
        assert read_bytes(tmp_path, data[: len(data) // 2]).series == ()
        damaged = bytearray(data)
        damaged[40:60] = bytes(20)
        assert read_bytes(tmp_path, bytes(damaged)).series == ()
        whole = gzip.compress(rdb().encode())
        assert "gzip" in read_bytes(tmp_path, whole[:-20]).problems[0].expected

    def test_names_that_point_elsewhere_write_nothing(self, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, zipped(**{"../../outside.txt": rdb().encode()}))
        assert len(file.series) == 1
        assert not (tmp_path.parent.parent / "outside.txt").exists()

    def test_members_of_different_formats_are_all_read(self, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, zipped(one=rdb().encode(), two=hash_header().encode()))
        assert {s.origins[0].file for s in file.series} == {"anything.bin/one", "anything.bin/two"}

    def test_a_member_with_a_mistake_is_a_problem_and_not_passed_over(self, tmp_path: Path) -> None:
        wrong = rdb().replace("\t0.75\t", "\t0x75\t")
        file = read_bytes(tmp_path, zipped(good=rdb().encode(), wrong=wrong.encode()))
        (problem,) = file.problems
        assert (problem.file, problem.value) == ("anything.bin/wrong", "0x75")

    def test_a_member_that_breaks_off_is_a_problem_and_not_passed_over(self, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, zipped(good=rdb().encode(), half=waterml2_collection()[:-100].encode()))
        (problem,) = file.problems
        assert problem.file == "anything.bin/half" and "breaks off" in problem.expected

    def test_gzip_members_one_after_another_are_one_file(self, tmp_path: Path) -> None:
        text = rdb()
        data = gzip.compress(text[:100].encode()) + gzip.compress(text[100:].encode())
        assert len(only(read_bytes(tmp_path, data)).frame) == 6
