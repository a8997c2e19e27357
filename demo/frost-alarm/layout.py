# SPDX-License-Identifier: MIT
"""Board-level description: net rules, planes, pours, silkscreen text, stack-up."""

from __future__ import annotations

import math

from circuit import BOARD_H, BOARD_W, NUMBER, REVISION, TITLE
from router import Rule

RULES = {
    "Default": Rule(0.2, 0.15),
    "Supply": Rule(0.5, 0.2),
    "Power": Rule(1.0, 0.2),
    "Contact": Rule(1.5, 0.5, via=0.8, drill=0.4),
    "Radio": Rule(0.35, 0.2),
}
CLASS_OF = {
    **dict.fromkeys(("+24V_IN", "+24V_F", "+24V", "SW_NODE", "RELAY_COIL"), "Power"),
    **dict.fromkeys(("+5V", "VBUS", "BUZZ_COIL", "+3V3_RF", "+3V3A", "GND", "+3V3"), "Supply"),
    **dict.fromkeys(("RELAY_COM", "RELAY_NO", "RELAY_NC"), "Contact"),
    **dict.fromkeys(("RF_OUT", "RF_MATCH", "RF_ANT"), "Radio"),
}

INSET = 0.5


def _corner(x: float, y: float, start: int) -> tuple[tuple[float, float], ...]:
    """Quarter of a circle inside the board's rounded corner (radius 2 round x, y), from `start` degrees on."""
    angles = [math.radians(start + step) for step in (0, 22.5, 45, 67.5, 90)]
    radius = 2.0 - INSET
    return tuple((round(x + radius * math.cos(a), 4), round(y + radius * math.sin(a), 4)) for a in angles)


_TOP_RIGHT = _corner(BOARD_W - 2, 2, 270)
EDGE = (*_corner(2, 2, 180), *_TOP_RIGHT, *_corner(BOARD_W - 2, BOARD_H - 2, 0), *_corner(2, BOARD_H - 2, 90))
FIVE_VOLT = (
    (45, 0.5), *_TOP_RIGHT, (91.5, 42), (66.5, 42), (66.5, 24.5), (61, 24.5), (61, 21.5), (45, 21.5),
)  # fmt: skip

# net, layer, outline, priority
ZONES = (
    ("GND", "F.Cu", EDGE, 0),
    ("GND", "In1.Cu", EDGE, 0),
    ("GND", "B.Cu", EDGE, 0),
    ("+3V3", "In2.Cu", EDGE, 0),
    ("+5V", "In2.Cu", FIVE_VOLT, 1),
    ("+24V_F", "F.Cu", ((18.9, 11.2), (24.6, 11.2), (24.6, 14.8), (21.4, 14.8), (21.4, 19.8), (18.9, 19.8)), 2),
    ("+24V", "F.Cu", ((26.3, 11.2), (34, 11.2), (34, 13.8), (36.6, 13.8), (36.6, 14.9), (29.5, 14.9), (29.5, 16),
                      (26.3, 16)), 3),
    ("SW_NODE", "F.Cu", ((39.4, 12), (42.4, 8.6), (45.3, 8.6), (45.3, 18.8), (42.2, 18.8), (42.2, 13.6), (39.4, 13.6)),
     4),
    ("+5V", "F.Cu", ((49.7, 7.8), (60, 7.8), (60, 10), (55.4, 10), (55.4, 18), (53.3, 18), (53.3, 13.4), (49.7, 13.4)),
     5),
    ("+3V3", "F.Cu", ((54.2, 21.2), (62.9, 21.2), (62.9, 22.2), (60.4, 25.4), (54.2, 25.4)), 6),
)  # fmt: skip

# Vias no pad asks for: heat and current. net, points
EXTRA_VIAS = (
    ("GND", tuple((46 + dx, 42 + dy) for dx in (-1.375, 0, 1.375) for dy in (-1.375, 0, 1.375))),
    ("GND", ((20, 45.5), (20.875, 46.375), (19.125, 46.375), (20.875, 44.625), (19.125, 44.625))),
    ("GND", ((38, 15), (38, 16.25), (38, 13.75))),
    ("+5V", ((53.25, 8.5), (52.375, 8.5), (56.75, 8.5))),
    ("+3V3", ((55, 24.75), (56.5, 24.875 + 0.75), (58, 24.75))),
)

# text, x, y, size, rotation
SILK_TOP = (
    ("24V", 14.2, 9.9, 1.0, 0),
    ("GND", 13.2, 20.6, 1.0, 0),
    ("LEAF", 14.2, 26.0, 1.0, 0),
    ("PROBE", 14.2, 35.2, 1.0, 0),
    ("868 MHz", 6, 49.5, 1.0, 0),
    ("NC", 78.6, 48.5, 1.0, 0),
    ("COM", 78.2, 43.4, 1.0, 0),
    ("NO", 78.6, 38.3, 1.0, 0),
    ("PWR", 64, 2.2, 0.8, 0),
    ("RUN", 68, 2.2, 0.8, 0),
    ("ALARM", 72, 2.2, 0.8, 0),
    ("RESET", 50, 25.6, 0.8, 0),
    ("BOOT", 39.5, 25.6, 0.8, 0),
    ("GND TX RX", 58.3, 61.2, 0.8, 0),
    ("USB", 46, 50.0, 0.8, 0),
    ("SENSOR", 72, 51.9, 0.8, 0),
)
NAMEPLATE = ((TITLE.upper(), 27, 56.25, 1.5, 0), (NUMBER, 28, 59, 1.5, 0), (f"REV {REVISION}", 28, 61.5, 1.5, 0))

NOTES = (
    "Four layers, 1.6 mm, 35 um copper outside, 17 um inside, ENIG.",
    "Solder mask green, legend white.",
    "Through-hole parts are soldered selectively after reflow.",
)
PANEL_NOTE = "Delivered in a panel of 2 x 2, scored, with 7 mm rails along the long sides; three marks per rail pair."


def notes(*lines: str) -> tuple[tuple[str, float, float, float, int], ...]:
    """Numbered lines for the drawing, below the board."""
    return tuple((f"{i}. {line}", BOARD_W / 2, BOARD_H + 6 + 3 * i, 1.5, 0) for i, line in enumerate(lines, 1))


# A snowflake: arms of a star with two pairs of barbs each. centre, arm length
SNOWFLAKE = ((18, 60), 2.2)

STACKUP = (
    ("F.SilkS", "Top Silk Screen", None, ""),
    ("F.Paste", "Top Solder Paste", None, ""),
    ("F.Mask", "Top Solder Mask", 0.01, ""),
    ("F.Cu", "copper", 0.035, ""),
    ("dielectric 1", "prepreg", 0.21, "FR4"),
    ("In1.Cu", "copper", 0.0175, ""),
    ("dielectric 2", "core", 1.055, "FR4"),
    ("In2.Cu", "copper", 0.0175, ""),
    ("dielectric 3", "prepreg", 0.21, "FR4"),
    ("B.Cu", "copper", 0.035, ""),
    ("B.Mask", "Bottom Solder Mask", 0.01, ""),
    ("B.Paste", "Bottom Solder Paste", None, ""),
    ("B.SilkS", "Bottom Silk Screen", None, ""),
)
