# SPDX-License-Identifier: MIT
"""Names written by hand to lead astray, what a person says of nets, and ports that lead nowhere."""

from __future__ import annotations

from pathlib import Path

import pytest

from build import board, chip, probe_pad, smd_part, through_part, track, via, with_pins
from lineworthy import project
from lineworthy.errors import InputError
from lineworthy.knowledge.netfacts import ASKED, CLASS_WORDS, SAID, matches
from lineworthy.knowledge.netnames import reading, voltage
from lineworthy.knowledge.nets import NetKind, Nets, Source
from lineworthy.model import Board, Net

# what a name alone says, empty for nothing; written before the answers were looked at
NAMES = {
    "ground": (
        "GND",
        "AGND",
        "DGND_1",
        "GNDA",
        "GND_PWR",
        "PGND",
        "GNDPWR",
        "/Motor/GND",
        "Earth",
        "EARTH_PROT",
        "CHASSIS_GND",
        "VSS",
        "VSSA",
        "0V",
        "ISO_GND",
        "GND_ISO",
        "GNDREF",
        "SGND",
    ),
    "": (
        "COM",
        "GND_DET",
        "3V3_EN",
        "EN_3V3",
        "VBUS_DET",
        "VBAT_MON",
        "PGOOD_3V3",
        "3V3_PG",
        "VCC_OK",
        "PWR_EN",
        "PWR_LED",
        "PWR_BTN",
        "POWER_GOOD",
        "ESP_EN",
        "BURST",
        "FIRST",
        "WORST",
        "RST_LED",
        "RESET_BTN",
        "FLASH_CS",
        "ANT_SW",
        "RF_EN",
        "RF_CTRL1",
        "SW",
        "LX",
        "LED1",
        "GPIO4",
        "BTN_A",
        "RELAY_DRV",
        "TEST",
        "MOTOR_A",
        "ENABLE",
        "ALERT",
        "IRQ",
        "SCLERA",
        "SPARE",
        "MISOGYNY",
        "CANCEL",
        "ROUTER",
        "ANTENNA_DETECT",
        "RSTED",
        "CLOCKWISE",
        "VINTAGE",
        "ETHANOL",
        "BUSY",
        "TXEN",
        "PGOOD",
        "SDATA",
    ),
    "analog": (
        "GND_SENSE",
        "VBAT_SENSE",
        "ADC0",
        "AIN3",
        "VREF",
        "NTC1",
        "TEMP_SENSE",
        "I_SENSE",
        "AUDIO_L",
        "MIC+",
    ),
    "power": (
        "+3V3",
        "3V3",
        "+3.3V",
        "VCC",
        "VDD_CORE",
        "VDDA",
        "VBAT",
        "V_BAT",
        "+BATT",
        "VBUS",
        "VIN",
        "V_IN",
        "12V_IN",
        "+12VA",
        "-12V",
        "VEE",
        "AVDD",
        "DVDD_1V8",
        "1V8_PLL",
        "VCCIO",
        "VCC_INT",
        "PP3V3",
        "5V_USB",
        "USB_5V",
        "VSYS",
        "VDD_ADC",
    ),
    "reset": (
        "NRST",
        "RESET",
        "~{RESET}",
        "/MCU/nRESET",
        "RST_N",
        "SYS_RST",
        "PHY_RST",
        "MCLR",
        "~{MCLR}{slash}VPP",
        "RESETB",
        "RSTN",
    ),
    "programming": (
        "SWDIO",
        "SWCLK",
        "SWD_IO",
        "SWD_CLK",
        "TCK",
        "JTAG_TMS",
        "TDI",
        "TDO",
        "UPDI",
        "PGC",
        "ICSPDAT",
        "BOOT0",
        "DONE",
    ),
    "bus": (
        "SDA",
        "SCL",
        "I2C1_SDA",
        "I2C_SCL_3V3",
        "SCL0",
        "EEPROM_SDA",
        "SPI_MOSI",
        "MISO",
        "SPI1_SCK",
        "UART_TX",
        "UART0_RXD",
        "TXD",
        "RXD0",
        "CAN_H",
        "CANL",
        "CAN1_TX",
        "RS485_A",
        "RS485_B",
        "USB_DP",
        "USB_D-",
        "D+",
        "USB_DM",
        "RMII_TXD0",
        "MDIO",
        "SD_CMD",
        "SDIO_D0",
        "QSPI_CLK",
        "I2S_BCLK",
    ),
    "crystal": (
        "XTAL1",
        "XIN",
        "OSC_IN",
        "X32K_IN",
        "OSC32_OUT",
    ),
    "clock": (
        "CLK_25M",
        "MCO",
        "REFCLK",
        "SYSCLK",
        "CLK_OUT",
    ),
    "rf": (
        "RF_OUT",
        "ANT",
        "ANT1",
        "RFIN",
        "LNA_IN",
        "GPS_RF",
    ),
    "fast": (
        "PCIE_TX0_P",
        "HDMI_D0+",
        "DDR_DQ3",
        "LVDS_CLK_P",
        "SATA_RX-",
        "MIPI_CSI_D0_N",
    ),
}


@pytest.mark.parametrize(("label", "name"), [(label, name) for label, names in NAMES.items() for name in names])
def test_names_that_could_lead_astray(label: str, name: str) -> None:
    said = reading(name)
    assert (said.label if said else "") == label, said


def test_a_rail_called_by_a_doubled_letter_has_its_volts() -> None:
    assert (voltage("PP3V3"), voltage("P3V3"), voltage("N12V")) == (3.3, 3.3, -12.0)


# --- what a person says


def powered(*parts: object, ground: str = "Earth", **more: object) -> Board:
    """A circuit on a rail and a ground, and a few signals that lead somewhere."""
    nets = ("VDD", ground, "/io/SENSE", "LED", "SDA", "SCL")
    circuit = with_pins(smd_part("U1", (30, 20), nets=nets), {"1": ("VDD", "power_in"), "2": ("VSS", "power_in")})
    pulls = tuple(chip(f"R{n}", (5.0 * n, 35), nets=(net, "LED")) for n, net in enumerate(nets, 1))
    return board(parts=(circuit, *pulls, *parts), **more)


def test_a_name_or_pattern_says_what_a_net_is() -> None:
    made = powered()
    assert Nets(made).of("Earth").kind is NetKind.GROUND
    assert Nets(made).of("/io/SENSE").kind is NetKind.ANALOG
    nets = Nets(made, {"Earth": "signal", "/io/*": "reset", "LED": "power"})
    assert [nets.of(name).kind for name in ("Earth", "/io/SENSE", "LED")] == [
        NetKind.SIGNAL,
        NetKind.RESET,
        NetKind.POWER,
    ]
    assert nets.of("LED").evidence == (SAID,)
    # nobody spoke of the others
    assert nets.of("SDA").bus == "I2C"


def test_a_name_wins_over_a_pattern_and_the_last_part_of_a_name_is_enough() -> None:
    nets = Nets(powered(), {"S*": "clock", "SENSE": "rf", "/io/SENSE": "ground"})
    assert nets.of("/io/SENSE").kind is NetKind.GROUND
    assert nets.of("SDA").kind is NetKind.CLOCK
    assert matches("/io/A[0]", "A[0]")
    assert not matches("/io/SENSE", "sense")


def test_what_is_said_stands_against_what_the_board_says() -> None:
    """No later thought about neighbours, analog paths or the missing ground overrules a person."""
    nets = Nets(powered(ground="MITTE"), {"MITTE": "signal", "LED": "analog", "/io/SENSE": "signal"})
    assert nets.of("MITTE").kind is NetKind.SIGNAL
    assert nets.main_ground == ""
    assert nets.of("/io/SENSE").kind is NetKind.SIGNAL


def test_a_pin_marked_as_not_connected_stays_that() -> None:
    made = powered(smd_part("U2", (10, 10), nets=("unconnected-(U2-A-Pad1)", "VDD")))
    assert Nets(made, {"*": "power"}).of("unconnected-(U2-A-Pad1)").kind is NetKind.NO_CONNECT


def test_a_rail_by_word_keeps_its_source() -> None:
    made = powered(through_part("J1", (50, 5), nets=("LED", "Earth")))
    assert Nets(made, {"LED": "power"}).of("LED").kind is NetKind.POWER
    assert Nets(made).of("VDD").source is Source.UNKNOWN


def test_nets_asked_for_by_name_pattern_or_class_are_key_nets() -> None:
    made = powered(nets={"LED": Net("LED", "Power")})
    known = [key.facts.name for key in Nets(made).keys]
    assert "LED" not in known
    more = Nets(made, keys=("/io/*",), key_classes=("Power",)).keys
    assert [(key.facts.name, key.reason) for key in more if key.facts.name not in known] == [
        ("/io/SENSE", ASKED),
        ("LED", ASKED),
    ]
    # a board without a circuit has no key nets of its own, but those
    alone = board(parts=(chip("R1", nets=("A", "B")), chip("R2", nets=("A", "B"))))
    assert [key.facts.name for key in Nets(alone, keys=("A",)).keys] == ["A"]


def test_an_unknown_word_is_refused_on_loading(tmp_path: Path) -> None:
    path = tmp_path / "widget.lineworthy.toml"
    path.write_text('[nets]\n"Earth" = "grund"\n', encoding="utf-8")
    with pytest.raises(
        InputError, match=r"nets\.Earth.*no kind of net is called 'grund'; there are ground, power, mains, reset"
    ):
        project.load(path)
    path.write_text("[nets]\n" + "".join(f'N{n} = "{word}"\n' for n, word in enumerate(CLASS_WORDS)), encoding="utf-8")
    assert set(project.load(path).nets.values()) == set(CLASS_WORDS)


# --- ports that lead nowhere


def port(net: str, pin: str = "SWDIO", **more: object) -> Nets:
    circuit = with_pins(smd_part("U1", (30, 20), nets=("VDD", "GND", net)), {"3": pin})
    rest = tuple(chip(f"R{n}", (5.0 * n, 35), nets=("VDD", "GND")) for n in (1, 2))
    return Nets(board(parts=(circuit, *rest), **more))


def test_a_port_with_one_pin_is_what_it_was_drawn_for() -> None:
    facts = port("SWDIO").of("SWDIO")
    assert (facts.kind, facts.meant, facts.line) == (NetKind.SINGLE_PIN, NetKind.PROGRAMMING, "SWDIO")
    assert facts.evidence == ("only U1 pin 3 is on it", "the name says SWDIO")
    assert [key.kind for key in port("SWDIO").keys if key.facts.name == "SWDIO"] == [NetKind.PROGRAMMING]
    assert port("/nRST", "PA4").of("/nRST").meant is NetKind.RESET


def test_a_made_up_name_counts_only_where_it_is_routed() -> None:
    name = "Net-(U1-SWDIO)"
    assert port(name).of(name).meant is None
    assert port(name, vias=(via((10, 10), net=name),)).of(name).meant is NetKind.PROGRAMMING
    assert port(name, tracks=(track((10, 10), (12, 10), net=name),)).of(name).meant is NetKind.PROGRAMMING


@pytest.mark.parametrize("name", ["DONE", "GPIO4", "SDA", "LED_A", "unconnected-(U1-SWDIO-Pad3)"])
def test_other_nets_with_one_pin_are_nothing(name: str) -> None:
    assert port(name, "P3").of(name).meant is None


def test_a_net_on_a_test_pad_alone_is_no_port() -> None:
    made = board(parts=(probe_pad("TP1", (5, 5), "SWDIO"), smd_part("U1", (30, 20), nets=("VDD", "GND"))))
    assert Nets(made).of("SWDIO").meant is None


# --- controllers that call their reset something else


@pytest.mark.parametrize(
    ("net", "pins", "kind"),
    [
        ("RUN", {1: "RUN"}, NetKind.RESET),
        ("Net-(U1-CHIP_PU)", {1: "CHIP_PU"}, NetKind.RESET),
        ("ESP_EN", {1: "EN", 2: "IO0"}, NetKind.RESET),
        ("ESP_EN", {1: "EN", 2: "A0"}, NetKind.SIGNAL),
        ("3V3", {1: "EN", 2: "IO0"}, NetKind.POWER),
    ],
)
def test_a_controllers_reset_by_another_name(net: str, pins: dict[int, str], kind: NetKind) -> None:
    nets = (net, *(f"N{n}" for n in range(2, 18)))
    controller = with_pins(smd_part("U1", (30, 20), nets=nets), {str(n): name for n, name in pins.items()})
    made = board(parts=(controller, chip("R1", nets=(net, "N2")), chip("C1", nets=(net, "N3"))))
    assert Nets(made).of(net).kind is kind


def test_a_converters_run_pin_is_no_reset() -> None:
    converter = with_pins(smd_part("U1", (30, 20), nets=("RUN", "A", "B", "C", "D")), {"1": "RUN"})
    assert Nets(board(parts=(converter, chip("R1", nets=("RUN", "A"))))).of("RUN").kind is NetKind.SIGNAL
