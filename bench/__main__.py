"""Every benchmark, one after the other."""

from bench import (
    audio,
    bank,
    book,
    chains,
    hands,
    ladder,
    likeness,
    pack,
    routes,
    start,
    studio,
    studio_busy,
    studio_load,
)

for benchmark in (
    start,
    bank,
    audio,
    likeness,
    ladder,
    chains,
    hands,
    pack,
    book,
    routes,
    studio,
    studio_load,
    studio_busy,
):
    benchmark.main()
