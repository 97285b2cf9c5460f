"""Trials of killing a pass: a workspace with news for three channels, and what has to hold after a recovery."""

from __future__ import annotations

import collections
import random
import shutil
import xml.etree.ElementTree as ET
from dataclasses import dataclass, field
from email import message_from_bytes
from pathlib import Path

from werkzeug import Request, Response

from dashboard.watch.feed import ATOM
from dashboard.watch.memory import read_memory
from dashboard.watch.one_pass import run_pass
from tests.dashboard.watch.conftest import RULES, MailServer, Springs
from tests.dashboard.watch.passes_that_die import Dying

CHANNELS = """\
[watch.channels.feed]
feed_file = "alerts.xml"
[watch.channels.mail]
message_to = "MAIL"
[watch.channels.hook]
json_to = "HOOK"
"""


@dataclass
class Hook:
    """Takes what is posted, and writes it down before it answers."""

    got: list[str] = field(default_factory=list)

    def __call__(self, request: Request) -> Response:
        self.got.append(request.get_json()["id"])
        return Response("")


def ready(folder: Path) -> Springs:
    """A workspace on which one pass was made, and then an outlet fell dry and its past was revised."""
    folder.mkdir()
    springs = Springs(folder).settings(rules=RULES, channels=CHANNELS).record(*[80.0] * 12)
    run_pass(folder, environment={}, now=springs.now)
    springs.values[4] = 30.0
    return springs.record(50.0, 30.0)


@dataclass(kw_only=True)
class Trial:
    """What one killed pass and the pass after it came to."""

    killed: bool
    raised: int
    never_sent: int
    marked_but_not_sent: int
    twice: int
    told_again: int

    @property
    def good(self) -> bool:
        return self.never_sent == self.marked_but_not_sent == self.told_again == 0 and self.twice <= int(self.killed)


def trial(
    springs: Springs, folder: Path, dying: Dying, mail: MailServer, hook: Hook, address: str, kill: dict[str, float]
) -> Trial:
    """Kill one pass on a copy of the workspace, make the next one, and count."""
    shutil.copytree(springs.folder, folder)
    mail.got.clear()
    hook.got.clear()
    environment = {"MAIL": mail.address, "HOOK": address}
    killed = dying.run(folder, environment, springs.now, **kill)["killed"]
    arrived = _arrived(folder, mail, hook)
    marked = {(s.alert, s.channel) for s in read_memory(folder).sendings if s.sent_at}
    run_pass(folder, environment=environment, now=springs.now)
    after = read_memory(folder)
    in_the_end = _arrived(folder, mail, hook)
    due = {(a.id, c) for a in after.alerts for c in ("feed", "mail", "hook")}
    third = run_pass(folder, environment=environment, now=springs.now)
    again = _arrived(folder, mail, hook) - in_the_end
    shutil.rmtree(folder)
    return Trial(
        killed=killed,
        raised=len(after.alerts),
        never_sent=len(due - set(in_the_end)) + sum(s.sent_at is None for s in after.sendings),
        marked_but_not_sent=len(marked - set(arrived)),
        twice=sum(n - 1 for n in in_the_end.values()),
        told_again=len(third.raised) + again.total(),
    )


def _arrived(folder: Path, mail: MailServer, hook: Hook) -> collections.Counter[tuple[str, str]]:
    """How often each alert has arrived through each channel."""
    found = collections.Counter((id, "hook") for id in hook.got)
    for content in mail.got:
        text = str(message_from_bytes(content).get_payload(decode=True), "utf-8")
        found[text.rsplit("Alert ", 1)[1][:16], "mail"] += 1
    if (folder / "alerts.xml").exists():
        for entry in ET.parse(folder / "alerts.xml").getroot().iter(f"{{{ATOM}}}entry"):
            found[entry.findtext(f"{{{ATOM}}}content", "").rsplit("Alert ", 1)[1][:16], "feed"] += 1
    return found


def kills(n: int, steps: int, seconds: float, seed: int) -> list[dict[str, float]]:
    """Where to kill: two in three at a random step, the others at a random moment of a pass."""
    chance = random.Random(seed)
    found: list[dict[str, float]] = []
    for i in range(n):
        found.append({"seconds": chance.uniform(0, seconds)} if i % 3 == 2 else {"step": chance.randint(1, steps)})
    return found
