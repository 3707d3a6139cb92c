"""Every benchmark, one after the other."""

from bench import audio, pack, routes, start

for one in (start, audio, pack, routes):
    one.main()
