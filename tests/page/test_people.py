"""The people file: who may do what, what is kept of a password, and that the file is kept whole."""

from __future__ import annotations

import base64
import re
import stat

import pytest
from argon2.low_level import Type, core, error_to_str, ffi

from controller.page.people import (
    HASHER,
    KeptMachine,
    KeptPerson,
    People,
    PeopleFault,
    Person,
    keep_people,
    machine_by_token,
    new_token,
    password_hash,
    people_of,
    person_by_password,
)

PASSWORD = "a long enough word"
HASH = password_hash(PASSWORD)


def listed(**roles: str) -> People:
    return People(
        people={name: KeptPerson(role=role, password=HASH) for name, role in roles.items()}
    )


# ── Argon2 ───────────────────────────────────────────────────────────────────────────────────────


def test_what_is_kept_of_a_password_says_how_it_was_made():
    """The PHC string format, and RFC 9106: version 0x13 (3.2), 128 bits of salt and at least as
    many of tag (4: step 5 and 6; from memory). 19 MiB and two passes: `HASHER` says why.
    """
    match = re.fullmatch(
        r"\$argon2id\$v=(\d+)\$m=(\d+),t=(\d+),p=(\d+)\$([A-Za-z0-9+/]+)\$([A-Za-z0-9+/]+)", HASH
    )
    assert match is not None
    assert [int(part) for part in match.groups()[:4]] == [0x13, 19 * 1024, 2, 1]
    salt, tag = (base64.b64decode(part + "=" * (-len(part) % 4)) for part in match.groups()[4:])
    assert len(salt) == 16
    assert len(tag) >= 16


def test_the_library_makes_the_tag_of_the_rfc():
    """RFC 9106, 5.3: the test vector of Argon2id (the tag is from memory, and it agrees)."""
    tag, password, salt = (ffi.new("uint8_t[]", size) for size in (32, 32, 16))
    secret, data = ffi.new("uint8_t[]", 8), ffi.new("uint8_t[]", 12)
    for buffer, byte in ((password, 1), (salt, 2), (secret, 3), (data, 4)):
        ffi.memmove(buffer, bytes([byte]) * len(buffer), len(buffer))
    context = ffi.new(
        "argon2_context *",
        {
            "out": tag,
            "outlen": 32,
            "pwd": password,
            "pwdlen": 32,
            "salt": salt,
            "saltlen": 16,
            "secret": secret,
            "secretlen": 8,
            "ad": data,
            "adlen": 12,
            "t_cost": 3,
            "m_cost": 32,
            "lanes": 4,
            "threads": 1,
            "version": 0x13,
        },
    )
    code = core(context, Type.ID.value)
    assert code == 0, error_to_str(code)
    assert bytes(tag).hex() == "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659"


def test_the_same_password_is_kept_differently_each_time():
    assert password_hash(PASSWORD) != HASH
    assert HASHER.verify(HASH, PASSWORD)


@pytest.mark.parametrize("password", ["", "seven77", "x" * 201])
def test_a_password_is_neither_short_nor_endless(password):
    with pytest.raises(ValueError, match="expected 8 to 200 characters"):
        password_hash(password)


def test_a_person_is_known_by_the_right_password_alone():
    people = listed(anna="act")
    assert person_by_password(people, "anna", PASSWORD) == Person("anna", "act")
    assert person_by_password(people, "anna", PASSWORD + " ") is None
    assert person_by_password(people, "bert", PASSWORD) is None


@pytest.mark.parametrize("kept", ["", "x", "$argon2id$none", PASSWORD, "$2b$12$" + "a" * 53])
def test_what_is_no_hash_lets_nobody_in(kept):
    people = People(people={"anna": KeptPerson(role="edit", password=kept)})
    assert person_by_password(people, "anna", PASSWORD) is None
    assert person_by_password(people, "anna", kept) is None


# ── roles ────────────────────────────────────────────────────────────────────────────────────────


def test_each_role_includes_the_one_before_it():
    may = {
        role: [Person("x", role).may(asked) for asked in ("look", "act", "edit")]
        for role in ("look", "act", "edit")
    }
    assert may == {
        "look": [True, False, False],
        "act": [True, True, False],
        "edit": [True, True, True],
    }


# ── tokens ───────────────────────────────────────────────────────────────────────────────────────


def test_a_token_is_256_random_bits_and_only_its_hash_is_kept():
    token, kept = new_token()
    assert len(base64.urlsafe_b64decode(token + "=")) == 32
    assert token not in kept
    assert new_token()[0] != token
    people = People(machines={"board": KeptMachine(role="look", token=kept)})
    assert machine_by_token(people, token) == Person("board", "look")
    for wrong in ("", kept, token[:-1], token + "A", token.swapcase(), "\ud800"):
        assert machine_by_token(people, wrong) is None


# ── the file ─────────────────────────────────────────────────────────────────────────────────────


def test_what_is_written_is_read_again(tmp_path):
    file = tmp_path / "people.toml"
    people = listed(bert="look", anna="edit").model_copy(
        update={"machines": {"board": KeptMachine(role="act", token=new_token()[1])}}
    )
    keep_people(file, people)
    assert people_of(file) == people
    assert not (tmp_path / "people.toml.new").exists()


def test_nobody_else_may_read_it(tmp_path):
    file = tmp_path / "people.toml"
    keep_people(file, listed(anna="edit"))
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    file.chmod(0o644)
    keep_people(file, listed(anna="look"))
    assert stat.S_IMODE(file.stat().st_mode) == 0o640, "its group may go on reading it"


def test_a_link_that_lies_where_the_new_file_goes_leads_nowhere(tmp_path):
    file, other = tmp_path / "people.toml", tmp_path / "other"
    other.write_text("kept")
    (tmp_path / "people.toml.new").symlink_to(other)
    keep_people(file, listed(anna="look"))
    assert other.read_text() == "kept"


def test_where_there_is_no_file_there_is_nobody(tmp_path):
    assert people_of(tmp_path / "none.toml") == People()


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"[people.anna\n", "no TOML"),
        (b"\xff", "no TOML"),
        (b"[people.anna]\nrole = 'boss'\npassword = ''\n", "people.anna.role"),
        (b"[people.anna]\nrole = 'look'\n", "people.anna.password"),
        (b"[people.'An na']\nrole = 'look'\npassword = ''\n", "people.An na"),
        (b"[people.anna]\nrole = 'look'\npassword = ''\nis = 'x'\n", "people.anna.is"),
        (b"[others]\n", "others"),
        (b"#" * (1 << 20) + b"\n", "over 1048576 bytes"),
    ],
)
def test_a_file_that_is_none_is_said_with_its_place(tmp_path, content, says):
    file = tmp_path / "people.toml"
    file.write_bytes(content)
    with pytest.raises(PeopleFault) as fault:
        people_of(file)
    assert str(fault.value).startswith(f"{file}: ")
    assert says in str(fault.value)


def test_a_folder_in_its_place_is_said_too(tmp_path):
    with pytest.raises(PeopleFault, match="Is a directory"):
        people_of(tmp_path)
