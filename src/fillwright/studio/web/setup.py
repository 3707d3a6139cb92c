"""How a studio is set up: what it keeps where, and for whom."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from fillwright.store.database import Store
from fillwright.store.desk import Clock, wall_clock
from fillwright.studio.web.sign_in_limits import Tries
from fillwright.studio.work.builds import Builds

LOCAL_HOSTS = frozenset({"localhost", "127.0.0.1", "[::1]"})
"""Names under which a studio on one's own machine may be asked: any other is a page that was led here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """What a studio needs.

    Attributes:
        store: students, lessons, takes.
        packs: the folder in which built packs stand.
        sounds: the folder from which teachers choose sounds.
        secret: signs sessions; at least 32 characters that nobody can guess.
        school: whether there are accounts; without, whoever can reach it is the one teacher.
        hosts: names under which it may be asked; empty for any (a school behind its own server).
        secure: whether cookies are sent over HTTPS only.
        clock: the moment, in UTC.
        builds: packs being built.
        tries: sign-ins of late.
    """

    store: Store
    packs: Path
    sounds: Path
    secret: str
    school: bool = False
    hosts: frozenset[str] = LOCAL_HOSTS
    secure: bool = False
    clock: Clock = wall_clock
    builds: Builds = field(default_factory=Builds)
    tries: Tries = field(default_factory=Tries)
