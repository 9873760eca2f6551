"""The unit of the keeper's page, as systemd's own tools judge it."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest
from installing_kit import SYSTEMD
from typer.main import get_command

from controller.cli.app import app
from controller.cli.person import PAGE_GROUP
from controller.page.settings import PEOPLE
from controller.service.page_user import ACCOUNT

UNIT = (SYSTEMD / "understudy-page.service").read_text()
NETWORK = (SYSTEMD / "page-network.conf").read_text()
README = (SYSTEMD / "README.md").read_text()
INSTALL = (SYSTEMD / "install").read_text()


@pytest.fixture(params=["alone", "with a network"])
def unit(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """The unit, with a program that is there everywhere; as it is, or with the drop-in."""
    text = UNIT.replace("/opt/understudy/current/bin/understudy", "/bin/true")
    if request.param != "alone":
        text += NETWORK[NETWORK.index("[Service]") :]
    file = tmp_path / "understudy-page.service"
    file.write_text(text)
    return file


def analysed(*words: str) -> str:
    done = subprocess.run(["systemd-analyze", *words], capture_output=True, text=True)
    said = done.stdout + done.stderr
    assert done.returncode == 0, said
    return said


def settings(name: str, text: str = UNIT) -> list[str]:
    return re.findall(rf"^{name}=(.*)$", text, re.MULTILINE)


def test_systemd_finds_no_fault_in_the_unit(unit: Path) -> None:
    assert analysed("verify", "--man=no", str(unit)) == ""


def test_the_sandbox_is_as_strict_as_the_readme_says(unit: Path) -> None:
    said = analysed("security", "--offline=true", "--no-pager", str(unit))
    level = re.search(r"understudy-page.service: ([0-9.]+)", said)
    assert level is not None
    assert f"The page's unit: **{level[1]}**" in README


def test_the_page_has_no_pins_no_file_to_write_and_no_capability() -> None:
    assert settings("PrivateDevices") == ["yes"]
    assert settings("DeviceAllow") == []
    assert settings("ProtectSystem") == ["strict"]
    for writable in ("ReadWritePaths", "StateDirectory", "RuntimeDirectory", "CacheDirectory"):
        assert settings(writable) == []
    assert settings("CapabilityBoundingSet") == [""]
    assert "gpio" not in UNIT


def test_it_runs_as_the_user_whose_word_the_daemon_takes_and_as_nobody_else_does() -> None:
    assert settings("User") == settings("Group") == [ACCOUNT] == [PAGE_GROUP]
    users = (SYSTEMD / "understudy-page.sysusers").read_text()
    made = [line.split()[:2] for line in users.splitlines() if not line.startswith("#")]
    assert made == [["u", ACCOUNT]]
    assert "understudy-page" not in (SYSTEMD / "understudy.service").read_text()


@pytest.mark.parametrize("text", [UNIT, NETWORK])
def test_it_may_listen_where_it_is_told_to(text: str) -> None:
    usual = {option.name: option.default for option in get_command(app).commands["page"].params}
    (listen,) = re.findall(r'^Environment=LISTEN="(.*)"$', text, re.MULTILINE)
    words = listen.split()
    assert words[words.index("--port") + 1] == str(usual["port"])
    assert settings("SocketBindAllow") == [f"tcp:{usual['port']}"]
    known = {name for option in get_command(app).commands["page"].params for name in option.opts}
    assert {word for word in words if word.startswith("--")} <= known


def test_nobody_but_this_machine_reaches_it_unless_told() -> None:
    assert 'LISTEN="--host 127.0.0.1 ' in UNIT
    assert settings("IPAddressDeny") == ["any"]
    assert settings("IPAddressAllow") == ["localhost"]


def test_it_starts_once_somebody_is_listed_and_with_or_without_the_daemon() -> None:
    assert settings("ConditionPathExists") == [str(PEOPLE)]
    assert f"people={PEOPLE}\n" in INSTALL
    for bound in ("Requires", "BindsTo", "PartOf", "Requisite"):
        assert settings(bound) == []


def test_the_bells_come_before_it() -> None:
    daemon = (SYSTEMD / "understudy.service").read_text()
    assert int(*settings("Nice")) > 0
    assert int(*settings("CPUWeight")) < 100  # what a unit has that says nothing
    assert int(*settings("OOMScoreAdjust")) > int(*settings("OOMScoreAdjust", daemon))


def test_its_group_reaches_the_socket_and_reads_the_last_state() -> None:
    daemon = (SYSTEMD / "understudy.service").read_text()
    assert settings("SupplementaryGroups") == settings("Group", daemon) == ["understudy"]
    for folder in ("StateDirectoryMode", "RuntimeDirectoryMode"):
        assert settings(folder, daemon) == ["0750"]
    assert settings("UMask", daemon) == ["0027"]  # so the last state is 0640
    told = dict(word.split("=") for word in settings("Environment")[0].split())
    (runtime,), (state,) = settings("RuntimeDirectory", daemon), settings("StateDirectory", daemon)
    assert told == {
        "UNDERSTUDY_RUNTIME": f"/run/{runtime}",
        "UNDERSTUDY_STATE": f"/var/lib/{state}",
    }


def test_the_installer_looks_at_the_people_file_and_never_touches_it() -> None:
    naming = [line.strip() for line in INSTALL.splitlines() if "$people" in line]
    assert naming == [
        'if ! [ -e "$people" ]; then',
        'for left in "$building" "$people" "$state" "/etc/$drop_ins" \\',
    ]
    assert "sudo understudy person add NAME" in INSTALL
