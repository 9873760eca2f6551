"""The 40-pin header against two published pinouts."""

from __future__ import annotations

import re

from gpiozero.pins.data import PLUS_J8

from controller.building.header import GPIO_OF_PIN, PIN_OF_GPIO, pin_says

# The drawing in Zephyr's documentation, "raspberrypi-40pins-header": pins 1 and 2, 3 and 4, …, with
# the names that its buses give to some of them left out.
BINDING = """
3V3 5V
GPIO2 5V
GPIO3 GND
GPIO4 GPIO14
GND GPIO15
GPIO17 GPIO18
GPIO27 GND
GPIO22 GPIO23
3V3 GPIO24
GPIO10 GND
GPIO9 GPIO25
GPIO11 GPIO8
GND GPIO7
ID_SD ID_SC
GPIO5 GND
GPIO6 GPIO12
GPIO13 GND
GPIO19 GPIO16
GPIO26 GPIO20
GND GPIO21
"""


def test_the_pins_are_those_of_the_boards_published_binding():
    names = BINDING.split()
    words = {"3V3": "3.3 V", "5V": "5 V", "GND": "ground", "ID_SD": "GPIO 0", "ID_SC": "GPIO 1"}
    expected = [words.get(name, name.replace("GPIO", "GPIO ")) for name in names]
    assert [pin_says(pin) for pin in range(1, 41)] == expected


def test_gpiozero_knows_the_same_header():
    rows, columns, pins = PLUS_J8
    assert rows * columns == 40
    numbered = {}
    for pin, names in pins.items():
        match = re.fullmatch(r"GPIO(\d+)", names.get("gpio", ""))
        if match:
            numbered[pin] = int(match[1])
    assert numbered == GPIO_OF_PIN


def test_every_gpio_of_the_header_has_one_pin():
    assert sorted(PIN_OF_GPIO) == list(range(28))
    assert len(set(PIN_OF_GPIO.values())) == 28
