# SPDX-License-Identifier: MIT
"""What the name of a library item says: package family, kind of part, chip size.

Three ways of naming are read: the board editor's own libraries (``SOIC-8_3.9x4.9mm_P1.27mm``), IPC-7351 land-pattern
names (``RESC1608X55N``), and house names (``0603-RES``, ``C0402``, ``SOT23-5``). A name that says nothing gives None:
then the reference letter and the pads decide.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from typing import Optional


class Family(Enum):
    """Packages that are placed, inspected and replaced alike."""

    CHIP = "chip"
    """Two end caps: resistors, ceramic capacitors, chip inductors, LEDs and diodes; also arrays of them."""
    MOLDED = "molded"
    """Two folded or short leads on a molded body: SMA, SOD, tantalum capacitors; also surface LEDs."""
    MELF = "melf"
    CAN = "electrolytic can"
    SOT = "SOT"
    SMALL_OUTLINE = "small-outline"
    QUAD_FLAT = "quad-flat"
    NO_LEAD = "no-lead"
    ARRAY = "array"
    """Balls or lands under the body: BGA, LGA, wafer-level packages."""
    POWER = "power"
    CRYSTAL = "crystal"
    """Crystals, resonators, oscillators."""
    INDUCTOR = "inductor"
    """Power inductors, chokes, transformers."""
    MODULE = "module"
    """Boards on the board, converters, displays."""
    ANTENNA = "antenna"
    CONNECTOR = "connector"
    """Anything a cable, card, cell or other board goes into, and sockets."""
    SWITCH = "switch"
    """Handled or heard by people: buttons, switches, encoders, potentiometers, buzzers."""
    RELAY = "relay"
    THROUGH_PART = "through-hole part"
    """Axial, radial and disc parts, transistors in TO packages."""
    THROUGH_IC = "through-hole IC"
    RADIAL = "radial electrolytic"
    COVER = "cover"
    """Stands over other parts on purpose: shield cans, heat sinks."""
    MECHANICAL = "mechanical"
    """Nothing to place: holes, marks, logos, solder jumpers, net ties, test points."""
    UNKNOWN = "unknown"


IMPERIAL = {
    "01005": (0.4, 0.2),
    "0201": (0.6, 0.3),
    "0402": (1.0, 0.5),
    "0603": (1.6, 0.8),
    "0805": (2.0, 1.25),
    "1008": (2.5, 2.0),
    "1206": (3.2, 1.6),
    "1210": (3.2, 2.5),
    "1806": (4.5, 1.6),
    "1808": (4.5, 2.0),
    "1812": (4.5, 3.2),
    "1825": (4.5, 6.4),
    "2010": (5.0, 2.5),
    "2114": (5.2, 3.6),
    "2220": (5.7, 5.0),
    "2225": (5.7, 6.4),
    "2512": (6.3, 3.2),
    "2816": (7.1, 4.2),
    "2920": (7.4, 5.1),
    "3220": (8.0, 5.0),
    "0306": (0.8, 1.6),
    "0508": (1.25, 2.0),
    "0612": (1.6, 3.2),
    "1218": (3.2, 4.6),
}
"""Body length and width in mm by the code in hundredths of an inch; the first number lies along the terminals."""

METRIC = {
    "0402": "01005",
    "0603": "0201",
    "1005": "0402",
    "1608": "0603",
    "2012": "0805",
    "2013": "0805",
    "3216": "1206",
    "3225": "1210",
    "4516": "1806",
    "4520": "1808",
    "4532": "1812",
    "5025": "2010",
    "5750": "2220",
    "6332": "2512",
    "6432": "2512",
}
"""Code in tenths of a mm to the one in hundredths of an inch."""

# Read from top to bottom; the first hit wins. Alternatives are separated by blanks and matched on the name in
# capitals with "-" for every separator. Kinds with a clear prefix come first, so that a maker's name never hides what
# an item is.
_RULES: tuple[tuple[Family, str], ...] = (
    (
        Family.MECHANICAL,
        r"""^FIDUCIAL ^FID\b LOCAL-?FID ^MOUNTING-?(HOLE|PAD) ^MTG ^(PLAIN-)?HOLE ^ALIGNMENT-?HOLE TOOLING
        TEST-?(POINT|PAD) ^TP(-|\d{0,3}\b) SOLDER-?(JUMPER|BRIDGE|PADS?\b) ^SJ(-?[23]S?|W)?$ ^(PAD-)?JUMPER-\d
        ^JP-?\d NET-?TIE LOGO ^OSHW CREATIVE-COMM ^SYMBOL\b ^GAUGE LAYERMARKER ^POLARITY MOUSE-?BITE BREAK-?LINE
        BREAKAWAY V-?SCORE STAND-?OFF ^MOUNTING DINRAIL STITCH ^VIA\b KIBUZZARD ^FRAME ^GRAPHICS?\b \bBARCODE
        QR-?CODE ^ARROW ^LABEL\b""",
    ),
    (Family.COVER, r"HEAT-?SINK SHIELD(ING)?-?(CAN|CABINET|FRAME|CLIP|COVER) BMI-S ^LAIRD-TECH.*-97 ^WUERTH-36\d03\d"),
    (Family.ANTENNA, r"ANTENNA ^ANT\b \bSWRA\d 2450AT ^PULSE-W3\d ANTENOVA ^NICERF-SW \bM?IFA\b \bPIFA"),
    (Family.THROUGH_IC, r"\b(CER)?DIP-?.*SOCKET PLCC.*SOCKET"),
    (
        Family.CONNECTOR,
        r"""SOCKET FUSE-?HOLDER ^FUSE-BLADE BATTERY ^BAT(HOLDER)?\b CR2032 VALVE SOLDERWIRE \bCLIP\b TEXTOOL
        TAG-?CONNECT WELLS-\d""",
    ),
    (
        Family.SWITCH,
        r"""^SW(?![A-Z]) ^SWITCH BUTTON \bTACT(ILE)?\b ENCODER POTENTIOMETER TRIMMER BUZZER SPEAKER ^PUSH ^PB-
        ^SLIDE- JOYSTICK \bEVQ SUBCLICK KEYSWITCH NIDEC-COPAL ^INDICATOR-PUI ^PUIAUDIO VYBRONICS""",
    ),
    (Family.RELAY, r"^RELAY \bRELAIS REED-?RELAY"),
    (
        Family.CRYSTAL,
        r"CRYSTAL RESONATOR \bXTAL OSCILLATOR ^OSC(SC|J|L|CC)?-?\d ^OSC- HC-?49 \bTCXO \bOCXO ^RTC-SMD-MICROCRYSTAL",
    ),
    (Family.CAN, r"^CP?-ELEC ^CAPAE PANASONIC-[A-J]\d?$ ELECTROLYTIC.*SMD"),
    (
        Family.MOLDED,
        r"""^CP?-EIA TANTALUM ^CAPMP?\d ^((D|DIODE)-)?SOD(?!I)
        ^((D|DIODE)-)?SM[ABCFP]\b(?!-(AMP|EDGE|JACK|MOLEX|SAM|W|BAT|END)) ^SOD(FL)?\d ^DIOM\d \bDO-?214
        ^D-(MICRO)?SMP""",
    ),
    (Family.MELF, r"MELF \bSC-80\b"),
    (Family.RADIAL, r"^CP-(RADIAL|AXIAL) ^CAPPR ^DX-\d ^CAPRDV?\d ^ELYT ^CAP.*RADIAL"),
    (
        Family.THROUGH_PART,
        r"""^(C|R|D|RV|LED)-(RECT|DISC|AXIAL|RADIAL|BOX|BARE|DO-|D\d|OVAL|SIDEEMITTER) ^(RES|DIO|CAP|IND)(ADV?|RD)\d
        ^D-(A-405|T-1|P\d|\d).*(HORIZONTAL|VERTICAL) R-ARRAY-SIP ^RV- ^VARISTOR ^R-LDR ^GDT""",
    ),
    (
        Family.INDUCTOR,
        r"""TRANSFORMER CHOKE TOROID \bXFMR ^IND(P|M)\d ^IND- ^INDUCTOR COMMON-?MODE ^L-(CORE|SELF|MOUNT)
        ^PULSE-P[AH]?\d""",
    ),
    (
        Family.MODULE,
        r"""^CONVERTER MODULE WROOM WROVER ^ESP-?(32|12|8266|07|01) ARDUINO RASPBERRY FEATHER HUZZAH BREAKOUT
        ^QUECTEL ^UBLOX-(?!LGA) ^SIMCOM ^TELIT ^HOPERF ^RAK\d ^RAYTAC ^LAIRD-BL ^XBEE ^MOD- ^DISPLAY ^HDS[PM]- ^OLED
        \bLCD 7-?SEG ^EA-E?D ^NHD- ^REVERB MORPHO NUCLEO ^INFINEON-(AG|EASY) ACEPACK""",
    ),
    (
        Family.NO_LEAD,
        r"""LFCSP QFN DFN SON-?\d SON$ SON-N\d MLF MLP[DQ]?\b [QD]FPN PDSO-N\d SONP (?<!P)LCC DIRECTFET POWERPAK
        POWERFLAT MICROPAK POWERDI3333 GANPX DUALPOWER33 VML08
        ^TEXAS-(RG[A-Z]|RVQ|DR[A-Z]|DS[CGQ]|DQ[A-Z]|DPY|RSM|RHL|NDQ)""",
    ),
    (Family.CONNECTOR, r"SLIMSTACK ^SAMTEC ^HIROSE ^JST"),
    (Family.ARRAY, r"BGA LGA CSP \bWLP \b(CSG|FFG|FBG|FFV|SBG)\d ^XILINX MICROSIP ^TEXAS-SIL PG-TSNP \bCGA\d"),
    (Family.SMALL_OUTLINE, r"SOIC SOP(?![A-Z]) \bV?SO[LP]?-?\d SSO-?\d ^TEXAS-PWP \bP?DSO TSOC SOJ SMD?-?DIP"),
    (Family.POWER, r"\bTO-?(252|263|268|269|277) D2?-?PAK\b \bDDPAK LFPAK HSOF \bTO-?\d+.*SMD ^ATPAK"),
    (
        Family.SOT,
        r"""T?SOT-?(23|25|26|89|143|223|323|343|353|363|416|457|523|543|553|563|583|665|666|723|963|1123)
        \bSC-?(59|70|7[45]|82) ^SOT(FL)?\d+P SUPERSOT ^VSOF ^TSOT""",
    ),
    (Family.QUAD_FLAT, r"QFP PLCC-?\d"),
    (Family.THROUGH_IC, r"\bDI[PL]-?\d DI[PL]- \bSIP-?\d CERDIP ^PGA"),
    (Family.THROUGH_PART, r"^TO-?\d+ \bTO-?(92|220|247|264|3P)"),
    (
        Family.CONNECTOR,
        r"""^CONN HEADER RECEPTACLE \bJACK \bPLUG TERMINAL ^TERM \bUSB HDMI \bDVI- \bRJ\d\d RJ45 D-?SUB \bDB-?\d+
        ^DIN\d \bJST MOLEX HARWIN AMPHENOL PHOENIX ^WAGO STOCKO ^WUERTH-(WR|RED|69) ^JAE ^TE-(\d|MATE|AMP) ^TYCO
        ^HARTING AMASS ALTECH DEGSON ^AK\d00 \bMICRO-?SD ^SD- (MICRO|NANO)?SIM\b ^SIM\d \bU\.?FL ^SM[AB]- \bBNC MMCX
        BARREL BANANA QWIIC \bF[FP]C \bIDC \bEDGE ^BUS ^DEC- ^M\.?2- SO-?DIMM ^PIN-D\d ^CF-CARD \bS?ATA\b ^SAS LEMO
        ^OMRON-XF JUSHUO ZHAOXING ^DTF SPRING-?CONTACT XLR POGO SCREW-?(CAGE|TERM) MAGJACK CLIFF ^GB042 ^OCN- ^JWT
        ^IHI ^CUI-PD NS-TECH ^JOINT-TECH""",
    ),
)
_COMPILED = tuple((family, re.compile("|".join(rule.split()))) for family, rule in _RULES)

# Kind of part by how a name starts or ends; the value is the reference letter of that kind.
_KINDS: tuple[tuple[str, str], ...] = (
    ("LED", r"^LED"),
    ("R", r"^R(ES)?-?\d ^R- ^RES(C|M|CA[XFV]|CAV|MELF|AD)? RES$ \bRES\b"),
    ("C", r"^CP?-?\d ^CP?- ^CAP CAP$ \bCAP\b -C$"),
    ("L", r"^L-?\d ^L- ^IND IND$ FERRITE ^FB-?\d ^BLM ^LAIRDTECH"),
    ("D", r"^D-?\d ^D- ^DIO DIODE ^SOD \bDO-?\d\d\d"),
    ("F", r"^FUS"),
)
_COMPILED_KINDS = tuple((kind, re.compile("|".join(rule.split()))) for kind, rule in _KINDS)

# Rows and columns of pins; only where nothing else in the name says what the part is.
_PIN_ROWS = re.compile(r"(?<![\d.A-Z])\d{1,2}X\d{1,2}(?![\d.]|MM)")

_SEPARATORS = re.compile(r"[-_\s]+")
_BOTH_CODES = re.compile(r"(?<!\d)(\d{4,5})-(\d{4})METRIC")
_IPC_CHIP = re.compile(r"^(?:RESC|CAPCP?|INDC|DIOC|LEDC|FUSC|BEADC|THRMC|VARC)(\d{4})X\d")
_DIGITS = re.compile(r"(?<![\d.])(\d{4,5})(?![\d.])")
_POLARISED = re.compile(
    r"^CP-|^CAP(CP|MP|AE|PR|PRDV)|TANTALUM|ELECTROLYTIC|POL(ARI[SZ]ED)?\b|EIA-\d{4}-\d\d|^BAT(TERY|-?HOLDER)|MAGNETIC-?BUZZER"
)


@dataclass(frozen=True)
class Named:
    """What a name says.

    Attributes:
        family: None when the name gives no family.
        kind: reference letter of the kind of part (R, C, L, D, LED, F), empty when the name does not say.
        sizes: chip size codes the name may mean, in hundredths of an inch, most likely first.
        polarised: the name says that the part has a plus end.
    """

    family: Optional[Family]
    kind: str
    sizes: tuple[str, ...]
    polarised: bool


@lru_cache(maxsize=4096)
def read_name(package: str) -> Named:
    """Reads one library item's name."""
    name = _SEPARATORS.sub("-", package.strip()).upper()[:200]
    kind = next((kind for kind, rule in _COMPILED_KINDS if rule.search(name)), "")
    sizes = _sizes(name)
    family = next((family for family, rule in _COMPILED if rule.search(name)), None)
    exact = bool(_BOTH_CODES.search(name) or _IPC_CHIP.search(name)) and family not in (Family.MELF, Family.CRYSTAL)
    # coils are numbered like chips by their makers, so that a bare number says little about them
    if (kind and exact) or (family is None and sizes and kind not in ("", "L")):
        family = Family.CHIP
    elif family is None and not kind and _PIN_ROWS.search(name):
        family = Family.CONNECTOR
    elif kind == "LED" and family is Family.QUAD_FLAT:
        family = Family.MOLDED
    polarised = bool(_POLARISED.search(name)) or kind in ("D", "LED")
    return Named(family, kind, sizes, polarised)


def _sizes(name: str) -> tuple[str, ...]:
    """Codes a name may mean; one of the exact ways of writing leaves no doubt."""
    both = _BOTH_CODES.search(name)
    if both:
        return (both[1],) if both[1] in IMPERIAL else ()
    chip = _IPC_CHIP.search(name)
    if chip:
        return (METRIC[chip[1]],) if chip[1] in METRIC else ()
    found: list[str] = []
    for digits in _DIGITS.findall(name):
        found += [code for code in (digits, METRIC.get(digits, "")) if code in IMPERIAL]
    return tuple(dict.fromkeys(found))
