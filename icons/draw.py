# SPDX-License-Identifier: MIT
"""Draws the icons: a board with a fiducial and a traced path, and the tick of a review that found it fit.

One list of shapes on a 24 by 24 grid gives both the SVG sources and the PNG files, so that they cannot differ.
Run: python icons/draw.py [FOLDER]
"""

from __future__ import annotations

import sys
from pathlib import Path

from PIL import Image, ImageDraw

GRID = 24
OVERSAMPLE = 16

# colours by theme: outline of the board, what is on the board, the tick
THEMES = {
    "light": {"board": "#2b5f4a", "copper": "#b06a12", "tick": "#1b4fa8"},
    "dark": {"board": "#8fd0b0", "copper": "#f0b060", "tick": "#8fb8ff"},
}

# ("line", colour, width, points) with round ends, or ("disc", colour, centre, radius); drawn in this order
SHAPES = [
    ("line", "board", 2.0, [(19, 9), (19, 4), (2, 4), (2, 20), (9, 20)]),
    ("disc", "copper", (6.5, 8.5), 2.2),
    ("line", "copper", 1.8, [(12, 8.5), (14.5, 8.5)]),
    ("line", "copper", 1.8, [(6, 14), (6, 16)]),
    ("line", "tick", 3.2, [(10.5, 16), (14.5, 20), (21.5, 12)]),
]


def svg(theme: str) -> str:
    """The drawing as SVG."""
    colours = THEMES[theme]
    parts = []
    for shape in SHAPES:
        if shape[0] == "disc":
            _, name, (x, y), radius = shape
            parts.append(f'<circle cx="{x}" cy="{y}" r="{radius}" fill="{colours[name]}"/>')
        else:
            _, name, width, points = shape
            path = " ".join(f"{x},{y}" for x, y in points)
            parts.append(
                f'<polyline points="{path}" fill="none" stroke="{colours[name]}" stroke-width="{width}" '
                'stroke-linecap="round" stroke-linejoin="round"/>'
            )
    body = "\n  ".join(parts)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {GRID} {GRID}" width="{GRID}" height="{GRID}">\n'
        f"  <!-- SPDX-License-Identifier: MIT; made by icons/draw.py -->\n  {body}\n</svg>\n"
    )


def png(theme: str, size: int, plate: str = "") -> Image.Image:
    """The drawing at `size` pixels square, on a rounded plate of a colour where one is given."""
    scale = size * OVERSAMPLE / GRID
    big = Image.new("RGBA", (size * OVERSAMPLE, size * OVERSAMPLE), (0, 0, 0, 0))
    pen = ImageDraw.Draw(big)
    colours = THEMES[theme]
    inset = 1.0
    if plate:
        pen.rounded_rectangle((0, 0, *(side - 1 for side in big.size)), radius=3 * scale, fill=plate)
        inset = 0.8  # room between drawing and plate

    def at(point: tuple[float, float]) -> tuple[float, float]:
        return tuple(((value - GRID / 2) * inset + GRID / 2) * scale for value in point)  # type: ignore[return-value]

    def disc(point: tuple[float, float], radius: float, colour: str) -> None:
        x, y = at(point)
        r = radius * inset * scale
        pen.ellipse((x - r, y - r, x + r, y + r), fill=colour)

    for shape in SHAPES:
        colour = colours[shape[1]]
        if shape[0] == "disc":
            disc(shape[2], shape[3], colour)
        else:
            _, _, width, points = shape
            pen.line([at(point) for point in points], fill=colour, width=round(width * inset * scale))
            for point in points:
                disc(point, width / 2, colour)
    return big.resize((size, size), Image.Resampling.LANCZOS)


def draw(folder: Path) -> None:
    """Writes all icons."""
    for theme in THEMES:
        (folder / f"review-{theme}.svg").write_text(svg(theme), encoding="utf-8")
        for size in (24, 48):
            png(theme, size).save(folder / f"review-{theme}-{size}.png", optimize=True)
    png("light", 64, plate="#f4f1e8").save(folder / "icon.png", optimize=True)


if __name__ == "__main__":
    draw(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
