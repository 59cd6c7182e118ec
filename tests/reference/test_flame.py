"""Flame model against sums made another way: differential equations and integrals by scipy, closed forms, Stokes flow solved mode by mode.

Printed values are rows A, B06 to B08 and V of the physics groundwork (physics-checks.csv) and its tables A.1, A.4; each is derived
again here beside our own. No bench measurement is known that could be set against the model.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq
from scipy.special import exp1

from server.physics import flame, slump
from server.physics.curve import isokom_vft, log_eta_vft
from server.physics.forecast import h_at_mass
from server.physics.shift import slope_per_k
from server.physics.table import table

SIGMA = 5.670374419e-8
CURVES = {
    "soft": (-1.513549, 4119.721177, 219.704790), "natron": (-1.340982, 3952.346952, 256.843300),
    "float": (-1.601, 4330.9, 246.1), "boro": (-2.154839, 7254.76795, 81.290323),
}
VFT = {name: dict(zip(("a", "b", "t0_c"), curve, strict=True)) for name, curve in CURVES.items()}
PATIENT = replace(flame.usual(), stall_s=1e9)


@pytest.mark.parametrize(("glass", "level", "printed", "tolerance"), [("float", 7.6, 716.799, 0.05), ("float", 13, 542.717, 0.05), ("boro", 7.6, 825, 0.01), ("natron", 7.6, 698.892, 0.05)], ids=["V01", "V02", "V03", "V05"])
def test_isokoms(glass, level, printed, tolerance):
    found = brentq(lambda t: CURVES[glass][0] + CURVES[glass][1] / (t - CURVES[glass][2]) - level, 400, 1500)
    assert isokom_vft(level, *CURVES[glass]) == pytest.approx(found, abs=1e-6)
    assert found == pytest.approx(printed, abs=tolerance)


def test_v04_v06_viscosity_and_slope():
    assert log_eta_vft(800, *CURVES["float"]) - 1 == pytest.approx(5.21792, abs=1e-4)
    differences = (log_eta_vft(749.99, *CURVES["float"]) - log_eta_vft(750.01, *CURVES["float"])) * np.log(10) / 0.02
    assert float(slope_per_k(750, VFT["float"])) == pytest.approx(differences, rel=1e-6)
    assert differences == pytest.approx(0.039274, abs=1e-5)


def heating(curve, mass_g=2.0, preheat_c=500.0, h=120.0, flame_k=2000.0, emissivity=0.70, end_s=20_000.0):
    """(s and °C of sag at 1e-5 /Pa, s of rounding at Λ 3) by following the piece in time."""
    radius = (3 * mass_g * 1e-3 / (4 * np.pi * 2500)) ** (1 / 3)
    store = 2500 * 1200 * radius / 3

    def rate(_t, y):
        warming = (h * (flame_k - y[0]) - emissivity * SIGMA * (y[0] ** 4 - 295.0**4)) / store
        return [warming, 10 ** (1 - (curve[0] + curve[1] / max(y[0] - 273.15 - curve[2], 20.0)))]

    def sags(_t, y):
        return y[1] - 1e-5

    def evens(_t, y):
        return y[1] * 0.30 / radius - 3.0

    evens.terminal = True
    made = solve_ivp(rate, (0, end_s), [preheat_c + 273.15, 0.0], method="LSODA", events=(sags, evens), rtol=1e-9, atol=1e-12)
    return made.t_events[0][0], made.y_events[0][0][0] - 273.15, made.t_events[1][0]


@pytest.mark.parametrize(
    ("glass", "sag_s", "sag_c", "round_s"),
    [("soft", 13.8837, 748.439, 106.055), ("natron", 15.89, 773.104, 150.736), ("float", 17.4478, 790.549, 208.448), ("boro", 31.7, 894.7, 7100)],
    ids=["A10 A10b A11", "A12 A12b A13", "A14 A14b A15", "table A.4"],
)
def test_times_of_the_default_flame(glass, sag_s, sag_c, round_s):
    followed = heating(CURVES[glass])
    assert followed == pytest.approx((sag_s, sag_c, round_s), rel=5e-3)
    made_s, made_c = flame.until(flame.history(VFT[glass], 2.0, 500.0, 120.0), 1e-5)
    assert (float(made_s), float(flame.round_time_s(VFT[glass], 2.0, 500.0, 120.0, PATIENT))) == pytest.approx((followed[0], followed[2]), rel=2e-3)
    assert float(made_c) == pytest.approx(followed[1], abs=0.3)
    assert followed[1] == pytest.approx(sag_c, abs=0.3)


@pytest.mark.parametrize("glass", ["soft", "natron", "float"])
@pytest.mark.parametrize(("mass_g", "preheat_c", "h", "flame_k", "emissivity"), [(2, 500, 90, 1800, 0.7), (2, 500, 150, 2100, 0.7), (0.5, 20, 60, 2000, 0.5), (5, 620, 200, 2200, 0.9), (3, 480, 400, 2000, 0.7)])
def test_times_of_other_flames_and_pieces(glass, mass_g, preheat_c, h, flame_k, emissivity):
    s = replace(PATIENT, flame_k=flame_k, emissivity=emissivity)
    made = float(flame.sag_time_s(VFT[glass], mass_g, preheat_c, h, s)), float(flame.round_time_s(VFT[glass], mass_g, preheat_c, h, s))
    followed = heating(CURVES[glass], mass_g, preheat_c, h, flame_k, emissivity)
    assert made == pytest.approx((followed[0], followed[2]), rel=2e-3)


def test_printed_weak_and_strong_torches():
    """Table A.4: 90 W/(m²K) and 1800 K, 150 and 2100 K; the last digit printed."""
    weak, strong = replace(PATIENT, flame_k=1800.0), replace(PATIENT, flame_k=2100.0)
    assert [float(flame.sag_time_s(VFT[g], 2.0, 500.0, 90.0, weak)) for g in CURVES] == pytest.approx([24.5, 29.1, 32.7, 79], abs=0.5)
    assert [float(flame.sag_time_s(VFT[g], 2.0, 500.0, 150.0, strong)) for g in CURVES] == pytest.approx([10.0, 11.3, 12.3, 21], abs=0.1)
    assert [float(flame.round_time_s(VFT[g], 2.0, 500.0, 150.0, strong)) for g in ("soft", "natron", "float")] == pytest.approx([52, 64, 77], abs=0.5)
    assert float(flame.plateau_k(90.0, weak)) - 273.15 == pytest.approx(844, abs=0.5)


def test_a01_a16_radius_and_plateau():
    assert float(flame.radius_m(2.0, 2500)) == pytest.approx(5.75882e-3, abs=1e-6)
    found = brentq(lambda t: 120 * (2000 - t) - 0.7 * SIGMA * (t**4 - 295.0**4), 500, 2000)
    assert float(flame.plateau_k(120.0)) == pytest.approx(found, abs=1e-6)
    assert found - 273.15 == pytest.approx(961.285, abs=0.1)


def test_a20_rod_by_bending_it():
    """A rod 20 mm out, 6 mm thick, its end 5 mm down: curvature M / (3 η I) summed twice along the rod."""
    second = np.pi * 0.006**4 / 64
    weight = 2500 * 9.80665 * np.pi * 0.006**2 / 4
    speed = quad(lambda x: (0.02 - x) * weight * (0.02 - x) ** 2 / 2 / (3 * second), 0, 0.02)[0]  # times η
    assert flame.rod_dose_per_pa(0.02, 0.006, 0.005, 2500) == pytest.approx(0.005 / speed, rel=1e-6)
    assert 0.005 / speed == pytest.approx(6.88308e-5, rel=1e-3)


def straight_vft(slope, eta0_pas, at_c):
    """A curve so far from its T0 that ln η falls straight with temperature."""
    t0 = at_c - 1e8
    b = slope / np.log(10) * 1e16
    return {"a": np.log10(eta0_pas) + 1 - b / 1e8, "b": b, "t0_c": t0}


def test_a21_dose_in_closed_form():
    """Without radiation T = P − D e^(−u), and with ln η straight in T the dose is τ e^(bD) [E1(bD e^(−u)) − E1(bD)] / η0; at a steady rate (A21) (e^(brt) − 1) / (η0 b r)."""
    printed = (np.exp(0.04 * 10 * 15) - 1) / (1e8 * 0.04 * 10)
    assert printed == pytest.approx(1.00607e-5, rel=1e-4)
    by_sum = quad(lambda t: np.exp(0.04 * 10 * t) / 1e8, 0, 15)[0]
    assert by_sum == pytest.approx(printed, rel=1e-8)
    dark = replace(flame.usual(), emissivity=0.0, flame_k=1173.15)
    curve, b, rise = straight_vft(0.04, 1e8, 500.0), 0.04, 400.0
    tau = 2500 * 1200 * float(flame.radius_m(2.0, 2500)) / 3 / 100.0
    for u in (0.2, 0.7, 2.0):
        dose = tau * np.exp(b * rise) * (exp1(b * rise * np.exp(-u)) - exp1(b * rise)) / 1e8
        made_s, made_c = flame.until(flame.history(curve, 2.0, 500.0, 100.0, dark), dose)
        assert float(made_s) == pytest.approx(tau * u, rel=1e-3)
        assert float(made_c) == pytest.approx(900 - 400 * np.exp(-u), abs=0.3)


def test_a22_dose_of_a_steady_rise():
    found = quad(lambda t: 10 ** (1 - log_eta_vft(500 + 10 * t, *CURVES["float"])), 0, 27.685, limit=200)[0]
    assert found == pytest.approx(7.07866e-6, rel=5e-3)
    assert float(slump.program_dose(776.85, 0.0, 10.0, VFT["float"])) == pytest.approx(found, rel=1e-3)


def ball_rate(mode):
    """Decay rate · ηR/γ of a shape of a free viscous ball: radial speed A r^(l+1) + B r^(l−1), no shear and the pressure of the curvature at the surface."""
    n = mode
    tangential = {}  # for U = r^m: V = (r²U)' / (n(n+1) r), shear = r (V/r)' + U/r at r = 1
    for m in (n + 1, n - 1):
        v = (m + 2) / (n * (n + 1))
        tangential[m] = v * (m - 1) + 1
    pressure = (4 * n + 6) / n  # of the part A, from the Laplacian of r·u
    matrix = [[tangential[n + 1], tangential[n - 1]], [-pressure + 2 * (n + 1), 2 * (n - 1)]]
    a, b = np.linalg.solve(matrix, [0.0, -(n - 1) * (n + 2)])
    return -(a + b)


@pytest.mark.parametrize(("mode", "printed"), [(2, 1.05263), (3, 1.59091), (4, 2.11765)], ids=["A30", "A31", "A32"])
def test_shapes_of_a_free_ball(mode, printed):
    closed = mode * (mode + 2) * (2 * mode + 1) / (2 * (2 * mode**2 + 4 * mode + 3))
    assert ball_rate(mode) == pytest.approx(closed, abs=1e-9)
    assert closed == pytest.approx(printed, abs=1e-5)
    if mode == 2:
        assert flame.round_dose_of(np.e, 1.0) == pytest.approx(1 / ball_rate(2), rel=1e-9)
        assert flame.round_dose_of(0.30, 0.03) == pytest.approx(2.19, abs=0.005)


def layer_rate(share, mode=2):
    """Decay rate · ηR/γ of a plane ring of glass on a core that it clings to: stream function of r^(±m), r^(2±m), nothing moves at r = share."""
    powers = [mode, -mode, mode + 2, 2 - mode]
    rows = [[], [], [], []]
    for p in powers:
        radial, along = mode * share ** (p - 1), -p * share ** (p - 1)  # u_r = mψ/r, u_θ = −ψ'
        rows[0].append(radial)
        rows[1].append(along)
        rows[2].append(-(p * (p - 2)) - mode**2)  # shear at r = 1: r (u_θ/r)' + (1/r) ∂u_r/∂θ
        # the pressure from the momentum along θ, ∂p/∂θ = r ∂ω/∂r with ω = −∇²ψ; at r = 1
        rows[3].append(-(p - 2) * (p**2 - mode**2) / mode + 2 * mode * (p - 1))
    amounts = np.linalg.solve(np.array(rows), [0.0, 0.0, 0.0, -(mode**2 - 1.0)])
    return -mode * amounts.sum()


@pytest.mark.parametrize(("share", "printed"), [(0.1, 0.94285), (0.2, 0.799651), (0.3, 0.624927), (0.4, 0.457), (0.5, 0.312)], ids=["A33", "A34", "A35", "table 0.4", "table 0.5"])
def test_slowing_by_a_mandrel(share, printed):
    assert layer_rate(1e-6) == pytest.approx(1.0, abs=1e-3)  # free: m / 2
    found = layer_rate(share)
    assert found == pytest.approx(printed, abs=1e-3)
    assert flame.round_dose_of(0.3, 0.03) / flame.round_dose_of(0.3, 0.03, share) == pytest.approx(found, abs=1e-3)
    assert np.isnan(flame.round_dose_of(0.3, 0.03, 0.6))


def test_a36_round_from_hot():
    """A piece as hot as its flame can make it: Λ η R / γ."""
    s = replace(PATIENT, emissivity=0.0, flame_k=1273.15, round_dose=2.19 / 0.8)
    closed = 2.19 / 0.8 * 10 ** (log_eta_vft(1000, *CURVES["float"]) - 1) * 5.75882e-3 / 0.30
    assert closed == pytest.approx(73.1523, rel=5e-3)
    assert float(flame.round_time_s(VFT["float"], 2.0, 1000.0, 120.0, s)) == pytest.approx(closed, rel=1e-4)


def radiated(t, t_a=295.0):
    return np.log((t - t_a) / (t + t_a)) / (4 * t_a**3) - np.arctan(t / t_a) / (2 * t_a**3)


def test_a40_to_a43_loss_of_glow():
    store, s = 2500 * 1200 * 5.75882e-3 / 3, flame.usual()
    still = replace(s, air_convection_w_m2k=0.0)
    closed = store / (0.7 * SIGMA) * (radiated(1250) - radiated(798.15))
    assert closed == pytest.approx(71.0907, rel=1e-3)  # A40
    assert float(flame.glow_time_s(976.85, 2.0, still)) == pytest.approx(closed, rel=1e-5)
    cold = store / (3 * 0.7 * SIGMA) * (798.15**-3 - 1250.0**-3)
    assert cold == pytest.approx(70.3538, rel=1e-3)  # A41
    assert float(flame.glow_time_s(976.85, 2.0, replace(still, room_k=0.0))) == pytest.approx(cold, rel=1e-5)
    for end_k, printed in ((798.15, 46.856), (900.0, 29.5807)):  # A42, A43
        found = quad(lambda t: store / (25 * (t - 295) + 0.7 * SIGMA * (t**4 - 295.0**4)), end_k, 1250)[0]
        assert found == pytest.approx(printed, rel=1e-3)
        assert float(flame.glow_time_s(976.85, 2.0, replace(s, glow_end_k=end_k))) == pytest.approx(found, rel=1e-6)


def luminance_cd_m2(temperature_k, emissivity=1.0):
    """683 lm/W ∫ V(λ) of Planck's radiance, CIE 1931 at every fifth nanometre."""
    colour = table("colour")
    metres = (colour["from_nm"] + colour["step_nm"] * np.arange(len(colour["y_bar"]))) * 1e-9
    radiance = 2 * 6.62607015e-34 * 299792458.0**2 / metres**5 / np.expm1(6.62607015e-34 * 299792458.0 / (metres * 1.380649e-23 * temperature_k))
    return 683 * emissivity * (radiance * np.array(colour["y_bar"])).sum() * colour["step_nm"] * 1e-9


def test_a44_a45_what_no_glow_means():
    """A black body is about as bright at the end of glow as the groundwork says, clear glass far hotter: so times compare for one colour only."""
    black = luminance_cd_m2(flame.usual().glow_end_k)
    assert black == pytest.approx(0.0075616, rel=0.03)
    assert brentq(lambda t: luminance_cd_m2(t, 0.01) - black, 800, 1100) == pytest.approx(948.7, abs=1.5)


def test_a46_cooling_on_the_way():
    found = 3 * (25 * 478.15 + 0.7 * SIGMA * (773.15**4 - 295.0**4)) / (2500 * 1200 * 5.75882e-3)
    assert float(flame.cooling_k_s(773.15, 2.0)) == pytest.approx(found, rel=1e-5)
    assert found == pytest.approx(4.48634, rel=5e-3)


@pytest.mark.parametrize(("plateau_c", "printed"), [(850, 0.00887621), (950, 0.00604279), (1050, 0.00520551)], ids=["B06", "B07", "B08"])
def test_slope_of_a_steady_approach(plateau_c, printed):
    """Sag at one temperature on a Newton approach to the plateau: 1 / [(P − T*) · −ln(1 − (T* − T0)/(P − T0))]. A curve as steep as a wall sags there."""
    closed = 1 / ((plateau_c - 780) * -np.log(1 - 280 / (plateau_c - 500)))
    assert closed == pytest.approx(printed, abs=1e-5)
    wall = straight_vft(2.0, 1e4, 780.0)
    s = replace(flame.usual(), emissivity=0.0, flame_k=plateau_c + 273.15, sag_dose_per_pa=1e-5)
    at_c = float(flame.until(flame.history(wall, 2.0, 500.0, 120.0, s), 1e-5)[1])
    expected = 1 / ((plateau_c - at_c) * -np.log(1 - (at_c - 500) / (plateau_c - 500)))
    assert at_c == pytest.approx(780, abs=1)
    assert float(flame.sag_slope_per_k(wall, 2.0, 500.0, 120.0, s)) == pytest.approx(expected, rel=0.02)


def test_sag_goes_with_mass_as_the_correction_says():
    """0.29 at one h (groundwork A.4, by following the piece), 0.40 with h falling with mass; then the forward sum and the correction are one."""
    same_h = np.log(heating(CURVES["float"], 2.2)[0] / heating(CURVES["float"], 1.8)[0]) / np.log(2.2 / 1.8)
    assert same_h == pytest.approx(0.29, abs=0.005)
    falling = [heating(CURVES["float"], m, h=float(h_at_mass(120.0, m)))[0] for m in (1.8, 2.2)]
    assert np.log(falling[1] / falling[0]) / np.log(2.2 / 1.8) == pytest.approx(table("flame")["mass_exponent"]["value"], abs=0.01)
