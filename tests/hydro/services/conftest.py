"""A service on this machine, and a workspace folder to keep what it gives."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from pytest_httpserver import HTTPServer

from hydro.services.access import access
from hydro.services.ask import Asker
from hydro.services.fetch_station import fetch_station
from hydro.services.fetched import Fetched
from hydro.services.providers import PROVIDERS
from hydro.services.session import open_session
from tests.hydro.services.player import NOW, STATION, Player, days

Fetch = Callable[..., Fetched]


@pytest.fixture
def player(httpserver: HTTPServer) -> Player:
    """A service with twenty days of values, the last of them today."""
    made = Player(httpserver, {f"{d}": f"{50 + i}.5" for i, d in enumerate(days("2024-02-20", "2024-03-10"))})
    made.start()
    return made


@pytest.fixture
def elsewhere() -> Iterator[HTTPServer]:
    """Another host (another port is one), which nobody should ask."""
    with HTTPServer(host="127.0.0.1", port=0) as server:
        yield server
        assert server.log == []


class Clock:
    """A clock that waits move on. Kept pages grow old by the real clock, so most tests begin with none."""

    def __init__(self) -> None:
        self.at, self.waits = NOW, []

    def now(self) -> datetime.datetime:
        return self.at

    def sleep(self, seconds: float) -> None:
        self.waits.append(seconds)
        self.at += datetime.timedelta(seconds=seconds)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def fetch(tmp_path: Path, player: Player, clock: Clock) -> Iterator[Fetch]:
    """Fetches the station from the local service: fetch("us-daily", again_from=…, key=…, pages="kept")."""

    def run(
        service: str = "us-daily",
        *,
        station: str = STATION,
        again_from: str | None = None,
        key: str | None = None,
        host: str | None = None,
        pages: str = "",
        piece_s: float = 5.0,
        whole_s: float = 5.0,
        progress: Callable[[str], None] = lambda sentence: None,
    ) -> Fetched:
        provider = PROVIDERS[service]
        name = provider.host_name.upper()
        environment = {f"RESURGENCE_{name}_HOST": host or player.host}
        if key is not None:
            environment[f"RESURGENCE_{name}_KEY"] = key
        found = access(provider.host_name, provider.default_host, environment=environment, takes_key=provider.takes_key)
        folder = tmp_path / "pages"
        if not pages:
            for old in folder.glob("*"):
                old.unlink()
        session = open_session(folder, [found], whole_s=whole_s)
        try:
            asker = Asker(
                session=session,
                access=found,
                timeout_s=(piece_s, piece_s),
                sleep=clock.sleep,
                now=clock.now,
                progress=progress,
            )
            day = None if again_from is None else datetime.date.fromisoformat(again_from)
            return fetch_station(tmp_path, provider, station, asker, again_from=day)
        finally:
            session.close()

    return run
