"""The compiled functions on single cases: what drawn scenarios do not hold, threads, machines on which they fail."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from objectives import compiled
from objectives.compiled import machine_code
from objectives.corner import Candidates, Corner
from objectives.evaluate import Measures, measure, measure_compiled
from optimizer import cores
from optimizer.scenario import load_scenario
from tests.properties.alike import PLACED, rows

SCENARIOS = Path(__file__).parent.parent / "scenarios"
DEMO = load_scenario(SCENARIOS / "buggy.toml")
SPACE = DEMO.space
NEAR = 1e-9  # mm and radians, of what assembles
COUNTS_FOR_LOCKS = ("assembled_droop", "assembled_bump")  # what the search judges candidates that lock by

needs_numba = pytest.mark.skipif(not compiled.available(), reason="numba is not installed")


def drawn(count: int) -> Candidates:
    rng = np.random.default_rng(1)
    spans = (SPACE.pivot_y, SPACE.pivot_z, SPACE.static_camber)
    return Candidates(*(rng.uniform(low, high, count) for low, high in spans))


def scrubs() -> list[float]:
    """Scrub of some candidates that assemble, by compiled functions."""
    found = measure_compiled(DEMO.corner, drawn(20), {"scrub"})
    return [float(value) for value in found["scrub"][found["complete"]]]


def both(corner: Corner, candidates: Candidates, patch: pytest.MonkeyPatch) -> tuple[Measures, Measures]:
    """Measured by compiled functions and by arrays."""
    patch.setattr(compiled, "MANY", 10**9)
    return measure_compiled(corner, candidates, compiled.NAMES), measure(corner, candidates, compiled.NAMES)


def assert_equal(found: Measures, expected: Measures, near: float) -> None:
    assert found.keys() == expected.keys()
    for name, column in found.items():
        if column.dtype.kind == "f":
            np.testing.assert_allclose(column, expected[name], rtol=0.0, atol=near, err_msg=name)
        else:
            assert column.tolist() == expected[name].tolist(), name


@needs_numba
def test_the_demo_whole_and_what_locks(monkeypatch: pytest.MonkeyPatch) -> None:
    found, expected = both(DEMO.corner, drawn(300), monkeypatch)
    whole = expected["complete"]
    assert 50 < whole.sum() < 250
    assert (found["complete"] == whole).all()
    assert_equal(rows(found, whole), rows(expected, whole), NEAR)
    for name in COUNTS_FOR_LOCKS:
        np.testing.assert_allclose(found[name], expected[name], rtol=0.0, atol=PLACED, err_msg=name)


@needs_numba
def test_a_wheel_that_nearly_turns_back(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each try for the inner joint begins at the ends of its round: here another beginning leads to another answer.

    So near to where the wheel turns back the last digits decide: arrays alone differ as much, for pivots 1e-13 apart.
    """
    moved = np.arange(-10.0, 11.0) * 1e-13
    some = Candidates(376.88646670130936 + moved, np.full(21, 228.13699844704345), np.full(21, 0.03370328141422256))
    found, expected = both(DEMO.corner, some, monkeypatch)
    for name, column in found.items():
        if column.dtype.kind != "f":
            assert column.tolist() == expected[name].tolist(), name
            continue
        spread = np.ptp(expected[name])
        assert spread <= 1e-5, name
        assert (np.abs(column - expected[name].mean()) <= spread + NEAR).all(), name


@needs_numba
@pytest.mark.parametrize(
    "outlines",
    [
        (),
        (np.array([[470.0, 640.0]]),),
        (np.array([[470.0, 640.0], [470.0, 640.0], [930.0, 700.0]]),),
        (np.array([[500.0, 400.0], [900.0, 300.0]]), np.array([[930.0, 720.0], [440.0, 500.0]])),  # through the tyre
    ],
)
def test_bodywork_of_any_shape(outlines: tuple[np.ndarray, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    corner = replace(DEMO.corner, outlines=outlines)
    found, expected = both(corner, drawn(12), monkeypatch)
    np.testing.assert_allclose(found["fender_clearance"], expected["fender_clearance"], rtol=0.0, atol=1e-6)


@needs_numba
def test_candidates_that_do_not_stand_or_have_no_camber(monkeypatch: pytest.MonkeyPatch) -> None:
    some = drawn(6)
    camber = np.array(some.static_camber)
    camber[[0, 3]] = np.nan, 1.2
    found, expected = both(DEMO.corner, Candidates(some.pivot_y, some.pivot_z, camber), monkeypatch)
    assert_equal(rows(found, np.array([0, 3])), rows(expected, np.array([0, 3])), NEAR)


@needs_numba
def test_cosines_and_sines_of_some_turns() -> None:
    import numba

    from objectives.compiled.trig import cos_sin

    @numba.njit
    def of_all(angles: np.ndarray, found: np.ndarray) -> None:
        for i in range(angles.size):
            found[0, i], found[1, i] = cos_sin(angles[i])

    angles = np.concatenate((np.linspace(-7.0, 7.0, 20_001), 0.25 * np.pi * np.arange(-9, 10)))
    found = np.empty((2, angles.size))
    of_all(angles, found)
    exact = angles.astype(np.longdouble)
    np.testing.assert_allclose(found, np.stack((np.cos(exact), np.sin(exact))).astype(float), rtol=0.0, atol=3e-16)


@needs_numba
def test_arctangents_of_any_number() -> None:
    """To the last digits, for numbers of any size."""
    from numba import njit

    from objectives.compiled.trig import arctangent

    @njit
    def of_all(numbers: np.ndarray, found: np.ndarray) -> None:
        for i in range(numbers.size):
            found[i] = arctangent(numbers[i])

    sizes = 10.0 ** np.linspace(-12.0, 12.0, 20_001)
    numbers = np.concatenate((sizes, -sizes, [0.0]))
    found = np.empty(numbers.size)
    of_all(numbers, found)
    exact = np.arctan(numbers.astype(np.longdouble)).astype(float)
    np.testing.assert_allclose(found, exact, rtol=8e-16, atol=0.0)


@needs_numba
def test_a_hole_that_the_spindle_has_not() -> None:
    spindle = replace(DEMO.corner.spindle, upper_holes=np.stack((DEMO.corner.spindle.upper_pivot,) * 2, axis=1))
    one = drawn(1)
    beyond = Candidates(one.pivot_y, one.pivot_z, one.static_camber, np.array([2]))
    with pytest.raises(IndexError):
        measure_compiled(replace(DEMO.corner, spindle=spindle), beyond, compiled.NAMES)


@needs_numba
def test_threads_give_what_one_gives_to_the_last_bit(monkeypatch: pytest.MonkeyPatch) -> None:
    candidates = drawn(5 * cores.SHARE + 7)
    found = []
    for count in (1, 2, 5):
        monkeypatch.setattr(cores, "cores", lambda count=count: count)
        found.append(cores.measure_on_all_cores(DEMO.corner, candidates, compiled.NAMES, in_all=10_000))
    for other in found[1:]:
        for name, column in found[0].items():
            assert np.array_equal(column, other[name], equal_nan=column.dtype.kind == "f"), name


@pytest.fixture
def asked_anew() -> Iterator[None]:
    """What a machine can do is asked once; here it changes."""
    asked = machine_code.available, machine_code.kept_in, machine_code._entry
    for one in asked:
        one.cache_clear()
    yield
    for one in asked:
        one.cache_clear()


def _without(module: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Have a module that cannot be imported."""
    monkeypatch.setitem(sys.modules, module, None)


@pytest.mark.usefixtures("asked_anew")
def test_few_are_not_worth_compiling(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(machine_code, "_cache_home", lambda: tmp_path)
    assert not compiled.suits(compiled.WORTH_COMPILING - 1, compiled.NAMES)
    if compiled.available():
        assert compiled.suits(compiled.WORTH_COMPILING, compiled.NAMES)


@needs_numba
@pytest.mark.usefixtures("asked_anew")
def test_what_is_kept_is_called_for_fewer() -> None:
    compiled.entry()
    for loaded in (True, False):
        assert compiled.suits(compiled.MANY, compiled.NAMES), loaded
        assert not compiled.suits(compiled.MANY - 1, compiled.NAMES), loaded
        machine_code._entry.cache_clear()


@pytest.mark.usefixtures("asked_anew")
def test_nothing_kept_and_a_numba_that_cannot_be_imported(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(machine_code, "_cache_home", lambda: tmp_path)
    _without("numba", monkeypatch)
    assert not compiled.suits(10_000, compiled.NAMES)


@needs_numba
@pytest.mark.usefixtures("asked_anew")
def test_what_is_kept_needs_no_numba() -> None:
    """A process of its own, for in this one numba may be there already."""
    compiled.entry()
    program = (
        "import sys; sys.modules['numba'] = None\n"
        "from tests import test_compiled as here\n"
        "assert here.compiled.available()\n"
        "print(repr(here.scrubs()))"
    )
    ran = subprocess.run([sys.executable, "-c", program], cwd=Path(__file__).parents[1], capture_output=True, text=True)
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout.strip() == repr(scrubs())
    assert "nan" not in ran.stdout


@pytest.mark.usefixtures("asked_anew")
def test_switched_off_or_nowhere_to_keep_it(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setattr(machine_code, "_cache_home", lambda: tmp_path / "file")
    assert not compiled.available()
    machine_code.available.cache_clear()
    monkeypatch.undo()
    monkeypatch.setenv(machine_code.SWITCH, "no")
    assert not compiled.available()
    with pytest.raises(compiled.CannotCompileError, match="=no"):
        compiled.entry()


@needs_numba
@pytest.mark.usefixtures("asked_anew")
def test_what_cannot_be_compiled_is_measured_by_arrays(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv(machine_code.SWITCH, "")  # so that it is put back
    monkeypatch.setattr(machine_code, "_cache_home", lambda: tmp_path)
    # a call out of the machine code that LLVM could not resolve, at which it would end the process
    monkeypatch.setattr("objectives.compiled.measures.measure_all", lambda *_: print("from compiled code"))
    monkeypatch.setattr(compiled, "WORTH_COMPILING", 10)
    monkeypatch.setattr(compiled, "MANY", 10)
    candidates = drawn(10)
    assert compiled.suits(candidates.count, compiled.NAMES)
    found = measure(DEMO.corner, candidates, compiled.NAMES)
    assert not compiled.available()
    assert_equal(found, measure(DEMO.corner, candidates, compiled.NAMES), 0.0)


@needs_numba
@pytest.mark.usefixtures("asked_anew")
def test_a_full_disk_and_files_cut_short(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    code = machine_code._read() or machine_code._compiled()
    monkeypatch.setattr(machine_code, "_cache_home", lambda: tmp_path)
    machine_code.kept_in.cache_clear()
    made = []

    def compile_again() -> bytes:
        made.append(1)
        return code

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(machine_code, "_compiled", compile_again)
    with monkeypatch.context() as context:
        context.setattr(Path, "replace", full)
        compiled.entry()  # works all the same
    assert not compiled.is_kept()
    assert list(machine_code.kept_in().parent.iterdir()) == []  # no draft is left
    machine_code._entry.cache_clear()
    compiled.entry()
    assert compiled.is_kept()
    kept = machine_code.kept_in().read_bytes()
    machine_code.kept_in().write_bytes(kept[:-1])
    assert not compiled.is_kept()
    machine_code._entry.cache_clear()
    compiled.entry()
    assert machine_code.kept_in().read_bytes() == kept
    assert len(made) == 3


@pytest.mark.usefixtures("asked_anew")
def test_what_nobody_has_used_for_long_is_cleared_away(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(machine_code, "_cache_home", lambda: tmp_path)
    files = {name: tmp_path / "pivotfront" / name for name in ("old.code", "recent.code")}
    (tmp_path / "pivotfront").mkdir()
    for name, age in (("old.code", 2.0), ("recent.code", 0.5)):
        files[name].touch()
        stamp = machine_code.time.time() - age * machine_code.UNUSED
        os.utime(files[name], (stamp, stamp))
    machine_code._clear_old()
    assert [name for name, file in files.items() if file.exists()] == ["recent.code"]


@needs_numba
def test_only_whole_numbers_records_and_mathematics_are_compiled() -> None:
    from objectives.compiled.kernel import object_code

    with pytest.raises(ValueError, match="would call"):
        object_code(lambda number: print(number), [int])
