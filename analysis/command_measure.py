"""`layerwitness measure`: one photo in, the result as JSON or a few lines; exit status 2 and one line on refusal."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the options of `measure`."""
    parser.add_argument("photo", type=Path, metavar="PHOTO", help="JPEG, PNG, WebP, TIFF or HEIC")
    parser.add_argument("--um-per-px", type=float, required=True, help="micrometres per px of the photo")
    parser.add_argument("--um-per-px-sd", type=float, default=0.01, help="its relative standard deviation (0.01)")
    parser.add_argument("--line-width", type=float, required=True, help="width of a road in mm")
    parser.add_argument("--layer-height", type=float, required=True, help="in mm")
    parser.add_argument("--walls", type=int, help="how many walls the part was sliced with")
    parser.add_argument("--contact-band", type=float, help="mm of a road's width pressed on the next layer")
    parser.add_argument("--spacing", type=float, help="distance between road centres in mm (default: line width)")
    parser.add_argument("--outline", type=Path, help='JSON file {"outline_px": [[x, y], ...], "holes_px": [...]}')
    marks = 'JSON file {"marks": [[x, y, radius, "bonded" | "bare" | "unknown"], ...]}, px'
    parser.add_argument("--marks", type=Path, metavar="FILE", help=marks)
    parser.add_argument("--mate", type=Path, help="photo of the mating face")
    parser.add_argument("--mate-um-per-px", type=float, help="scale of that photo")
    parser.add_argument("--surface", choices=("fracture", "outer"), default="fracture")
    parser.add_argument("--json", action="store_true", help="print the whole result as one JSON object")


def run(args: argparse.Namespace) -> int:
    """Measure and print; 0 done, 2 the input can't be used."""
    from analysis.examine import ExamineRequest, RequestRefused, examine
    from analysis.welds.marks import from_json

    try:
        outline = _read_outline(args.outline) if args.outline else None
        request = ExamineRequest(
            photo=args.photo,
            um_per_px=args.um_per_px,
            line_width_mm=args.line_width,
            layer_height_mm=args.layer_height,
            scale_relative_sd=args.um_per_px_sd,
            wall_count=args.walls,
            contact_band_mm=args.contact_band,
            road_spacing_mm=args.spacing,
            outline=outline,
            surface=args.surface,
            marks=from_json(_read(args.marks, "marks")) if args.marks else (),
            mate=args.mate,
            mate_um_per_px=args.mate_um_per_px,
        )
        result = examine(request).result
    except ValueError as error:  # every refusal is a ValueError with words for the person
        if not isinstance(error, RequestRefused) and type(error) is ValueError:
            raise
        print(" ".join(str(error).split()), file=sys.stderr)
        return 2
    print(json.dumps(result, allow_nan=False) if args.json else _in_words(result))
    return 0


def _read_outline(path: Path) -> dict[str, Any]:
    from analysis.examine import RequestRefused

    given = _read(path, "outline")
    if not isinstance(given, dict):
        raise RequestRefused(f'The outline file {path.name} must hold {{"outline_px": [[x, y], ...]}}.')
    return given


def _read(path: Path, what: str) -> Any:
    from analysis.examine import RequestRefused

    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise RequestRefused(f"The {what} file {path.name} can't be read: {error}") from error


def _in_words(result: dict[str, Any]) -> str:
    lines = [f"Face area: {result['face_area_mm2']:.2f} mm²"]
    for key, name in (
        ("bonded_share_of_face", "Bonded, of the face"),
        ("bonded_area_fraction", "Bonded, of the contact"),
    ):
        entry = result[key]
        if entry is None:
            lines.append(f"{name}: not known. {result['reasons'].get(key, '')}")
        else:
            low, high = entry["interval"]
            lines.append(f"{name}: {entry['value']:.0%} (90 % interval {low:.0%} to {high:.0%})")
    for wall in result["walls"]:
        gaps = ", ".join(f"{g['start_mm']:.1f} to {g['end_mm']:.1f}" for g in wall["gaps"]) or "none"
        lines.append(f"Wall {wall['index']} of {wall['outline']}: {wall['length_mm']:.1f} mm, gaps in mm: {gaps}")
    lines += [f"Note: {text}" for text in result["warnings"]]
    return "\n".join(lines)


def main(words: Sequence[str] | None = None) -> int:
    """`python -m analysis.command_measure`."""
    parser = argparse.ArgumentParser(prog="measure", description="Measure one photo and print what was found.")
    add_arguments(parser)
    return run(parser.parse_args(words))


if __name__ == "__main__":
    raise SystemExit(main())
