# SPDX-License-Identifier: MIT
"""The circuit of the orchard frost alarm: parts, nets and where each part sits.

Positions are millimetres from the board's top left corner, x right, y down; rotation is counter-clockwise.
Makers and their part numbers are invented, except that the land patterns come from the editor's own libraries.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Optional

BOARD_W, BOARD_H = 92.0, 64.0
NUMBER, REVISION, TITLE = "FA-1042", "B", "Orchard frost alarm"

LANDS = {
    "R0402": "Resistor_SMD:R_0402_1005Metric",
    "R0603": "Resistor_SMD:R_0603_1608Metric",
    "C0402": "Capacitor_SMD:C_0402_1005Metric",
    "C0603": "Capacitor_SMD:C_0603_1608Metric",
    "C0805": "Capacitor_SMD:C_0805_2012Metric",
    "C1206": "Capacitor_SMD:C_1206_3216Metric",
    "CP10": "Capacitor_THT:CP_Radial_D10.0mm_P5.00mm",
    "L0402": "Inductor_SMD:L_0402_1005Metric",
    "L0603": "Inductor_SMD:L_0603_1608Metric",
    "L7.3": "Inductor_SMD:L_7.3x7.3_H4.5",
    "F1812": "Fuse:Fuse_1812_4532Metric",
    "SMA": "Diode_SMD:D_SMA",
    "SMB": "Diode_SMD:D_SMB",
    "SOD123": "Diode_SMD:D_SOD-123",
    "LED0603": "LED_SMD:LED_0603_1608Metric",
    "SOT23": "Package_TO_SOT_SMD:SOT-23",
    "SOT23-6": "Package_TO_SOT_SMD:SOT-23-6",
    "SOT223": "Package_TO_SOT_SMD:SOT-223-3_TabPin2",
    "SOIC8": "Package_SO:SOIC-8_3.9x4.9mm_P1.27mm",
    "SOIC8EP": "Package_SO:SOIC-8-1EP_3.9x4.9mm_P1.27mm_EP2.41x3.3mm",
    "QFN48": "Package_DFN_QFN:QFN-48-1EP_7x7mm_P0.5mm_EP5.6x5.6mm",
    "QFN20": "Package_DFN_QFN:QFN-20-1EP_4x4mm_P0.5mm_EP2.5x2.5mm",
    "DFN4": "Sensor_Humidity:Sensirion_DFN-4_1.5x1.5mm_P0.8mm_SHT4x_NoCentralPad",
    "XTAL": "Crystal:Crystal_SMD_3225-4Pin_3.2x2.5mm",
    "TERM2": "TerminalBlock_Phoenix:TerminalBlock_Phoenix_MKDS-1,5-2-5.08_1x02_P5.08mm_Horizontal",
    "TERM3": "TerminalBlock_Phoenix:TerminalBlock_Phoenix_MKDS-1,5-3-5.08_1x03_P5.08mm_Horizontal",
    "SWD10": "Connector_PinHeader_1.27mm:PinHeader_2x05_P1.27mm_Vertical_SMD",
    "COAX": "Connector_Coaxial:U.FL_Hirose_U.FL-R-SMT-1_Vertical",
    "USBC": "Connector_USB:USB_C_Receptacle_GCT_USB4105-xx-A_16P_TopMnt_Horizontal",
    "PH4": "Connector_JST:JST_PH_S4B-PH-SM4-TB_1x04-1MP_P2.00mm_Horizontal",
    "PIN3": "Connector_PinHeader_2.54mm:PinHeader_1x03_P2.54mm_Vertical",
    "RELAY": "Relay_THT:Relay_SPDT_Omron-G5LE-1",
    "BUZZER": "Buzzer_Beeper:MagneticBuzzer_CUI_CMT-8504-100-SMT",
    "BUTTON": "Button_Switch_SMD:SW_SPST_TL3342",
    "HOLE": "MountingHole:MountingHole_3.2mm_M3",
    "FID": "Fiducial:Fiducial_1mm_Mask3mm",
    "TP": "TestPoint:TestPoint_Pad_D1.5mm",
}


@dataclass(frozen=True)
class Pin:
    """What the schematic says about one pad."""

    net: str
    name: str = ""
    kind: str = "passive"


@dataclass(frozen=True)
class Placed:
    """One part: `pins` by pad number; pads that are not listed stay without a net."""

    ref: str
    value: str
    land: str
    at: tuple[float, float]
    rotation: float
    pins: dict[str, Pin] = field(default_factory=dict)
    maker: str = ""
    number: str = ""
    bottom: bool = False

    def moved(self, at: Optional[tuple[float, float]] = None, **changes: object) -> Placed:
        """The same part somewhere else or with other properties."""
        return replace(self, at=at or self.at, **changes)  # type: ignore[arg-type]


MAKERS = {
    "R": "Fenwick Passives",
    "C": "Fenwick Passives",
    "L": "Coldharbour Magnetics",
    "FB": "Coldharbour Magnetics",
    "D": "Brightwater Semiconductor",
    "Q": "Brightwater Semiconductor",
    "Y": "Larkfield Timing",
    "SW": "Tamar Controls",
    "F": "Tamar Controls",
    "J": "Hollin Connectors",
    "K": "Tamar Controls",
    "BZ": "Tamar Controls",
    "U": "Orchard Silicon",
}


def part(ref: str, value: str, land: str, x: float, y: float, rot: float, nets: str, number: str = "") -> Placed:
    """A part whose pads 1, 2, 3 ... carry the nets of a blank-separated list (``-`` for none)."""
    pins = {str(i): Pin(net) for i, net in enumerate(nets.split(), 1) if net != "-"}
    return chip(ref, value, land, x, y, rot, pins, number)


def chip(ref: str, value: str, land: str, x: float, y: float, rot: float, pins: dict, number: str = "") -> Placed:
    """A part with pins given one by one."""
    prefix = ref.rstrip("0123456789")
    if not number and prefix in ("R", "C", "L", "FB"):
        number = f"{prefix}{land.lstrip('RCLP')}-{value.replace(' ', '-')}".upper()
    return Placed(ref, value, land, (x, y), rot, pins, MAKERS.get(prefix, "") if number else "", number)


def ic(text: str) -> dict[str, Pin]:
    """Pins from ``number name net kind`` lines; without a net the pin is left open on purpose."""
    kinds = {"P": "power_in", "O": "power_out", "I": "input", "Q": "output", "B": "bidirectional", "-": "passive"}
    pins = {}
    for line in text.strip().splitlines():
        for entry in line.split(","):
            words = entry.split()
            number, name, net, kind = words if len(words) == 4 else (*words, "", "B")
            pins[number] = Pin(net, name, kinds[kind])
    return pins
