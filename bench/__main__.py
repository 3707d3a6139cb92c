"""Every benchmark, one after the other."""

from bench import audio, pack, start

for one in (start, audio, pack):
    one.main()
