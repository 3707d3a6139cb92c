"""Every benchmark, one after the other."""

from bench import audio, chains, hands, pack, routes, start

for one in (start, audio, chains, hands, pack, routes):
    one.main()
