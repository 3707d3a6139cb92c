"""Report on a student's take: what was good, what to fix first, which tempo comes next."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from fillwright.cli.fills.hands import parse_tempo
from fillwright.cli.options import add_midi_notes, add_reporting, print_json, print_warning
from fillwright.errors import FillwrightError

if TYPE_CHECKING:
    from fillwright.take.take import AssessedTake


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument(
        "take", type=Path, nargs="?", metavar="TAKE", help="a recording, or a MIDI file from an electronic kit"
    )
    parser.add_argument(
        "--against",
        type=Path,
        metavar="WHAT",
        help="the written music: a file of a fill in a pack, a pack with --fill, or a written MIDI file",
    )
    parser.add_argument("--fill", type=int, metavar="N", help="number of the fill, if --against is a pack")
    parser.add_argument(
        "--tempo",
        type=parse_tempo,
        metavar="BPM",
        help="target tempo in bpm [the tempo in a file's name, else the MIDI file's, else the slowest]",
    )
    add_midi_notes(parser)
    parser.add_argument(
        "--calibration", type=Path, metavar="FILE", help="sound of each drum, made with --calibrate [none]"
    )
    parser.add_argument(
        "--page", choices=("a4", "letter"), help="page size of report.pdf [the lesson's, else a4]"
    )
    parser.add_argument(
        "-o",
        "--output",
        type=Path,
        metavar="DIR",
        help="folder for report.json, report.svg and report.pdf; with --calibrate the file to write",
    )
    parser.add_argument(
        "--calibrate",
        type=Path,
        metavar="TAKE",
        help="make a calibration from four strokes on each drum; needs --surfaces and -o",
    )
    parser.add_argument(
        "--surfaces",
        metavar="NAMES",
        help='with --calibrate: the drums in the order struck, "snare, high tom, floor tom"',
    )
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Report on a take, or make a calibration."""
    if options.calibrate is not None:
        return _calibrate(options)
    if options.surfaces is not None:
        raise FillwrightError("--surfaces belongs to a calibration. Add --calibrate TAKE, or leave it out.")
    if options.take is None:
        raise FillwrightError("No take was given. Write fillwright listen TAKE --against WHAT.")
    if options.against is None:
        raise FillwrightError("--against WHAT is missing. Name a fill of a pack, or a written MIDI file.")
    return _listen(options)


def _listen(options: argparse.Namespace) -> int:
    from fillwright.score.parts.midi_notes import get_default_notes
    from fillwright.tables.midi_notes import read_midi_notes
    from fillwright.take.calibrate import read_calibration
    from fillwright.take.reference import find_reference

    notes = options.midi_notes
    note_map = read_midi_notes(notes, warn=print_warning) if notes else get_default_notes()
    reference = find_reference(options.against, note_map, fill=options.fill, tempo=options.tempo)
    calibration = read_calibration(options.calibration) if options.calibration else None

    from fillwright.listen.report.stored.storage import encode_report
    from fillwright.take.take import assess_take, record_take

    take = assess_take(options.take, reference, note_map=note_map, calibration=calibration)
    if options.output:
        from fillwright.take.report_folder import write_report

        page = options.page or (reference.fill.page if reference.fill else "a4")
        write_report(take, options.output, page=page)
    if options.json:
        print_json(encode_report(record_take(take)))
    elif not options.quiet:
        print(_format_report(take, options.output))
    return 0


def _format_report(take: AssessedTake, folder: Path | None) -> str:
    from fillwright.listen.report.number_table import list_numbers

    rows = list_numbers(take.report)
    width = max((len(name) for name, _ in rows), default=0)
    lines = [f"{take.reference.title}, at {take.report.tempo_target:g} bpm", "", *take.sentences, ""]
    lines += [f"  {name:<{width}}  {value}" for name, value in rows]
    if not take.report.refused:
        lines += ["", f"Confidence: {take.confidence.level.value}"]
    lines += [*take.confidence.limits, *take.remarks]
    if folder:
        lines += ["", f"  {folder}: report.json, report.svg, report.pdf"]
    return "\n".join(lines)


def _calibrate(options: argparse.Namespace) -> int:
    """Write four strokes on each surface to a file."""
    if options.surfaces is None:
        raise FillwrightError(
            'List the drums in the order you struck them: --surfaces "snare, high tom, floor tom".'
        )
    if options.output is None:
        raise FillwrightError("Name the file for the calibration with -o FILE.")
    if options.take is not None or options.against is not None:
        raise FillwrightError("--calibrate takes one recording. Leave --against and the other take out.")
    from fillwright.atomic import write_file
    from fillwright.score.parts.midi_notes import get_default_notes
    from fillwright.take.calibrate import STROKES, calibrate, encode_calibration, parse_surface_names
    from fillwright.take.take import detect_take

    names = parse_surface_names(options.surfaces)
    detected, _ = detect_take(options.calibrate, get_default_notes())
    write_file(options.output, encode_calibration(calibrate(detected, names)))
    if options.json:
        report = {"file": str(options.output), "surfaces": list(names), "strokes": STROKES * len(names)}
        print_json(report)
    elif not options.quiet:
        print(f"{options.output}: four strokes each on {', '.join(names)}")
    return 0
