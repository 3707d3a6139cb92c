"""Listen to a student's take: what was good, what to fix first, at which tempo to go on."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from fillwright.cli.fills.hands import tempo
from fillwright.cli.options import add_reporting, print_json
from fillwright.errors import FillwrightError

if TYPE_CHECKING:
    from fillwright.take.take import AssessedTake


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("take", type=Path, nargs="?", metavar="TAKE", help="a recording, or MIDI of an e-kit")
    parser.add_argument(
        "--against",
        type=Path,
        metavar="WHAT",
        help="any file of a fill in a pack, a pack with --fill, or a written MIDI file",
    )
    parser.add_argument("--fill", type=int, metavar="N", help="number of the fill, where WHAT is a pack")
    parser.add_argument(
        "--tempo", type=tempo, metavar="BPM", help="tempo asked for (WHAT's own, or the slowest)"
    )
    parser.add_argument("--pads", type=Path, metavar="TABLE", help="a table of your own of what each key is")
    parser.add_argument("--calibration", type=Path, metavar="FILE", help="how the drums of this kit sound")
    parser.add_argument("--page", choices=("a4", "letter"), help="page of report.pdf (the lesson's, or a4)")
    parser.add_argument(
        "-o",
        "--output",
        type=Path,
        metavar="DIR",
        help="write report.json, report.svg and report.pdf; with --calibrate the calibration file",
    )
    parser.add_argument(
        "--calibrate", type=Path, metavar="TAKE", help="four strokes on each surface, to make a calibration of"
    )
    parser.add_argument("--surfaces", metavar="NAMES", help='in the order struck: "snare, high tom, floor tom"')
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Listen and report, or make a calibration."""
    if options.calibrate is not None:
        return _calibrate(options)
    if options.surfaces is not None:
        raise FillwrightError("--surfaces says what is struck in a calibration; give --calibrate TAKE with it.")
    if options.take is None:
        raise FillwrightError("There is no take to listen to; write fillwright listen TAKE --against WHAT.")
    if options.against is None:
        raise FillwrightError("A take is laid against what was to be played; name it with --against WHAT.")
    return _listen(options)


def _listen(options: argparse.Namespace) -> int:
    from fillwright.score.parts.midi_notes import default_pads, read_pads
    from fillwright.take.calibrate import read_calibration
    from fillwright.take.reference import find_reference

    pads = read_pads(options.pads) if options.pads else default_pads()
    against = find_reference(options.against, pads, fill=options.fill, tempo=options.tempo)
    calibration = read_calibration(options.calibration) if options.calibration else None

    from fillwright.take.take import as_json, assess_take

    taken = assess_take(options.take, against, pads=pads, calibration=calibration)
    if options.output:
        from fillwright.take.report_folder import write_report

        page = options.page or (against.fill.page if against.fill else "a4")
        write_report(taken, options.output, page=page)
    if options.json:
        print_json(as_json(taken))
    elif not options.quiet:
        print(_in_words(taken, options.output))
    return 0


def _in_words(taken: AssessedTake, folder: Path | None) -> str:
    from fillwright.listen.report.number_table import list_numbers

    rows = list_numbers(taken.report)
    width = max((len(name) for name, _ in rows), default=0)
    lines = [f"{taken.against.title}, at {taken.report.tempo_asked:g}", "", *taken.words, ""]
    lines += [f"  {name:<{width}}  {value}" for name, value in rows]
    lines += ["", f"Trust: {taken.trust.level}.", *taken.trust.limits, *taken.remarks]
    if folder:
        lines += ["", f"  {folder}: report.json, report.svg, report.pdf"]
    return "\n".join(lines)


def _calibrate(options: argparse.Namespace) -> int:
    """Four strokes on each surface as a file."""
    if options.surfaces is None:
        raise FillwrightError('Say what is struck, in order: --surfaces "snare, high tom, floor tom".')
    if options.output is None:
        raise FillwrightError("Name the file for the calibration with -o FILE.")
    if options.take is not None or options.against is not None:
        raise FillwrightError("A calibration is made by itself; leave --against and the second take out.")
    from fillwright.atomic import write_whole
    from fillwright.score.parts.midi_notes import default_pads
    from fillwright.take.calibrate import calibrate, encode_calibration, parse_surface_names
    from fillwright.take.take import detect_onsets

    names = parse_surface_names(options.surfaces)
    heard, _ = detect_onsets(options.calibrate, default_pads())
    made = calibrate(heard, names)
    write_whole(options.output, encode_calibration(made))
    if options.json:
        print_json({"file": str(options.output), "surfaces": list(names), "strokes": 4 * len(names)})
    elif not options.quiet:
        print(f"{options.output}: four strokes each on {', '.join(names)}")
    return 0
