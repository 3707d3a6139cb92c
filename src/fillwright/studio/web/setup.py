"""The setup of a studio: its store, its folders, and the people that it is for."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from fillwright.store.database import Store
from fillwright.store.transaction import Clock, read_clock
from fillwright.studio.web.addresses import Network
from fillwright.studio.web.sign_in_limits import SignInTries
from fillwright.studio.work.builds import Builds
from fillwright.studio.work.queue import WorkQueue

LOCAL_HOSTS = frozenset({"localhost", "127.0.0.1", "[::1]"})
"""Host names of this machine. A request under any other name comes from a page that redirects browsers here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """Everything that a studio needs to answer.

    Attributes:
        store: of students, lessons and takes.
        packs: folder of built packs.
        sounds: folder from which teachers choose sounds.
        secret: key that signs sessions; at least 32 characters that can't be guessed.
        school: True for a studio with accounts; without them every visitor is the one teacher.
        hosts: host names that are answered; empty for any (a school behind its own server).
        secure: True to send cookies over HTTPS only.
        insecure: True to accept passwords from other computers without HTTPS.
        proxies: networks of trusted proxies, whose word on a visitor's address counts.
        clock: gives the current time in UTC.
        builds: packs being built.
        tries: recent sign-ins.
    """

    store: Store
    packs: Path
    sounds: Path
    secret: str
    school: bool = False
    hosts: frozenset[str] = LOCAL_HOSTS
    secure: bool = False
    insecure: bool = False
    proxies: tuple[Network, ...] = ()
    clock: Clock = read_clock
    builds: Builds = field(default_factory=Builds)
    tries: SignInTries = field(default_factory=SignInTries)

    @property
    def accepts_passwords(self) -> bool:
        """True where no password travels over a network without encryption, unless the owner allowed it."""
        return self.secure or self.insecure or (bool(self.hosts) and self.hosts <= LOCAL_HOSTS)

    @property
    def queue(self) -> WorkQueue:
        """Takes and packs that wait or are worked on."""
        return self.builds.queue
