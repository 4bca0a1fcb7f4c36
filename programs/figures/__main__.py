"""Look at figures: contact sheets by family, or some exercises large with what is wrong about them.

    python -m programs.figures               every family as a contact sheet, into .state/figures
    python -m programs.figures squat wall-sit  these large, with joint angles, gaps and faults

Ends with 1 when a pose is impossible.
"""

import argparse
from collections.abc import Sequence
from pathlib import Path

import yaml
from PIL import Image, ImageDraw, ImageFont

from programs.figures.checks import contacts, find_faults, gap
from programs.figures.drawing import draw
from programs.figures.kinematics import build
from programs.figures.png import draw_image
from programs.figures.pose import Pose
from programs.figures.reading import FIXTURES, read_poses
from programs.figures.skeleton import centre_of_mass

_FONT = Path(__file__).resolve().parent.parent / "fonts" / "AtkinsonHyperlegibleNext-Regular.ttf"
_CELL = 300
_COLUMNS = 4


def main(arguments: Sequence[str] | None = None) -> int:
    """Sheets or single figures are written; faults are printed. 1 when there is one."""
    parser = argparse.ArgumentParser(
        prog="python -m programs.figures", description="Look at exercise figures."
    )
    parser.add_argument("slugs", nargs="*", help="exercises to draw large; none: all, as contact sheets")
    parser.add_argument(
        "--into", type=Path, default=Path(".state/figures"), help="the folder for the pictures"
    )
    given = parser.parse_args(arguments)
    given.into.mkdir(parents=True, exist_ok=True)
    poses = read_poses()
    if given.slugs:
        chosen = [poses[slug] for slug in given.slugs]
        for pose in chosen:
            print("\n".join(describe(pose)))
        write_sheet(chosen, given.into / "some.png", cell=560, columns=min(3, len(chosen)))
        print(given.into / "some.png")
    else:
        chosen = list(poses.values())
        for path in sorted(FIXTURES.glob("*.yaml")):
            family = [poses[slug] for slug in yaml.safe_load(path.read_text("utf-8")) or {}]
            write_sheet(family, given.into / f"{path.stem}.png")
            write_sheet(family, given.into / f"{path.stem}-small.png", cell=120, columns=8)
            print(given.into / f"{path.stem}.png")
    faults = [fault for pose in chosen for fault in find_faults(pose)]
    print("\n".join(map(str, faults)) or f"{len(chosen)} drawn, nothing impossible")
    return 1 if faults else 0


def describe(pose: Pose) -> list[str]:
    """What an author needs to mend a pose: the joints' angles, where joints are, and the gaps of contacts."""
    lines = [f"--- {pose.slug}"]
    for number, position in enumerate(pose.positions, 1):
        skeleton = build(position, pose.things)
        angles = ", ".join(f"{name} {angle:.0f}" for name, angle in skeleton.angles.items() if round(angle))
        places = ", ".join(
            f"{name} ({x:.0f}, {y:.0f}, {z:.0f})"
            for name, (x, y, z) in skeleton.points.items()
            if name.split()[-1]
            in ("pelvis", "shoulders", "head", "hip", "knee", "ankle", "shoulder", "hand", "elbow")
        )
        met = [
            f"{part} {gap(skeleton, part, upon, pose.things):.1f} from {upon}"
            for part, upon in contacts(position).items()
            if upon == "floor" or any(thing.name == upon for thing in pose.things)
        ]
        x, _y, z = centre_of_mass(skeleton, position)
        lines += [
            f"position {number}: {angles}",
            f"  at: {places}",
            f"  contacts: {', '.join(met)}; centre of mass over ({x:.0f}, {z:.0f})",
        ]
    return lines


def write_sheet(poses: Sequence[Pose], path: Path, *, cell: int = _CELL, columns: int = _COLUMNS) -> None:
    """A contact sheet of the poses, each with its name under it."""
    label = 30 if cell > 150 else 0
    pictures = [draw_image(draw(pose), width=cell, scale=1) for pose in poses]
    rows = [pictures[k : k + columns] for k in range(0, len(pictures), columns)]
    highs = [max(picture.height for picture in row) for row in rows]
    sheet = Image.new("L", ((cell + 16) * columns, sum(highs) + (label + 20) * len(rows)), 255)
    pen, font = ImageDraw.Draw(sheet), ImageFont.truetype(str(_FONT), 18)
    y = 10
    for number, (row, high) in enumerate(zip(rows, highs, strict=True)):
        for column, picture in enumerate(row):
            x = column * (cell + 16) + 8
            sheet.paste(picture, (x, y + high - picture.height))
            if label:
                pen.text((x, y + high + 4), poses[number * columns + column].slug, fill=90, font=font)
        y += high + label + 20
    sheet.save(path)


if __name__ == "__main__":
    raise SystemExit(main())
