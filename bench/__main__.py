"""Every benchmark, one after the other."""

from bench import audio, bank, book, chains, hands, ladder, likeness, pack, routes, start, studio

for one in (start, bank, audio, likeness, ladder, chains, hands, pack, book, routes, studio):
    one.main()
