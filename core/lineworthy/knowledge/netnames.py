# SPDX-License-Identifier: MIT
"""Reading the names of nets and pins: words, what they say, and the voltage in them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Optional

from lineworthy.escapes import unescaped

_MARKUP = re.compile(r"[~^_]\{([^{}]*)\}")
_WORD = re.compile(r"[A-Z0-9]+(?:[+\-](?![A-Z0-9]))?")
_AUTO = re.compile(r"(Net|unconnected|no_connect)-\(")

NAMES_KEPT = 8192
"""Every kind of net asks about the same names of nets and pins again; how that many are read is kept."""

UNCONNECTED = "unconnected-("
"""How the editor names the net of a pin that is marked as not connected."""


def is_auto(name: str) -> bool:
    """Whether the editor made the name up from a pin, so that nobody said anything by it."""
    return bool(_AUTO.match(name))


@lru_cache(maxsize=NAMES_KEPT)
def leaf(name: str) -> str:
    """The net's own name without the sheets it is on, in capitals, escapes and overbars resolved.

    >>> leaf("/cpu/~{RESET}"), leaf("/io/R{slash}W")
    ('RESET', 'R/W')
    """
    last = re.split(r"/(?![^{}]*\})", name)[-1] or name
    plain = unescaped(last)
    for _ in range(3):
        plain = _MARKUP.sub(r"\1", plain)
    return plain.upper()


@lru_cache(maxsize=NAMES_KEPT)
def words(text: str) -> tuple[str, ...]:
    """Runs of letters and digits of a name in capitals, with a plus or minus that ends one.

    >>> words(leaf("/usb/USB_D+")), words("VPP-MCLR")
    (('USB', 'D+'), ('VPP', 'MCLR'))
    """
    return tuple(_WORD.findall(text.upper()))


@lru_cache(maxsize=NAMES_KEPT)
def pin_functions(pin_name: str) -> tuple[str, ...]:
    """The functions a pin name lists (``PA13/SWDIO``), overbars resolved, in capitals."""
    plain = pin_name
    for _ in range(3 if "{" in pin_name else 0):
        plain = _MARKUP.sub(r"\1", plain)
    return tuple(piece for piece in plain.upper().replace("|", "/").split("/") if piece)


@dataclass(frozen=True)
class Reading:
    """What a name says: a label of `SIGNALS` or `GROUPS`, a rail's kind, the bus if any, and the word read."""

    label: str
    bus: str
    word: str


def _any(pattern: str) -> re.Pattern[str]:
    return re.compile(rf"(?:{pattern})\Z")


SIGNALS: tuple[tuple[str, str, re.Pattern[str]], ...] = (
    (
        "programming",
        "",
        _any(
            r"(?:J?TAG_?)?(?:TCK|TDI|TDO|TD0|TMS|N?TRST[NB]?)\d*|SWDIO\d*|SWD?CLK\d*|SWO\d*|UPDI\d*|PDI_DATA"
            r"|ICSP\w*|PG[CD]\d?|PGE[CD]\d?|BOOT[01]|BOOTSEL\w*|BOOTMODE\d*|PROG[NB]?-?|PROGRAM[NB]?|BKPT-?|DSCLK|CCLK"
            r"|DONE|C2D|C2CK|DEBUGWIRE|SBWT(?:DIO|CK)|SBWTCK|SWIM|RTCK|ISP(?:CLK|DATA?)"
        ),
    ),
    (
        "reset",
        "",
        _any(r"N?(?!\w*(?:BURST|FIRST|WORST))\w{0,6}?RST[NBLIO]?\d*-?|\w{0,8}RESET[NB]?\d*-?|N?MCLR-?|N?PORN?|PORB"),
    ),
    ("bus", "I2C", _any(r"(?:I2C|TWI|SMB?)?\d?(?:SDA|SCL)\d*|SMB(?:CLK|DAT|DATA)")),
    ("bus", "SPI", _any(r"\w{0,4}?(?:MISO|MOSI|COPI|CIPO)\d*|SPI(?:CLK|CS|SCK)\d*|SCK\d*|SCLK\d*|QSPI\w*")),
    ("bus", "Ethernet", _any(r"MDIO|MDC|R?G?S?MII\w*")),
    ("bus", "UART", _any(r"U?S?A?R?T?\d*(?:TXD|RXD)\d*|U?(?:RTS|CTS)[NB]?\d*|UART\d*(?:TX|RX)\d*|[RT]\d(?:IN|OUT)")),
    ("bus", "CAN", _any(r"CAN\d*(?:H|L|TX|RX|RXD|TXD|P|N|[+\-])\d*")),
    ("bus", "USB", _any(r"(?:U|USB)?\d*D[+\-]|USB\d*_?D[PMN]\d*")),
    ("bus", "SDIO", _any(r"(?:SDIO|SDMMC|EMMC)\w*")),
    ("analog", "", _any(r"\w?VREF\w{0,3}|AREF|ZQ\d*")),
    ("rf", "", _any(r"ANT\d*|ANTENNA\d*|RF_?(?:IN|OUT|IO)\d*|LNA_?(?:IN|OUT)\d*|NFC\d?")),
)
"""Words that name a signal even beside a rail's name (``SCL_3V3``). Earlier entries win."""

GROUPS: tuple[tuple[str, str, re.Pattern[str]], ...] = (
    ("programming", "", _any(r"SWD|JTAG\d?")),
    ("rf", "", _any(r"RF\d?|LNA\w*")),
    ("fast", "", _any(r"PCIE\w*|SATA\w*|HDMI\w*|TMDS\w*|LVDS\w*|MIPI\w*|L?P?DDR\d\w*|DDR|SERDES\w*|SS[TR]X\w*|MGT\w*")),
    ("bus", "I2C", _any(r"I2C\d*|TWI\d*|SMBUS\d*")),
    ("bus", "SPI", _any(r"[DQHVOF]?SPI\d*")),
    ("bus", "UART", _any(r"US?ART\d*|(?:TX|RX)\d?")),
    ("bus", "RS-485", _any(r"RS-?(?:485|422|232)\w*")),
    ("bus", "CAN", _any(r"CAN\d?")),
    ("bus", "Ethernet", _any(r"ETH\d*|PHY\d*|RMII\w*")),
    ("bus", "I2S", _any(r"I2S\w*|LRCL?K")),
    ("crystal", "", _any(r"E?XTAL\w*|XIN\d*|XOUT\d*|X[IOL]\d?|OSC(?:32)?_?(?:IN|OUT|I|O)")),
    ("clock", "", _any(r"(?!S?RCLK)\w*CLK\w{0,5}|\w*CLOCK\d*|MCO\d?|XIN|EXTAL|\d+M(?:HZ)?\w{0,3}")),
    (
        "analog",
        "",
        _any(
            r"AIN\d*|AN\d+|ADC\w*|DAC\w*|ANALOG|AUDIO\w*|MIC\d?[\w+\-]?|SPK\w?|[IV]?SENSE\d*|[IV]SNS\w*|NTC\d*"
            r"|THERM\w*|TEMP\w*|FB\d*|COMP|[VI]SET\d*|LUMA?|CHROMA?|CVBS\w*|ISEN\w*|VBIAS|BIAS"
        ),
    ),
)
"""Words that only say what family a signal is of; a rail's name beside them wins (``VDD_USB``)."""

PORT_LINE = _any(
    r"SWDIO|SWCLK|TCK|TDI|TDO|TMS|UPDI|PDI_DATA|PG[CD]|PGE[CD]|ICSP\w*|C2D|C2CK|SWIM|SBWT\w*|BKPT|DSCLK|DSI|DSO|DEBUGWIRE"
)
"""Lines without which a programming port is dead; others (DONE, TRST, BOOT0) only help."""


def port_line(word: str) -> str:
    """The line of a programming port a word means, digits and other spellings folded; empty for a helping line."""
    plain = {"SWDCLK": "SWCLK", "TD0": "TDO"}.get(word, word.rstrip("0123456789+-"))
    return plain if PORT_LINE.match(plain) else ""


GROUND = _any(
    r"[A-Z]{0,4}\d?GND[A-Z]{0,4}\d*|GROUND|VSS[A-Z]{0,4}\d*|EARTH|CHASSIS|CHASS?GND|SHIELD|SHLD|MASSE|MASSA|MASA|ERDE"
    r"|TERRE|TIERRA|TERRA|0V0?"
)
"""Ground by whatever name and language: GND and its kin, VSS, 0V, earth, chassis, Masse, massa, masa, terre, tierra."""

POWER = _any(
    r"[A-Z]{0,2}VCC[A-Z]{0,3}\d*[A-Z]?\d?|[A-Z]{0,3}VDD[A-Z0-9]{0,5}|[A-Z]{0,3}VBAT\w?|\w{0,4}BATT?[+\-]?|VBUS\w?"
    r"|VIN\d*|VOUT\d*|VSYS|VPP|VEE|VAA|VAF|VTT\w?|VIO|VMOT\w*|VM|VS|HV[+\-]?|HT|VDRV|VREG|VSUP\w*|VRAW|VUSB|VPOS|VNEG|V[+\-]"
    r"|PWR\d*|POWER|SUPPLY|V(?:3|5|9|12|15|24|33|48)|(?:PP|[PMN])?\d{1,3}V\d{0,3}[A-Z]{0,4}|\d{1,2}P\d{1,2}V"
)
"""Rails by name: VCC and VDD and their kin, batteries, USB power, supply inputs and outputs, a plain voltage."""

MAINS = re.compile(
    r"\AAC[-_ ](?:L|N|LINE|LIVE|NEUTRAL|HOT)\d?\Z"
    r"|(?<![A-Z0-9])(?:MAINS|NEUTRAL|LIVE|(?:110|115|120|220|230|240)V(?:AC)?|[1-4]\d\dVAC)(?![A-Z0-9+])"
)
"""Live or neutral of the mains by name; an `AC` further in is a pair behind capacitors (``TX_AC_N``)."""

LIVE, NEUTRAL = "L", "N"
"""Both letters together on one board are the mains' two wires; either alone is anything."""

NOT_A_RAIL = _any(
    r"EN\d*[NB]?|ENA(?:BLE)?|ON|OFF|\w*PG|\w*PGOOD|GOOD|OK|FAULT|FLT|SENSE\d*|SNS|SEN|DET|DETECT|MON\w*|FB\d*|SEL|CTRL|CTL"
    r"|ALERT|ADC\d*|ERR|ERROR|LED\d*|BTN|BUTTON|KEY|PRESENT|VALID|MEAS\w*|INT|IRQ|STAT|STATUS|TRIM|ADJ|REF|OE[NB]?|DIR|TST|TEST|DE|RE"
    r"|DIS|DISABLE"
)
"""Words that make a signal *about* a rail or a bus of its name (``3V3_EN``, ``VBUS_DET``)."""

NOT_A_RESET = _any(r"DIR|LED\d*|BTN|BUTTON|KEY|OE[NB]?|STAT|STATUS")
"""Words that make a signal about a reset of its name."""

NOT_RADIO = _any(r"SW\d*|V?CTRL?\d*")
"""Words that make a signal one that switches a radio's path."""

_AFTER_CLOCK = _any(r"[PN]|IN|OUT|\d+|IN\d|OUT\d|EN")

_NAMED_RAIL = re.compile(r"(?:\A|_)(?:V_(?:IN|OUT|SYS|BUS|BAT|MAIN|RAW|REG)\d*|A?V(?:CC|DD)_?(?:INT|ADC|DAC))\Z")
"""Rails in two words of which the second alone would be something else: an interrupt, a converter's input."""

_BARE_VOLT = re.compile(r"[+\-]\d{1,3}(?:[.,]\d+)?(?![\d.,V])")
_ONLY_VOLTS = _any(r"(?:PP|[PMN])?\d{1,3}V\d{0,3}[A-Z]{0,4}")
_JOINED = (
    ("programming", "", re.compile(r"(?:\A|_)(?:BOOT_(?:MODE|SEL)|INIT_B)\Z")),
    ("reset", "", re.compile(r"(?:\A|_)POR_[BN]\Z")),
    ("bus", "CAN", re.compile(r"(?:\A|_)CAN\d?_(?:[HLPN]|TXD?|RXD?)\Z")),
    ("bus", "USB", re.compile(r"(?:\A|_)USB\d?_(?:D_?)?(?:[PMN]|D[PMN]|D[+\-]|CC[12])\Z|\ACC[12]\Z")),
    ("crystal", "", re.compile(r"(?:\A|_)(?:OSC\d*|X(?:TAL|32K?)?)_(?:IN|OUT)\d?\Z")),
    ("bus", "SDIO", re.compile(r"(?:\A|_)SD\d?_(?:CMD|CLK|D\d|DAT\d)\Z")),
)


def reading(name: str) -> Optional[Reading]:
    """What a name a person gave to a net says about its purpose, None for nothing."""
    own = leaf(name)
    parts = words(own)
    joined = "_".join(parts)
    about = "" if _NAMED_RAIL.search(joined) else next((word for word in parts if NOT_A_RAIL.match(word)), "")
    live = MAINS.search(own)
    if live and not about:
        return Reading("mains", "", live[0])
    for label, bus, pattern in SIGNALS:
        word = next((word for word in parts if pattern.match(word)), "")
        about_it = _is_about(label, parts) or (label == "rf" and about)
        if word and not about_it:
            return Reading(label, bus, word)
    for label, bus, pattern in _JOINED:
        if pattern.search(joined):
            return Reading(label, bus, joined)
    if not about:
        rail = _rail(own, parts)
        if rail:
            return rail
    for label, bus, pattern in GROUPS:
        asked = _last_words(parts) if label == "clock" else parts
        word = next((word for word in asked if pattern.match(word)), "")
        if word and not (about and label != "analog") and not _is_about(label, parts):
            return Reading(label, bus, word)
    return None


def _is_about(label: str, parts: tuple[str, ...]) -> bool:
    """Whether other words of a name make its signal one about a reset or a radio."""
    pattern = {"reset": NOT_A_RESET, "rf": NOT_RADIO}.get(label)
    return pattern is not None and any(pattern.match(other) for other in parts)


def _last_words(parts: tuple[str, ...]) -> tuple[str, ...]:
    """Where a clock is named: ``WR_CLK.PPS`` is a signal of the clock's sheet and not a clock."""
    return parts[-2:] if len(parts) > 1 and _AFTER_CLOCK.match(parts[-1]) else parts[-1:]


def _rail(own: str, parts: tuple[str, ...]) -> Optional[Reading]:
    for word in parts:
        if GROUND.match(word):
            return Reading("ground", "", word)
    for word in (*parts, "_".join(parts)):
        if POWER.match(word) or _NAMED_RAIL.search(word):
            return Reading("power", "", word)
    match = _BARE_VOLT.match(own)
    return Reading("power", "", match[0]) if match else None


def says_only_volts(name: str) -> bool:
    """Whether a rail's name holds nothing but a voltage, which a signal at that level may be called by as well."""
    parts = words(leaf(name))
    return not any(POWER.match(word) and not _ONLY_VOLTS.match(word) for word in parts)


_VOLTS = (
    # 3V3, 1V8, P0V85, N12V, +12V, -5V, 12VEXT
    re.compile(r"(?<![A-Z0-9.,])(?P<sign>(?:PP|[PMN+\-])?)(?P<whole>\d{1,3})V(?P<part>\d{0,3})(?![0-9])"),
    # 3.3V, 3,3V, 3P3V
    re.compile(r"(?<![A-Z0-9.,])(?P<sign>[PMN+\-]?)(?P<whole>\d{1,3})[.,P](?P<part>\d{1,3})V(?!\d)"),
    # VDD3P3, VCC_1P8
    re.compile(r"(?:VDD|VCC|V)_?(?P<sign>)(?P<whole>\d)P(?P<part>\d{1,2})(?!\d)"),
    # V5, V12
    re.compile(r"(?<![A-Z0-9])V(?P<sign>)(?P<whole>3|5|9|12|15|24|48)(?P<part>)(?![A-Z0-9])"),
    # +5, -12, +12BATT
    re.compile(r"\A(?P<sign>[+\-])(?P<whole>\d{1,3})(?:[.,](?P<part>\d{1,2}))?(?![\d.,V])"),
)


_RANGE = re.compile(r"\d-\d+(?:[.,]\d+)?V")


def voltage(name: str) -> Optional[float]:
    """Volts a rail's name states, None when it states none or several.

    >>> voltage("/P0V85"), voltage("+3.3V"), voltage("N12V_IO"), voltage("VCC_1V8"), voltage("PWR_3,3-5V")
    (0.85, 3.3, -12.0, 1.8, None)
    """
    own = leaf(name)
    if _RANGE.search(own):
        return None
    found: set[float] = set()
    for pattern in _VOLTS:
        for match in pattern.finditer(own):
            value = float(f"{match['whole']}.{match['part'] or 0}")
            found.add(-value if _is_negative(own, match) else value)
    return found.pop() if len(found) == 1 else None


def _is_negative(own: str, match: re.Match[str]) -> bool:
    # a dash between words (VCC-5V) is a hyphen, one in front of all or after a gap is a sign
    if match["sign"] == "-":
        return match.start() == 0 or not own[match.start() - 1].isalnum()
    return match["sign"] in ("N", "M")


def common_bus_prefix(name: str) -> str:
    """What the nets of one bus share: everything before the last word."""
    own = leaf(name)
    parts = words(own)
    return own[: own.rfind(parts[-1])] if len(parts) > 1 else ""


BUS_MATE = _any(r"N?CS[NB]?\d?|SS\d?|NSS|CE[NB]?|SD[IO]|DIN|DOUT|D\d|DQ\d|IO\d|SD\d|SYNC")
"""Last words of nets that belong to a serial bus when their siblings do."""


def is_latch(name: str) -> bool:
    """Whether a net hands what was shifted into a register on to its outputs."""
    parts = words(leaf(name))
    return bool(parts) and parts[-1] in ("RCLK", "LATCH", "STCP", "RCK")


def pair_mate(name: str) -> str:
    """The name the other half of a differential pair would have, empty when the name is no half."""
    for suffix, other in (("_P", "_N"), ("_N", "_P"), ("_p", "_n"), ("_n", "_p")):
        if name.endswith(suffix):
            return name[: -len(suffix)] + other
    return ""
