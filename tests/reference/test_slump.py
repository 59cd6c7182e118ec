"""Doses of a slumping chip against sums made another way, and the printed rows D01 to D07 of the physics groundwork (physics-checks.csv).

Elsewhere: the energy differentiated by numbers, the chip's motion solved in time, and Huppert's gravity current
(Huppert 1982, J. Fluid Mech. 121, 43–58: r = 0.894 (ρgV³t/3η)^⅛; the figure from memory).
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

from server.physics import slump
from server.physics.curve import log_eta_vft

MM = 1e-3
CHIP = slump.Shelf(8e-7)  # 2 g of 2500 kg/m³
FLOAT = {"a": -1.601, "b": 4330.9, "t0_c": 246.1}


def energy(z, volume, angle_deg, tension=0.30, density=2500.0):
    radius = np.sqrt(volume / (np.pi * z))
    return density * 9.80665 * volume * z / 2 + tension * (np.pi * radius**2 * (1 - np.cos(np.radians(angle_deg))) + 2 * np.pi * radius * z)


def slope(z, volume, angle_deg, step=1e-7):
    return (energy(z + step, volume, angle_deg) - energy(z - step, volume, angle_deg)) / (2 * step)


def stokes_dissipation(z, volume, slips):
    """Dissipation ÷ (η ż²) by summing rates of strain squared over the chip, ring by ring and layer by layer."""
    radius = np.sqrt(volume / (np.pi * z))
    n = 400
    r, y = (np.arange(n) + 0.5) / n * radius, (np.arange(n) + 0.5) / n * z
    stretching = 2 * (1 + 0.25 + 0.25) / z**2 * volume
    if slips:
        return stretching
    # u(r, y) = (r / 2z) · (3/z²)(y z − y²/2): no speed at the shelf, no shear at the top, mean r / 2z
    shear = (r[:, None] / (2 * z)) * (3 / z**2) * (z - y[None, :])
    return stretching + (shear**2 * 2 * np.pi * r[:, None]).sum() * (radius / n) * (z / n)


def test_d02_d03_heights_of_rest():
    capillary = np.sqrt(0.30 / (2500 * 9.80665))
    assert 2 * capillary * np.sin(np.radians(60)) * 1e3 == pytest.approx(6.05886, abs=0.001)  # D02, a large sheet
    sheet = slump.rest_height(slump.Shelf(1.0))
    assert float(sheet) * 1e3 == pytest.approx(6.05886, rel=0.01)
    assert float(slump.rest_height(CHIP)) * 1e3 == pytest.approx(4.62958, abs=0.005)  # D03
    found = brentq(lambda z: slope(z, 8e-7, 120.0), 1e-3, 2e-2)
    assert float(slump.rest_height(CHIP)) == pytest.approx(found, rel=1e-5)


@pytest.mark.parametrize(("after_mm", "printed"), [(8.5, 0.00161428), (7.5, 0.00585211), (6.5, 0.0125607), (5.2, 0.0344885)], ids=["D04", "D05", "D06", "D07"])
def test_printed_doses(after_mm, printed):
    assert float(slump.dose(CHIP, 9 * MM, after_mm * MM)) == pytest.approx(printed, rel=0.005)


@pytest.mark.parametrize(("angle", "slips"), [(90.0, False), (120.0, False), (135.0, True)])
def test_dose_by_energy_and_dissipation_alone(angle, slips):
    """K from the strain rates summed over the chip, dW/dz by differences of the energy, the integral by scipy."""
    found, _ = quad(lambda z: stokes_dissipation(z, 8e-7, slips) / slope(z, 8e-7, angle), 6.5 * MM, 9 * MM, epsrel=1e-6)
    made = slump.dose(slump.Shelf(8e-7, angle_deg=angle, slip=float(slips)), 9 * MM, 6.5 * MM)
    assert float(made) == pytest.approx(found, rel=1e-4)


def test_two_chips_side_by_side_in_time():
    """Heights of two chips solved in time through one uneven firing: the ratio of their viscosities comes back."""
    ratio, heat = 2.2, lambda t: 740.0 + 50.0 * np.sin(np.pi * t / 900.0)

    def fall(times):
        def rate(t, z):
            eta = 10 ** (log_eta_vft(heat(t), FLOAT["a"], FLOAT["b"], FLOAT["t0_c"]) - 1.0) * times
            return -np.array([slope(z[0], 8e-7, 120.0) / (eta * stokes_dissipation(z[0], 8e-7, False))])

        return solve_ivp(rate, (0, 900), [9 * MM], rtol=1e-9, atol=1e-12).y[0, -1]

    soft, stiff = (float(slump.dose(CHIP, 9 * MM, fall(times))) for times in (1.0, ratio))
    assert soft / stiff == pytest.approx(ratio, rel=1e-3)


def test_d01_late_spreading_lies_by_the_gravity_current():
    """Without surface tension and clinging: r⁸ grows as (16/π³) ρgV³t/3η, 3 % in radius above Huppert's current."""
    flat = slump.Shelf(8e-7, tension=0.0)
    rate = float(slump.resistance(flat, 1e-4) / slump.force(flat, 1e-4))
    radius = np.sqrt(8e-7 / (np.pi * 1e-4))
    grown = 8 * radius**7 * radius / (2e-4) / rate * 3 / (2500 * 9.80665 * 8e-7**3)  # d(r⁸)/dt · 3η / ρgV³
    assert grown == pytest.approx(16 / np.pi**3, rel=1e-3)
    assert grown ** (1 / 8) == pytest.approx(0.920627, rel=2e-4)  # D01
    assert grown ** (1 / 8) / 0.894 == pytest.approx(1.03, abs=0.005)


def test_the_shelf_hardly_moves_the_ratio():
    """Section D: θ 90 to 135°, slip or not, move G(7.5) / G(8.5) only from 3.49 to 3.68; a tenth of mass about 3.5 % of the dose."""
    ratios = [slump.dose(s, 9 * MM, 7.5 * MM) / slump.dose(s, 9 * MM, 8.5 * MM) for s in (slump.Shelf(8e-7, angle_deg=a, slip=k) for a in (90, 120, 135) for k in (0, 1))]
    assert min(ratios) == pytest.approx(3.49, abs=0.02) and max(ratios) == pytest.approx(3.68, abs=0.02)
    heavy = slump.dose(slump.Shelf(8.8e-7), 9 * MM, 7.5 * MM) / slump.dose(CHIP, 9 * MM, 7.5 * MM)
    assert float(heavy) == pytest.approx(1.035, abs=0.005)  # so its glass reads 3.5 % softer, as printed


@pytest.mark.parametrize(("temperature_c", "printed"), [(750, 0.05), (800, 0.23), (850, 0.65)])
def test_fractions_of_float_after_ten_minutes(temperature_c, printed):
    """The table of section D, float-like glass, a chip of 2 g and 9 mm."""
    dose = 600.0 / 10 ** (log_eta_vft(temperature_c, FLOAT["a"], FLOAT["b"], FLOAT["t0_c"]) - 1.0)
    share = brentq(lambda f: float(slump.dose_to(CHIP, 9 * MM, f)) - dose, 1e-4, 0.99)
    assert share == pytest.approx(printed, abs=0.01)


def chips(letters, before_mm, after_mm, grams=2.0, sd_mm=0.1):
    n = len(letters)
    arrays = (np.full(n, grams / 2500e3), np.full(n, 0.01), np.broadcast_to(before_mm, n) * MM, np.asarray(after_mm) * MM)
    return slump.Chips(tuple(letters), *arrays, sd_mm * MM, 120.0)


def test_reading_errors_by_drawing_heights():
    """0.1 mm at each height: the delta rule against readings drawn at random; 22 % at a ninth of the drop (section D)."""
    made = slump.doses(chips("AB", 9.0, [8.52, 7.0]))
    weighed = slump.doses(slump.Chips(**{**chips("AB", 9.0, [8.52, 7.0]).__dict__, "volume_u_share": np.zeros(2)}))
    rng = np.random.default_rng(2)
    for k, after in enumerate((8.52, 7.0)):
        drawn = slump.dose(CHIP, rng.normal(9, 0.1, 20_000) * MM, rng.normal(after, 0.1, 20_000) * MM)
        assert np.sqrt(weighed.reading[k]) == pytest.approx(np.std(np.log(drawn[drawn > 0])), rel=0.35 if k == 0 else 0.03)
        assert made.reading[k] >= weighed.reading[k]
    one_height = slump.doses(chips("A", 9.0, [9.0 - 0.11 * (9 - 4.63)]))
    assert np.sqrt(one_height.reading[0] / 2) == pytest.approx(0.22, abs=0.02)


@pytest.mark.parametrize(("kiln_k", "at_least"), [(2.0, 0.94), (5.0, 0.93), (8.0, 0.86)])
def test_intervals_hold_what_they_promise(kiln_k, at_least):
    """Firings drawn at random: shelf from its range, tension and density of each glass, uneven kiln, readings. True ratio 2."""
    rng, held, n, b = np.random.default_rng(7), 0, 250, 0.035
    for _ in range(n):
        angle, slip = rng.uniform(90, 135), rng.uniform(0, 1)
        letters, after = "AABB", []
        glass = {x: (rng.normal(0.30, 0.02), rng.normal(2500, 60)) for x in "AB"}
        for x in letters:
            s = slump.Shelf(8e-7, density=glass[x][1], tension=glass[x][0], angle_deg=angle, slip=slip)
            wanted = 0.010 / (2.0 if x == "B" else 1.0) * np.exp(rng.normal(0, kiln_k * b))
            z = np.linspace(8.999 * MM, float(slump.rest_height(s)) * 1.02, 300)
            after.append(np.interp(wanted, slump.dose(s, 9 * MM, z), z) / MM)
        read = chips(letters, 9.0 + rng.normal(0, 0.1, 4), np.array(after) + rng.normal(0, 0.1, 4))
        value, _, half = slump.ln_ratio(slump.doses(read), "B", "A", b)
        held += abs(value - np.log(2.0)) < half
    assert held / n >= at_least


HEIGHT = st.floats(5.0, 8.7)


@given(HEIGHT, HEIGHT)
def test_swapped_letters(one, other):
    made, swapped = (slump.ln_ratio(slump.doses(chips(letters, 9.0, [one, other])), "A", "B", 0.035) for letters in ("AB", "BA"))
    assert swapped == pytest.approx((-made[0], *made[1:]), rel=1e-9, abs=1e-12)


@given(st.lists(HEIGHT, min_size=3, max_size=3), st.floats(90, 135), st.floats(0, 1))
def test_doses_add_up_over_height(heights, angle, slip):
    high, middle, low = sorted(heights, reverse=True)
    s = slump.Shelf(8e-7, angle_deg=angle, slip=slip)
    parts = slump.dose(s, high * MM, middle * MM) + slump.dose(s, middle * MM, low * MM)
    assert float(parts) == pytest.approx(float(slump.dose(s, high * MM, low * MM)), rel=1e-9, abs=1e-15)


@given(st.floats(0.02, 0.95))
def test_dose_to_a_share_gives_that_share(share):
    rest = float(slump.rest_height(CHIP))
    after = 9 * MM - share * (9 * MM - rest)
    assert float(slump.dose_to(CHIP, 9 * MM, share)) == pytest.approx(float(slump.dose(CHIP, 9 * MM, after)), rel=1e-9)
    assert float(slump.fraction(CHIP, 9 * MM, after)) == pytest.approx(share, rel=1e-9)


def test_no_dose_below_rest_and_none_for_a_flake():
    assert np.isnan(slump.dose(CHIP, 9 * MM, 4.0 * MM)) and np.isnan(slump.dose(CHIP, 4.0 * MM, 3.9 * MM))
    assert np.isnan(slump.fraction(CHIP, 4.0 * MM, 4.2 * MM))


def test_dose_of_a_firing_by_solving_it_in_time():
    """200 K/h to 760 °C and 15 minutes there, fluidity added up second by second; the peak is found again from the dose."""
    def heat(t):
        return min(760.0, 510.0 + 200.0 / 3600.0 * t)

    end = 250.0 / (200.0 / 3600.0) + 900.0
    found, _ = quad(lambda t: 10 ** (1.0 - log_eta_vft(heat(t), FLOAT["a"], FLOAT["b"], FLOAT["t0_c"])), 0, end, points=[end - 900.0], limit=200)
    made = float(slump.program_dose(760.0, 900.0, 200.0 / 3600.0, FLOAT))
    assert made == pytest.approx(found, rel=1e-3)
    assert slump.peak_of_dose(np.log(found), 900.0, 200.0 / 3600.0, FLOAT) == pytest.approx(760.0, abs=0.1)


def test_share_after_a_dose_by_solving_the_fall_in_time():
    """The chip's motion solved in time at 1 Pa s up to each dose, against the share read off the summed doses."""
    s = slump.Shelf(1.2e-7)
    before, rest = 5.35 * MM, float(slump.rest_height(slump.Shelf(1.2e-7)))

    def rate(t, z):
        return -np.array([slope(z[0], 1.2e-7, 120.0) / stokes_dissipation(z[0], 1.2e-7, False)])

    given = np.array([2e-3, 6e-3])
    made = solve_ivp(rate, (0, given[-1]), [before], t_eval=given, rtol=1e-9, atol=1e-12).y[0]
    assert slump.share_after(s, before, given) == pytest.approx((before - made) / (before - rest), abs=2e-3)


def test_least_height_lies_below_every_shelf_of_the_range():
    """No chip drawn from the shelves that might be, read to 0.1 mm, lies lower; one that a clinging pool of 60° would need does."""
    rng = np.random.default_rng(6)
    least = float(slump.least_height(CHIP, (60.0, 0.02), 0.01, 0.1 * MM))
    drawn = [float(slump.rest_height(slump.Shelf(8e-7 * rng.normal(1, 0.01), rng.normal(2500, 60), rng.normal(0.30, 0.02), rng.uniform(90, 135)))) + rng.normal(0, 0.1 * MM) for _ in range(300)]
    assert least < min(drawn) < least + 0.8 * MM
    assert float(slump.rest_height(slump.Shelf(8e-7, angle_deg=60.0))) < least


def test_a_glass_denser_than_usual_is_summed_with_its_density():
    """One chip alone with its own density and tension gives the dose of that shelf."""
    whole = chips("A", 9.0, [7.0])
    own = slump.Chips(**{**whole.__dict__, "density": np.array([3200.0]), "density_u": np.array([50.0]), "tension": np.array([0.23]), "tension_u": np.array([0.02])})
    assert float(np.exp(slump.doses(own).ln[0])) == pytest.approx(float(slump.dose(slump.Shelf(8e-7, 3200.0, 0.23), 9 * MM, 7 * MM)), rel=1e-12)
