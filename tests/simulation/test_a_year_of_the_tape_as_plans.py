"""A twelve-hour tape with quiet rows, unfolded to plans and folded back: the same soundings for a
year of rehearsal, but for their texts. The year has both clock changes, holidays, a break, and a
Saturday on which the usual is brought back without quiet rows."""

from __future__ import annotations

from datetime import date, datetime, time
from pathlib import Path

from controller.building.file import building_of
from controller.building.model import Building
from controller.building.sheets import Source
from controller.editing.tape_changes import fold_change, unfold_change
from controller.editing.tape_fold import fold
from controller.editing.tape_unfold import unfold
from controller.rehearsal.record import EndRecord, RehearsalRecord, RingRecord
from controller.rehearsal.script import Script
from controller.rehearsal.world import rehearse

FOUNDRY_HALL = Path(__file__).parents[2] / "config" / "foundry-hall.toml"
FIRST, LAST = date(2026, 11, 28), date(2027, 11, 28)
OPEN_SATURDAY = '[[calendar]]\non = "2027-05-08"\nplan = "usual"\nlift_quiet = true\n'


def house(text: str) -> Building:
    return building_of("foundry-hall.toml", [Source("foundry-hall.toml", text.encode())])


def a_year(building: Building) -> list[RehearsalRecord]:
    start, until = (
        building.civil.instant(datetime.combine(day, time.min)) for day in (FIRST, LAST)
    )
    records = list(rehearse(building, Script(start, until, lines=False)))
    assert isinstance(records[-1], EndRecord)
    return [one._replace(says="") if isinstance(one, RingRecord) else one for one in records]


def test_the_tape_its_plans_and_the_tape_made_of_them_ring_the_same_for_a_year():
    text = FOUNDRY_HALL.read_text(encoding="utf-8") + OPEN_SATURDAY
    before = house(text)
    change = unfold_change({"hall": text}, before, unfold(before, FIRST))
    plans = house(change.text)
    folded = fold(plans, FIRST, starts=time(6))
    tape = house(fold_change({"hall": change.text}, plans, folded).text)
    assert before.tape is not None
    assert plans.tape is None
    assert plans.week
    assert tape.tape == before.tape
    assert not tape.week
    year = a_year(before)
    assert len(year) > 3_000
    assert a_year(plans) == year
    assert a_year(tape) == year
