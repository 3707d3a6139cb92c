"""Every benchmark, one after the other."""

from bench import audio, chains, hands, ladder, pack, routes, start

for one in (start, audio, ladder, chains, hands, pack, routes):
    one.main()
