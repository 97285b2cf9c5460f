"""Services on bad days: whatever they do, nothing is lost, nothing is invented, and the answer says what happened.

Codes 206, 408, 429 and 503 and both forms of Retry-After are those of RFC 9110 (section 10.2.3) and RFC 6585; the link
“next” is that of OGC API - Features, part 1 (OGC 17-069r4). Bodies of errors are in the services' own shapes.
"""

from __future__ import annotations

import datetime
import email.utils
import json
import sqlite3
import time
from contextlib import closing

import pytest
from filelock import FileLock
from werkzeug import Response

from hydro.services import fetch_station
from hydro.services.fetched import FAILED, INCOMPLETE, STALE, UNCHANGED, UPDATED
from hydro.services.kept import STATE, VALUES
from hydro.services.session import FILE_NAME, remove_broken
from tests.hydro.services.player import NOW, STATION, as_json

SERVICES = ["us-daily", "us-continuous", "england", "france", "france-real-time"]
HTML = "<!DOCTYPE html><html><title>Sign in to the guest network</title></html>"


def always(make):
    return lambda n, request: make()


def text(content, status=200, kind="text/plain", **headers):
    return Response(content, status, {"Content-Type": kind, **headers})


def cut_off():
    """Fewer bytes than the answer says it has."""
    response = as_json({"features": []})
    response.headers["Content-Length"] = "5000"
    return response


def slow():
    time.sleep(0.5)
    return as_json({"features": []})


def dripping():
    def pieces():
        yield '{"features": ['
        for _ in range(60):
            time.sleep(0.05)
            yield " "
        yield "]}"

    return Response(pieces(), 200, {"Content-Type": "application/json"})


#: Each bad day, and a word of the sentence that tells it.
BAD = {
    "403": (lambda: text("API_KEY_MISSING", 403), "403"),
    "404": (lambda: as_json({"code": "NotFound", "description": "No such station"}, 404), "No such station"),
    "400": (lambda: as_json({"error": {"code": "BadArgument", "message": "time is wrong"}}, 400), "time is wrong"),
    "429": (lambda: text("You have exceeded your rate limit", 429), "exceeded your rate limit"),
    "500": (lambda: text("", 500), "answered 500"),
    "503 with a web page": (lambda: text(HTML, 503, "text/html"), "answered 503"),
    "a web page instead of data": (lambda: text(HTML, 200, "text/html"), "web page"),
    "a web page that says it is JSON": (lambda: text(HTML, 200, "application/json"), "web page"),
    "a wrong content type": (lambda: text('{"features": []}', 200, "application/pdf"), "application/pdf"),
    "a body that ends too early": (cut_off, "broke off"),
    "JSON that ends too early": (lambda: text('{"features": [{"prop', 200, "application/json"), "breaks off"),
    "JSON of another kind": (lambda: as_json({"hello": "world"}), "another kind"),
    "JSON that is a list": (lambda: as_json([1, 2]), "another kind"),
    "no answer in time": (slow, "too slow"),
    "an answer that drips": (dripping, "too slow"),
    "a redirect to another host": (
        lambda: Response("", 302, {"Location": "http://elsewhere.example/x"}),
        "another host",
    ),
    "a redirect in a circle": (lambda: Response("", 302, {"Location": "?again=1"}), "without end"),
}


@pytest.mark.parametrize("day", BAD)
def test_a_bad_day_leaves_the_kept_copy_as_it_was_and_is_told(fetch, player, clock, day):
    make, said = BAD[day]
    file = fetch().copy.file
    before = file.read_bytes()
    clock.at += datetime.timedelta(days=2)
    player.upset = always(make)
    found = fetch(piece_s=0.2, whole_s=0.3)
    assert found.outcome == STALE
    assert said in found.why
    assert found.copy.stale and found.copy.failure == found.why
    assert found.copy.retrieved == NOW and found.copy.tried > NOW
    assert file.read_bytes() == before
    assert (found.n_kept, found.n_new, len(found.changes)) == (20, 0, 0)


@pytest.mark.parametrize("service", SERVICES)
@pytest.mark.parametrize("day", ["403", "500", "a web page instead of data", "JSON that ends too early"])
def test_a_bad_day_without_a_copy_leaves_none(fetch, player, service, day):
    player.upset = always(BAD[day][0])
    found = fetch(service)
    assert (found.outcome, found.n_kept, found.copy.has_values) == (FAILED, 0, False)
    assert BAD[day][1] in found.why


def test_a_good_day_after_a_bad_one_takes_the_warning_away(fetch, player):
    fetch()
    player.upset = always(BAD["500"][0])
    assert fetch().copy.stale
    player.upset = lambda n, request: None
    found = fetch()
    assert (found.outcome, found.copy.stale, found.copy.failure) == (UNCHANGED, False, None)


@pytest.mark.parametrize("day", ["500", "429", "a body that ends too early", "JSON that ends too early"])
def test_what_may_pass_is_tried_again_after_longer_and_longer_waits(fetch, player, clock, day):
    player.upset = lambda n, request: BAD[day][0]() if n <= 2 else None
    assert fetch().outcome == UPDATED
    assert clock.waits == [1.0, 4.0]


@pytest.mark.parametrize("day", ["403", "404", "400", "a web page instead of data", "a redirect to another host"])
def test_what_will_not_pass_is_not_tried_again(fetch, player, clock, day):
    player.upset = always(BAD[day][0])
    fetch()
    assert (len(player.asked), clock.waits) == (1, [])


def test_the_wait_that_a_service_asks_for_is_kept_to_the_second(fetch, player, clock):
    player.upset = lambda n, request: text("", 429, **{"Retry-After": "37"}) if n == 1 else None
    assert fetch().outcome == UPDATED
    assert clock.waits == [37.0]


def test_a_wait_may_be_asked_for_as_a_date(fetch, player, clock):
    at = email.utils.format_datetime(NOW + datetime.timedelta(seconds=20), usegmt=True)
    player.upset = lambda n, request: text("", 503, **{"Retry-After": at}) if n == 1 else None
    assert fetch().outcome == UPDATED
    assert clock.waits == [20.0]


def test_a_service_that_asks_for_a_long_rest_is_left_alone_until_then(fetch, player, clock):
    fetch()
    player.upset = always(lambda: text("", 429, **{"Retry-After": "3600"}))
    player.asked.clear()
    found = fetch()
    assert (found.outcome, clock.waits) == (STALE, [])
    assert found.copy.not_before == NOW + datetime.timedelta(hours=1)
    player.upset = lambda n, request: None
    assert "left alone" in fetch().why
    assert len(player.asked) == 1
    clock.at += datetime.timedelta(hours=1)
    assert fetch().outcome == UNCHANGED


def test_an_allowance_that_is_used_up_stops_the_walk_and_what_came_is_not_asked_for_again(fetch, player, clock):
    player.page_rows = 7
    rest = {"X-RateLimit-Limit": "50", "X-RateLimit-Remaining": "0"}
    ours = player.upset

    def one_left(n, request):
        player.upset = ours
        response = player._us(request)
        player.asked.pop()
        player.upset = one_left
        response.headers.extend(rest)
        return response

    player.upset = one_left
    found = fetch()
    assert (found.outcome, len(player.asked)) == (FAILED, 1)
    assert "allowance" in found.why and "page 2" in found.why
    player.upset = ours
    clock.at += datetime.timedelta(hours=1)
    found = fetch(pages="kept")
    assert (found.outcome, found.n_new, found.pages_from_cache) == (UPDATED, 20, 1)
    assert len(player.asked) == 3


@pytest.mark.parametrize("service", ["us-daily", "england", "france"])
def test_a_failure_in_the_middle_of_a_walk_is_not_the_end_of_the_data(fetch, player, service):
    player.page_rows = 7
    player.upset = lambda n, request: text("", 500) if n >= 2 else None
    found = fetch(service)
    assert (found.outcome, found.copy.has_values) == (FAILED, False)
    assert "500" in found.why and "page 2" in found.why
    player.upset = lambda n, request: None
    player.asked.clear()
    found = fetch(service, pages="kept")
    assert (found.outcome, found.n_new, found.pages_from_cache) == (UPDATED, 20, 1)


def test_years_that_came_stay_when_an_older_one_does_not(fetch, player):
    player.values = {"2023-05-01T00:00:00+00:00": "2.5", "2024-03-01T00:00:00+00:00": "7.5"}
    player.upset = lambda n, request: text("", 403) if "2022-" in request.args["time"] else None
    found = fetch("us-continuous", again_from="2021-01-01")
    assert (found.outcome, found.n_kept) == (INCOMPLETE, 2)
    assert "403" in found.why
    assert [s.last.year for s in found.came] == [2024, 2023]
    player.upset = lambda n, request: None
    player.asked.clear()
    assert fetch("us-continuous").outcome == UNCHANGED
    years = [r.args["time"][:4] for r in player.asked]
    assert "2023" not in years[1:] and {"2022", "2021"} <= set(years)


def test_a_fetch_that_is_stopped_goes_on_where_it_was(fetch, player):
    player.values = {"2023-05-01T00:00:00+00:00": "2.5", "2024-03-01T00:00:00+00:00": "7.5"}

    def stop(sentence):
        if "2022" in sentence:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fetch("us-continuous", again_from="2021-01-01", progress=stop)
    player.asked.clear()
    found = fetch("us-continuous")
    assert (found.n_kept, found.n_new) == (2, 0)
    # The newest days are always asked for; of the older years only those that had not come.
    assert [r.args["time"][:4] for r in player.asked] == ["2024", "2022", "2021"]


def test_a_next_link_to_another_host_is_not_followed(fetch, player, elsewhere):
    link = {"rel": "next", "href": elsewhere.url_for("/more?cursor=x")}
    page = {"features": [player.feature("2024-03-01", "5.5")], "numberReturned": 1, "links": [link]}
    player.upset = always(lambda: as_json(page))
    found = fetch(key="a-secret-key")
    assert found.outcome == FAILED
    assert "another host" in found.why


def test_a_redirect_within_the_host_is_followed(fetch, player):
    player.server.expect_request("/moved").respond_with_handler(player._us)
    player.upset = lambda n, request: (
        None if request.path == "/moved" else Response("", 307, {"Location": f"/moved?{request.query_string.decode()}"})
    )
    assert fetch().n_new == 20


@pytest.mark.parametrize("new_cursor", [False, True])
def test_pages_that_lead_in_a_circle_end_the_walk(fetch, player, new_cursor):
    def circle(n, request):
        href = f"{player.host}{request.path}?cursor={n if new_cursor else 1}"
        features = [player.feature("2024-03-01", "5.5", last_modified="x")]
        return as_json({"features": features, "numberReturned": 1, "links": [{"rel": "next", "href": href}]})

    player.upset = circle
    found = fetch()
    assert found.outcome == FAILED
    assert "circle" in found.why or "same page" in found.why
    assert len(player.asked) <= 3


@pytest.mark.parametrize("service", SERVICES)
def test_a_station_of_which_nothing_is_held_is_said(fetch, player, service):
    player.values = {}
    found = fetch(service, again_from="2024-01-01")
    assert (found.outcome, found.copy.has_values) == (FAILED, False)
    assert "no discharge" in found.why


@pytest.mark.parametrize("service", ["us-daily", "england", "france"])
def test_an_empty_answer_where_there_were_values_takes_none_away(fetch, player, service):
    fetch(service)
    player.values = {}
    found = fetch(service)
    assert (found.outcome, found.n_kept, found.n_withdrawn) == (STALE, 20, 0)
    assert "nothing" in found.why


def test_an_answer_with_fewer_values_than_it_says_is_not_taken(fetch, player):
    player.upset = always(
        lambda: as_json({"features": [player.feature("2024-03-01", "5.5")], "numberReturned": 2, "links": []})
    )
    assert "says that it holds 2" in fetch().why
    player.upset = always(lambda: as_json({"count": 5, "next": None, "data": []}))
    assert "of the 5 values" in fetch("france").why


def test_an_answer_as_long_as_answers_can_be_is_asked_again_in_halves(fetch, player, monkeypatch):
    monkeypatch.setattr("hydro.services.us_water.PAGE_ROWS", 8)

    def cut_without_a_word(n, request):
        first, last = request.args["time"].split("/")
        found = [player.feature(t, v) for t, v in player.values.items() if first <= t <= last][:8]
        return as_json({"features": found, "numberReturned": len(found), "links": []})

    player.upset = cut_without_a_word
    found = fetch(again_from="2024-02-20")
    assert (found.outcome, found.n_new) == (UPDATED, 20)


@pytest.mark.parametrize("other", [{"monitoring_location_id": "USGS-01111111"}, {"parameter_code": "00065"}])
def test_values_of_something_else_are_not_taken(fetch, player, other):
    player.upset = always(lambda: as_json({"features": [player.feature("2024-03-01", "5.5", **other)], "links": []}))
    assert "something else" in fetch().why


def test_a_value_without_a_time_is_not_taken(fetch, player):
    player.upset = always(lambda: as_json({"features": [player.feature("soon", "5.5")], "links": []}))
    assert "soon" in fetch().why


def test_a_service_that_is_not_there_is_said(fetch):
    found = fetch(host="http://127.0.0.1:9")
    assert found.outcome == FAILED
    assert "could not be reached" in found.why
    assert found.for_all


@pytest.mark.parametrize("name", [STATE, VALUES])
@pytest.mark.parametrize("content", ["", "{", "no table, no state", '{"version": 1}'])
def test_a_broken_file_of_the_copy_is_made_anew(fetch, name, content):
    copy = fetch().copy
    whole = copy.file.read_text()
    (copy.folder / name).write_text(content)
    found = fetch()
    assert found.outcome in (UPDATED, UNCHANGED)
    assert found.n_kept == 20
    assert [line.rpartition(",")[0] for line in found.copy.file.read_text().splitlines()[1:]] == [
        line.rpartition(",")[0] for line in whole.splitlines()[1:]
    ]


def test_pages_of_earlier_are_let_go_when_there_are_too_many(fetch, tmp_path, monkeypatch):
    fetch()
    monkeypatch.setattr("hydro.services.session.MOST_KEPT", 0)
    monkeypatch.setattr("requests_cache.backends.sqlite.time", lambda: time.time() + 86_400)
    assert fetch(pages="kept").outcome == UNCHANGED
    with closing(sqlite3.connect(tmp_path / "pages" / FILE_NAME)) as db:
        assert db.execute("SELECT count(*) FROM responses").fetchone() == (1,)


def test_pages_that_somebody_else_writes_are_not_taken_for_broken(tmp_path, fetch):
    fetch()
    path = tmp_path / "pages" / FILE_NAME
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("BEGIN EXCLUSIVE")
        remove_broken(path, wait_s=0.05)
        db.execute("ROLLBACK")
    assert path.exists()


def test_what_a_service_writes_cannot_steer_a_terminal(fetch, player):
    player.upset = always(lambda: text("\x1b[2J\x07 no \x00 data", 403))
    why = fetch().why
    assert why.isprintable() and "no  data" in why


def test_broken_pages_are_begun_anew(fetch, tmp_path):
    fetch()
    (tmp_path / "pages" / FILE_NAME).write_bytes(b"SQLite format 3\0 no more" * 50)
    assert fetch(pages="kept").outcome == UNCHANGED


def test_a_place_that_cannot_be_written_is_said(fetch, tmp_path):
    (tmp_path / ".resurgence").write_text("a file where a folder should be")
    found = fetch()
    assert found.outcome == FAILED
    assert "cannot be written" in found.why


def test_two_fetches_of_one_station_do_not_meet(fetch, monkeypatch):
    monkeypatch.setattr(fetch_station, "_WAIT_S", 0.05)
    copy = fetch().copy
    with FileLock(copy.folder / "lock"):
        found = fetch()
    assert (found.outcome, found.n_kept) == (STALE, 0) or found.why
    assert "another fetch" in found.why


def test_what_is_kept_is_json_that_says_what_failed(fetch, player):
    fetch()
    player.upset = always(BAD["404"][0])
    told = json.loads((fetch().copy.folder / STATE).read_text(encoding="utf-8"))
    assert "No such station" in told["failure"]
    assert told["station"] == STATION
