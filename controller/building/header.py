"""The 40-pin header: which of its pins a GPIO number is at.

The board binding of the header in Zephyr's documentation (`raspberrypi-40pins-header`) and
gpiozero's own board data agree on it.
"""

from __future__ import annotations

V3_PINS = (1, 17)  # 3.3 V
V5_PINS = (2, 4)  # 5 V
GROUND_PINS = (6, 9, 14, 20, 25, 30, 34, 39)
PIN_OF_GPIO = {
    0: 27, 1: 28, 2: 3, 3: 5, 4: 7, 5: 29, 6: 31, 7: 26, 8: 24, 9: 21, 10: 19, 11: 23, 12: 32,
    13: 33, 14: 8, 15: 10, 16: 36, 17: 11, 18: 12, 19: 35, 20: 38, 21: 40, 22: 15, 23: 16, 24: 18,
    25: 22, 26: 37, 27: 13,
}  # fmt: skip
GPIO_OF_PIN = {pin: gpio for gpio, pin in PIN_OF_GPIO.items()}


def pin_says(pin: int) -> str:
    """What a pin of the header is: "GPIO 17", "3.3 V", "5 V", "ground"."""
    if pin in V3_PINS:
        return "3.3 V"
    if pin in V5_PINS:
        return "5 V"
    return "ground" if pin in GROUND_PINS else f"GPIO {GPIO_OF_PIN[pin]}"
