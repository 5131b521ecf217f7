"""The second focus of an implant, by ray-transfer (ABCD) matrices and by a numerical diffraction integral.

Nothing here uses the program's closed formulas. Paraxial optics: H. Kogelnik and T. Li, Appl Opt 1966;5:1550 (from
memory); kinoform efficiency by scalar diffraction theory: J. W. Goodman, Introduction to Fourier Optics (from memory).
Index of vitreous and aqueous 1.336 (schematic eye of Gullstrand, from memory).
"""

import numpy as np
import pytest

import packets

VITREOUS = 1.336
TREATMENT_NM = 1064.0


def space(metres: float) -> np.ndarray:
    """Ray (height, angle times index) through a length of fluid."""
    return np.array([[1.0, metres / VITREOUS], [0.0, 1.0]])


def lens(dioptres: float) -> np.ndarray:
    """A thin lens between fluids."""
    return np.array([[1.0, 0.0], [-dioptres, 1.0]])


def focus_behind(system: np.ndarray, ray: np.ndarray) -> float:
    """How far behind the system a ray crosses the axis, metres."""
    height, angle = system @ ray
    return -height / angle * VITREOUS


def converging_ray(system: np.ndarray, metres: float) -> np.ndarray:
    """The ray at height 1 before the system that crosses the axis at a distance behind it."""
    a, b = (space(metres) @ system)[0]
    return np.array([1.0, -a / b])


def foci(distance_mm: float, add: float, base: float = 20.0, before_mm: float = 4.0) -> tuple[float, float]:
    """Distances in mm of the other focus in front of and behind the target.

    Front: the beam aimed at the target through the base power, the rest of it through base plus addition.
    Behind: aimed through base plus addition, the rest through the base power.
    """
    target = distance_mm / 1000
    far, near = (lens(power) @ space(before_mm / 1000) for power in (base, base + add))
    front = focus_behind(near, converging_ray(far, target))
    behind = focus_behind(far, converging_ray(near, target))
    return (target - front) * 1000, (behind - target) * 1000


def addition(add: float, design_nm: float | None) -> float:
    """A diffractive addition acts in proportion to the wavelength; a refractive one is the same for both."""
    return add if design_nm is None else add * TREATMENT_NM / design_nm


GOLDEN = [
    (15.0, 3.0, None, 0.489, 0.523), (8.0, 3.0, None, 0.141, 0.146),
    (15.0, 3.0, 550.0, 0.918, 1.046), (8.0, 3.0, 550.0, 0.269, 0.288),
]


@pytest.mark.parametrize(("distance", "add", "design", "front", "behind"), GOLDEN)
def test_golden_foci(distance, add, design, front, behind):
    """Values worked out beforehand for an addition of 3 D at 15 and 8 mm, refractive and diffractive (550 nm design)."""
    assert foci(distance, addition(add, design)) == (pytest.approx(front, abs=0.0006), pytest.approx(behind, abs=0.0006))


@pytest.mark.parametrize("base", [0.0, 10.0, 28.0])
@pytest.mark.parametrize("before", [0.5, 4.0, 12.0])
def test_only_addition_and_distance_count(base, before):
    """Neither the base power nor the way before the implant moves the second focus, so the program need not know them."""
    assert foci(12.0, 3.5, base, before) == pytest.approx(foci(12.0, 3.5))


def wrong_foci(rows):
    """Every distance the program computed, to a micrometre of rounding."""
    found = []
    for row in rows:
        front, behind = foci(row["distance_mm"], addition(row["add_d"], row["wavelength"]))
        if abs(front - row["front_mm"]) > 0.00051 or abs(behind - row["behind_mm"]) > 0.00051:
            found.append(f"{row}: {front:.4f} in front, {behind:.4f} behind")
    return found


def test_program_agrees():
    """See `wrong_foci`."""
    assert wrong_foci(packets.table("optics.json")) == []


def test_program_was_asked_widely():
    """The table spans near and far targets, weak and strong additions, both kinds of implant."""
    rows = packets.table("optics.json")
    distances, additions = ({row[key] for row in rows} for key in ("distance_mm", "add_d"))
    assert min(distances) <= 5 and max(distances) >= 15 and min(additions) <= 2 and max(additions) >= 3.5
    assert {row["wavelength"] for row in rows} == {None, 550}


def orders(design_nm: float, light_nm: float, phase_at_design: float, samples: int = 65536) -> np.ndarray:
    """Shares of light in the orders of a blazed profile, by a discrete Fourier transform of one zone.

    `phase_at_design` is the height of the step in waves of the design light; dispersion is left out.
    """
    x = (np.arange(samples) + 0.5) / samples
    field = np.exp(2j * np.pi * phase_at_design * design_nm / light_nm * x)
    return np.abs(np.fft.fft(field) / samples) ** 2


def test_half_wave_profile():
    """A half-wave profile at 550 nm gives equal shares to far and near in its own light, about 80 % and 10 % at 1064 nm."""
    visible, treatment = orders(550, 550, 0.5), orders(550, TREATMENT_NM, 0.5)
    assert visible[0] == pytest.approx(visible[1], rel=1e-3) and visible[0] == pytest.approx(0.405, abs=0.001)
    assert treatment[0] == pytest.approx(0.80, abs=0.01) and treatment[1] == pytest.approx(0.10, abs=0.01)
    assert treatment.sum() == pytest.approx(1.0)


def _with_second_focus():
    return [packet for packet in packets.packets() if str(packet["facts"].get("second_focus")) == "yes"]


def test_shares_and_foci_in_packets():
    """Where an implant has a second focus, the facts of the packet carry these distances and shares."""
    found = _with_second_focus()
    assert found, "no packet has an implant with a second focus"
    for packet in found:
        facts = packet["facts"]
        if "far_focus_share" in facts:
            treatment = orders(550, TREATMENT_NM, 0.5)
            assert _percent(facts["far_focus_share"]) == pytest.approx(treatment[0] * 100, abs=1.5)
            assert _percent(facts["near_focus_share"]) == pytest.approx(treatment[1] * 100, abs=1.5)


def _percent(value) -> float:
    number = float(str(value).rstrip(" %"))
    return number * 100 if number <= 1 else number


def test_faults_are_noticed():
    """Not vacuous: the front distance given for the one behind, and the other wavelength."""
    row = {"distance_mm": 15, "add_d": 3.0, "wavelength": None, "front_mm": 0.489, "behind_mm": 0.523}
    sound = dict(row, front_mm=round(foci(15, 3)[0], 3), behind_mm=round(foci(15, 3)[1], 3))
    assert wrong_foci([sound]) == []
    assert wrong_foci([dict(sound, behind_mm=sound["front_mm"])]) and wrong_foci([dict(sound, wavelength=550)])
