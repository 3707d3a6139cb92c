"""Every benchmark, one after the other."""

from bench import audio, bank, chains, hands, ladder, likeness, pack, routes, start

for one in (start, bank, audio, likeness, ladder, chains, hands, pack, routes):
    one.main()
