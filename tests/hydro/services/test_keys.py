"""A key reaches the service that it is for, and nothing else: no file, no log, no message, no other host."""

from __future__ import annotations

import base64
import json
import logging
import sqlite3
from contextlib import closing

import pytest
from werkzeug import Response

from hydro.services.access import KEY_HEADER, Access, access, is_host
from hydro.services.failure import ServiceError
from hydro.services.session import FILE_NAME
from hydro.services.us_water import HOST
from tests.hydro.services.player import as_json

KEY = "s3cret+/key=0123"


def everything_in(folder):
    """Every file, and the bodies of kept pages, which are written in base 64."""
    found = [p.read_bytes() for p in folder.rglob("*") if p.is_file()]
    with closing(sqlite3.connect(folder / "pages" / FILE_NAME)) as db:
        for (value,) in db.execute("SELECT value FROM responses"):
            found.append(base64.b64decode(json.loads(value)["_content"]))
    return b"".join(found)


@pytest.fixture
def nothing_leaks(tmp_path, caplog):
    caplog.set_level(logging.DEBUG)
    # The local server's own log is of what it was asked; it would show a key in an address.
    yield
    assert KEY.encode() not in everything_in(tmp_path)
    assert KEY not in caplog.text
    assert "s3cret%2B" not in caplog.text


@pytest.mark.usefixtures("nothing_leaks")
class TestWithAKey:
    def test_pages_are_kept_for_this_test_to_mean_anything(self, fetch, tmp_path):
        fetch(key=KEY)
        assert b'"time_series_id": "aa11"' in everything_in(tmp_path)

    def test_it_goes_in_the_header_alone(self, fetch, player):
        player.page_rows = 7
        assert fetch(key=KEY).n_new == 20
        assert len(player.asked) == 3
        assert all(r.headers[KEY_HEADER] == KEY for r in player.asked)
        assert not any("s3cret" in r.url for r in player.asked)

    def test_the_same_pages_answer_with_and_without_it(self, fetch, player):
        fetch(key=KEY)
        fetch(key=KEY)
        n = len(player.asked)
        assert fetch(pages="kept").pages_from_cache == 1
        assert len(player.asked) == n

    def test_a_next_link_that_holds_it_is_asked_without_it_and_not_kept(self, fetch, player):
        def with_key(n, request):
            assert "api_key" not in request.args
            if n > 1:
                return as_json({"features": [player.feature("2024-03-02", "6.5")], "links": []})
            href = f"{player.host}{request.path}?cursor=2&API_KEY={KEY}"
            features = [player.feature("2024-03-01", "5.5")]
            return as_json({"features": features, "links": [{"rel": "next", "href": href}]})

        player.upset = with_key
        found = fetch(key=KEY)
        assert (found.why, found.n_new) == (None, 2)

    def test_a_message_that_repeats_it_is_told_without_it(self, fetch, player):
        player.upset = lambda n, request: Response(f"the key {KEY} is not known", 403)
        found = fetch(key=KEY)
        assert "the key (key) is not known" in found.why
        assert KEY not in repr(found)

    def test_a_header_that_repeats_it_is_not_kept(self, fetch, player):
        ours = player.upset

        def repeat(n, request):
            player.upset = ours
            response = player._us(request)
            player.upset = repeat
            response.headers["X-Seen-Key"] = KEY
            return response

        player.upset = repeat
        assert fetch(key=KEY).n_new == 20

    def test_a_redirect_to_another_host_does_not_get_it(self, fetch, player, elsewhere):
        player.upset = lambda n, request: Response("", 302, {"Location": elsewhere.url_for("/x")})
        assert "another host" in fetch(key=KEY).why

    def test_services_that_take_none_are_given_none(self, fetch, player):
        fetch("france", key=KEY)
        assert not any(KEY_HEADER in r.headers for r in player.asked)


ENVIRONMENT = {"RESURGENCE_US_KEY": KEY}


def of(environment, host_in_workspace=None):
    return access("us", HOST, environment=environment, host_in_workspace=host_in_workspace, takes_key=True)


def test_the_usual_host_is_given_the_key():
    assert of(ENVIRONMENT).key == KEY
    assert KEY not in repr(of(ENVIRONMENT))


def test_a_host_that_only_the_workspace_names_is_given_no_key():
    found = of(ENVIRONMENT, "https://mirror.example")
    assert (found.host, found.key) == ("https://mirror.example", None)


def test_a_host_that_the_environment_names_goes_first_and_is_given_the_key():
    found = of(ENVIRONMENT | {"RESURGENCE_US_HOST": "https://own.example/"}, "https://mirror.example")
    assert (found.host, found.key) == ("https://own.example", KEY)


def test_a_key_does_not_travel_in_the_open():
    assert of(ENVIRONMENT | {"RESURGENCE_US_HOST": "http://own.example"}).key is None
    assert of(ENVIRONMENT | {"RESURGENCE_US_HOST": "http://127.0.0.1:8000"}).key == KEY


@pytest.mark.parametrize(
    "url",
    [
        "https://host.example.evil.example/x",
        "http://host.example/x",
        "https://host.example:8443/x",
        "https://host.example@evil.example/x",
        "//evil.example/x",
        "file:///etc/passwd",
        "https://[::1/x",
        "javascript:alert(1)",
    ],
)
def test_an_address_elsewhere_is_refused(url):
    with pytest.raises(ServiceError, match=r"another host|address"):
        Access(host="https://host.example").own_address(url)


def test_an_address_of_the_host_is_kept_but_for_keys_in_it():
    own = Access(host="https://host.example").own_address
    assert own("https://HOST.example:443/x?a=1&b=") == "https://HOST.example:443/x?a=1&b="
    assert own("https://host.example/x?a=%2F&api_key=k&Access_Token=t") == "https://host.example/x?a=%2F"


def test_hosts_are_recognised():
    assert is_host("https://a.example") and is_host("http://127.0.0.1:80/base")
    assert not any(
        is_host(t) for t in ("a.example", "ftp://a.example", "https://", "https://u:p@a.example", "https://a?k=1")
    )
