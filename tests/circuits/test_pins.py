"""The pin factory on libgpiod 2, against a strict double of the chip that records every level.

What only a real kernel can show (tests/system): that a request truly moves no line before all have
their levels, that bias and debounce act, that the event clock is CLOCK_MONOTONIC, what becomes of
a line whose holder is killed, and the numbers of the kernel's errors.
"""

import errno
import inspect
import select
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path

import gpiod
import gpiozero
import kernel_double
import pytest
from gpiod.line import Bias, Clock, Direction, Edge, Value
from gpiozero import DigitalInputDevice, DigitalOutputDevice, OutputDevice

from controller.circuits import chip as chip_module
from controller.circuits.chip import PinsBusy, find_chip
from controller.circuits.lines import InputEdge, InputLine, PinsFault
from controller.circuits.pins import GpiodFactory

CHIP = Path("/dev/gpiochip0")
MS = 1_000_000
OUTPUTS = {17: False, 22: True, 23: True}  # 22 and 23 are energised by low
INPUTS = {20: InputLine("low", 20 * MS), 24: InputLine("high", 5 * MS)}


@pytest.fixture
def kernel(monkeypatch):
    kernel = kernel_double.Kernel()
    monkeypatch.setattr(gpiod, "Chip", kernel.chip)
    monkeypatch.setattr(chip_module, "_chips", lambda: [CHIP])
    monkeypatch.delenv("UNDERSTUDY_CHIP", raising=False)
    return kernel


@pytest.fixture
def factory(kernel):
    factory = GpiodFactory(CHIP, OUTPUTS, INPUTS)
    yield factory
    kernel.refuses_calls.clear()
    factory.close()


def put(factory, *args, **more):
    factory._request.put(*args, **more)


# ── claiming ─────────────────────────────────────────────────────────────────────────────────────


def test_all_lines_are_requested_in_one_call_with_their_inactive_levels(kernel, factory):
    ((what, consumer, config, _),) = kernel.calls
    assert (what, consumer) == ("request", "understudy")
    assert set(config) == {17, 20, 22, 23, 24}
    for pin, high in OUTPUTS.items():
        assert config[pin].direction is Direction.OUTPUT
        assert config[pin].output_value is (Value.ACTIVE if high else Value.INACTIVE)


def test_inputs_are_pulled_to_their_inactive_level_and_debounced_by_the_kernel(kernel, factory):
    config = kernel.calls[0][2]
    assert config[20] == gpiod.LineSettings(
        direction=Direction.INPUT,
        edge_detection=Edge.BOTH,
        bias=Bias.PULL_UP,
        debounce_period=timedelta(milliseconds=20),
        event_clock=Clock.MONOTONIC,
    )
    assert config[24].bias is Bias.PULL_DOWN
    assert config[24].debounce_period == timedelta(milliseconds=5)


def test_outputs_alone_need_no_room_for_events(kernel):
    with GpiodFactory(CHIP, OUTPUTS, {}):
        assert kernel.calls[0][3] is None


def test_no_start_moves_a_relay_from_its_inactive_level(kernel, factory):
    relays = [OutputDevice(pin, initial_value=None, pin_factory=factory) for pin in OUTPUTS]
    assert [relay.pin.state for relay in relays] == list(OUTPUTS.values())
    for pin, high in OUTPUTS.items():
        assert kernel.levels[pin] == [high]
    assert [call[0] for call in kernel.calls] == ["request"]


def test_a_device_with_an_initial_value_goes_straight_to_it(kernel, factory):
    closed = OutputDevice(22, active_high=False, initial_value=True, pin_factory=factory)
    assert kernel.levels[22] == [True, False]
    assert closed.is_active
    still_open = OutputDevice(23, active_high=False, pin_factory=factory)
    assert set(kernel.levels[23]) == {True}
    assert not still_open.is_active


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.EACCES, "usermod -aG gpio"),
        (errno.ENOENT, "--fake"),
        (errno.ENODEV, "not a GPIO chip"),
        (errno.ENOTTY, "not a GPIO chip"),
        (errno.EIO, "the kernel refuses: Input/output error"),
    ],
)
def test_a_chip_that_cannot_be_opened_says_why_and_what_to_do(kernel, number, words):
    kernel.refuses[str(CHIP)] = number
    with pytest.raises(PinsFault, match=words) as fault:
        GpiodFactory(CHIP, OUTPUTS, INPUTS)
    assert str(CHIP) in str(fault.value)


def test_a_pin_that_somebody_holds_is_named_with_its_holder(kernel):
    kernel.holders[22] = "spi0 CS0"
    with pytest.raises(PinsBusy, match=r'GPIO22 by "spi0 CS0".*boot configuration') as fault:
        GpiodFactory(CHIP, OUTPUTS, INPUTS)
    assert "GPIO17" not in str(fault.value)


def test_another_daemon_that_holds_the_pins_is_called_that(kernel, factory):
    with pytest.raises(PinsBusy, match="Another daemon runs here"):
        GpiodFactory(CHIP, OUTPUTS, {})


def test_more_kinds_of_inputs_than_a_request_can_carry_is_said_in_words(kernel):
    kernel.refuses_calls["request"] = errno.E2BIG
    with pytest.raises(PinsFault, match="the same debounce"):
        GpiodFactory(CHIP, OUTPUTS, INPUTS)


def test_a_pin_that_the_chip_has_not_is_named(kernel):
    kernel.lines = 20
    with pytest.raises(PinsFault, match="no GPIO20, GPIO22, GPIO23 and GPIO24"):
        GpiodFactory(CHIP, OUTPUTS, INPUTS)


def test_where_the_first_reading_fails_nothing_stays_held(kernel):
    kernel.refuses_calls["get"] = errno.EIO
    with pytest.raises(PinsFault):
        GpiodFactory(CHIP, OUTPUTS, INPUTS)
    assert kernel.holders == {}


# ── driving ──────────────────────────────────────────────────────────────────────────────────────


def test_several_relays_move_by_one_call(kernel, factory):
    factory.set_many({17: True, 22: False})
    assert kernel.calls[1:] == [("set", {17: True, 22: False})]
    assert factory.level(17)
    assert not factory.level(22)


def test_to_drive_nothing_calls_nobody(kernel, factory):
    factory.set_many({})
    assert len(kernel.calls) == 1


def test_an_input_is_never_driven(factory):
    with pytest.raises(AssertionError):
        factory.set_many({20: True})


def test_a_refusal_while_driving_is_in_words(kernel, factory):
    kernel.refuses_calls["set"] = errno.ENODEV
    with pytest.raises(PinsFault, match="not a GPIO chip, or is one no more"):
        factory.set_many({17: True})


def test_closing_opens_every_relay_by_one_call_and_then_lets_go(kernel, factory):
    factory.set_many({17: True, 22: False})
    factory.close()
    assert kernel.calls[-2:] == [("set", OUTPUTS), ("release", [17, 20, 22, 23, 24])]
    factory.close()
    assert len(kernel.calls) == 4


def test_lines_are_let_go_even_where_the_last_setting_is_refused(kernel):
    factory = GpiodFactory(CHIP, OUTPUTS, {})
    kernel.refuses_calls["set"] = errno.EIO
    with pytest.raises(PinsFault):
        factory.close()
    assert kernel.holders == {}
    assert factory.closed


# ── hearing ──────────────────────────────────────────────────────────────────────────────────────


def test_edges_are_read_in_order_with_the_kernels_instants(factory):
    put(factory, 20, False, 1_000)
    put(factory, 24, True, 1_500)
    put(factory, 20, True, 2_000)
    assert factory.read_events() == [
        InputEdge(20, False, 1_000),
        InputEdge(24, True, 1_500),
        InputEdge(20, True, 2_000),
    ]
    assert factory.read_events() == []


def test_one_select_serves_the_inputs(factory):
    assert select.select([factory], [], [], 0)[0] == []
    put(factory, 20, False, 1_000)
    assert select.select([factory], [], [], 0)[0] == [factory]
    factory.read_events()
    assert select.select([factory], [], [], 0)[0] == []


def test_more_edges_than_are_read_at_once_all_arrive(factory):
    for number in range(200):
        put(factory, 20, number % 2 == 1, number)
    assert [edge.mono for edge in factory.read_events()] == list(range(200))


def test_a_level_that_was_known_is_no_news(kernel, factory):
    put(factory, 20, True, 1_000)  # pulled up: it was high when it was claimed
    assert factory.read_events() == []


def test_where_the_kernel_dropped_edges_the_last_level_is_told_still(factory):
    before = time.monotonic_ns()
    put(factory, 24, True, 1_000, dropped=True)
    put(factory, 20, False, 2_000)
    first, second = factory.read_events()
    assert first == InputEdge(20, False, 2_000)
    assert (second.pin, second.high) == (24, True)
    assert before <= second.mono <= time.monotonic_ns()


# ── gpiozero's devices ───────────────────────────────────────────────────────────────────────────


def test_a_device_drives_its_relay_in_its_own_sense(kernel, factory):
    relay = DigitalOutputDevice(22, active_high=False, initial_value=None, pin_factory=factory)
    assert not relay.is_active
    relay.on()
    assert relay.is_active
    assert kernel.level(22) is False
    relay.toggle()
    assert kernel.levels[22] == [True, False, True]


def test_closing_a_device_opens_its_relay_and_frees_the_pin_for_another(kernel, factory):
    relay = OutputDevice(17, initial_value=True, pin_factory=factory)
    with pytest.raises(gpiozero.GPIOPinInUse, match="GPIO17"):
        OutputDevice("GPIO17", initial_value=None, pin_factory=factory)
    relay.close()
    assert kernel.level(17) is False
    OutputDevice("BCM17", initial_value=None, pin_factory=factory)


def test_closing_a_device_after_the_factory_is_no_harm(kernel, factory):
    relay = OutputDevice(17, initial_value=None, pin_factory=factory)
    factory.close()
    calls = len(kernel.calls)
    relay.close()
    assert len(kernel.calls) == calls


def test_an_input_device_hears_edges_when_events_are_read_and_needs_no_thread(factory):
    heard = []
    button = DigitalInputDevice(20, pull_up=True, pin_factory=factory)
    button.when_activated = lambda: heard.append("pressed")
    button.when_deactivated = lambda: heard.append("let go")
    assert not button.is_active
    put(factory, 20, False, 1_000)
    assert heard == []
    factory.read_events()
    put(factory, 20, True, 2_000)
    factory.read_events()
    assert heard == ["pressed", "let go"]


def test_a_closed_input_device_hears_nothing_more(factory):
    heard = []
    button = DigitalInputDevice(20, pull_up=True, pin_factory=factory)
    button.when_activated = lambda: heard.append("pressed")
    button.close()
    put(factory, 20, False, 1_000)
    assert factory.read_events() == [InputEdge(20, False, 1_000)]
    assert heard == []


def test_a_device_cannot_make_its_line_something_else(kernel, factory):
    with pytest.raises(gpiozero.PinInvalidFunction, match="GPIO20 is held as input"):
        OutputDevice(20, pin_factory=factory)
    with pytest.raises(gpiozero.PinInvalidFunction, match="GPIO17 is held as output"):
        DigitalInputDevice(17, pin_factory=factory)
    with pytest.raises(gpiozero.PinFixedPull, match="pull up, not down"):
        DigitalInputDevice(20, pull_up=False, pin_factory=factory)
    with pytest.raises(gpiozero.PinInvalidBounce, match=r"0\.02 s"):
        DigitalInputDevice(20, pull_up=True, bounce_time=0.5, pin_factory=factory)
    with pytest.raises(gpiozero.PinInvalidPin, match="not among the pins held"):
        OutputDevice(5, pin_factory=factory)
    with pytest.raises(gpiozero.PinPWMUnsupported):
        gpiozero.PWMOutputDevice(17, pin_factory=factory)
    assert [call[0] for call in kernel.calls if call[0] == "request"] == ["request"]
    assert kernel.levels[17][-1] is False


def test_the_factory_has_every_method_that_gpiozero_asks_of_one(factory):
    asked = {
        name: member
        for name, member in vars(gpiozero.Factory).items()
        if not name.startswith("_") and name != "pi_info"
    }
    assert len(asked) >= 8
    for name, member in asked.items():
        ours = inspect.getattr_static(GpiodFactory, name)
        if inspect.isfunction(member):
            assert list(inspect.signature(ours).parameters)[:2] == (
                list(inspect.signature(member).parameters)[:2] if name != "spi" else ["self", "_"]
            )


# ── finding the chip ─────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("label", ["pinctrl-bcm2835", "pinctrl-bcm2711", "pinctrl-rp1"])
def test_the_chip_is_found_by_its_label_not_its_number(monkeypatch, label):
    kernels = {"/dev/gpiochip0": "raspberrypi-exp-gpio", "/dev/gpiochip4": label}
    monkeypatch.delenv("UNDERSTUDY_CHIP", raising=False)
    monkeypatch.setattr(chip_module, "_chips", lambda: [Path(path) for path in kernels])
    monkeypatch.setattr(gpiod, "Chip", lambda path: kernel_double.Kernel(kernels[path]).chip(path))
    assert find_chip() == Path("/dev/gpiochip4")


def test_the_environment_names_a_chip_by_path_or_by_label(kernel, monkeypatch):
    kernel.label = "simulated"
    monkeypatch.setenv("UNDERSTUDY_CHIP", "simulated")
    assert find_chip() == CHIP
    monkeypatch.setenv("UNDERSTUDY_CHIP", "/dev/gpiochip7")
    assert find_chip() == Path("/dev/gpiochip7")


def test_where_there_is_no_such_chip_it_says_what_there_is_and_what_to_do(kernel, monkeypatch):
    kernel.label = "another"
    with pytest.raises(PinsFault, match=r'Found: /dev/gpiochip0 is "another".*--fake'):
        find_chip()
    monkeypatch.setenv("UNDERSTUDY_CHIP", "simulated")
    with pytest.raises(PinsFault, match=r'labelled "simulated" \(UNDERSTUDY_CHIP\)'):
        find_chip()
    monkeypatch.delenv("UNDERSTUDY_CHIP")
    monkeypatch.setattr(chip_module, "_chips", list)
    with pytest.raises(PinsFault, match=r"no GPIO chip with a Raspberry Pi's pins.*--fake"):
        find_chip()


def test_chips_that_this_user_may_not_open_are_not_taken_for_none(kernel):
    kernel.refuses[str(CHIP)] = errno.EACCES
    with pytest.raises(PinsFault, match="usermod -aG gpio"):
        find_chip()


def test_another_library_of_the_same_name_is_told_from_libgpiod_2(monkeypatch):
    monkeypatch.setitem(sys.modules, "gpiod", type(sys)("gpiod"))
    with pytest.raises(PinsFault, match="not libgpiod 2"):
        GpiodFactory(CHIP, OUTPUTS, {})
    monkeypatch.setitem(sys.modules, "gpiod", None)
    with pytest.raises(PinsFault, match="need libgpiod 2"):
        GpiodFactory(CHIP, OUTPUTS, {})


# ── cost, and the double itself ──────────────────────────────────────────────────────────────────


def test_importing_the_pins_imports_neither_gpiozero_nor_gpiod():
    code = (
        "import sys, controller.circuits.pins; "
        "print({'gpiozero', 'gpiod', 'pydantic', 'typer'} & set(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"


def test_driving_and_hearing_without_devices_never_imports_gpiozero(kernel):
    code = f"""
import sys
sys.path.insert(0, {str(Path(__file__).parent)!r})
import gpiod, kernel_double
from pathlib import Path
gpiod.Chip = kernel_double.Kernel().chip
from controller.circuits.pins import GpiodFactory
from controller.circuits.lines import InputLine
with GpiodFactory(Path("/dev/gpiochip0"), {{17: False}}, {{20: InputLine("low", 0)}}) as pins:
    pins.set_many({{17: True}})
    pins._request.put(20, False, 1)
    print(len(pins.read_events()), "gpiozero" in sys.modules)
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["1", "False"]


@pytest.mark.parametrize(
    ("double", "real"),
    [(kernel_double.Chip, gpiod.Chip), (kernel_double.Request, gpiod.LineRequest)],
)
def test_the_double_is_called_as_gpiod_is(double, real):
    own = {"put", "_check", "__init__", "__enter__", "__exit__"}
    for name, method in vars(double).items():
        if inspect.isfunction(method) and name not in own:
            theirs = inspect.signature(getattr(real, name)).parameters
            assert list(inspect.signature(method).parameters) == list(theirs), name
