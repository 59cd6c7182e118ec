"""Two glasses joined: misfit strain, the stress that it leaves, and the class of risk.

Elastic below the set point, equal stiffness unless stated. Misfit is positive where glass a contracts more than b, so that
a is then in tension. Stress is positive in tension. Constants and their sources: data/seal.json. Everything takes arrays.
"""

import numpy as np

from server.physics.chance import within
from server.physics.curve import isokom_vft
from server.physics.table import table

PPM = 1e-6
PER_1E7 = 1e-7
CLASSES = ("low", "watch", "high")
THREAD = 16.0 / (3.0 * np.pi)  # round thread of two equal half-moons


def set_point_c(vft: dict) -> float:
    """°C at which a glass sets, from its curve {a, b, t0_c}."""
    return isokom_vft(table("seal")["set_point"]["log_eta_dpas"], vft["a"], vft["b"], vft["t0_c"])


def misfit(alpha_a_1e7, alpha_b_1e7, set_c):
    """Strain (a contracts more: positive) from mean expansions in 1e-7/K down from set_c in °C. A plain difference: no error of its own."""
    return (np.asarray(alpha_a_1e7) - alpha_b_1e7) * PER_1E7 * (set_c - table("seal")["room_c"])


def misfit_u(alpha_a_1e7, alpha_b_1e7, u_a_1e7, u_b_1e7, set_c, set_u_k):
    """One half-width of the misfit: the two expansions' errors taken as independent, and the set point's. 68 or 95 % as the inputs."""
    from_alpha = np.hypot(u_a_1e7, u_b_1e7) * PER_1E7 * (set_c - table("seal")["room_c"])
    return np.hypot(from_alpha, np.abs(np.asarray(alpha_a_1e7) - alpha_b_1e7) * PER_1E7 * set_u_k)


def class_chances(strain, u68, u95):
    """Probabilities of low, watch and high, shape (3, ...), of the true size of the misfit."""
    rule = table("seal")["classes"]
    low, high = rule["low_below_ppm"] * PPM, rule["high_above_ppm"] * PPM
    inside = [within(x, strain, u68, u95) for x in (low, high)]
    return np.array([inside[0], inside[1] - inside[0], 1.0 - inside[1]])


def class_of(strain):
    """Index into CLASSES of a misfit taken at its word."""
    rule = table("seal")["classes"]
    size = np.abs(strain) / PPM
    return np.where(size < rule["low_below_ppm"], 0, np.where(size <= rule["high_above_ppm"], 1, 2))


def class_span(strain, u68):
    """(lowest, highest) index into CLASSES that strain ± u68 touches; the two differ where nobody can say."""
    size = np.abs(strain)
    return class_of(np.maximum(size - u68, 0.0)), class_of(size + u68)


def strip(strain, h_a, h_b, e_a, e_b) -> dict:
    """Strip of two layers, free to bend (Timoshenko 1925). Thickness in m, E in Pa, narrow strip.

    Returns curvature (1/m; positive: a on the inside) and the stresses in Pa in a and b at the joint and at the outer face.
    For a wide plate divide E by 1 − ν.
    """
    m, n, h = h_a / h_b, e_a / e_b, h_a + h_b
    curvature = 6.0 * strain * (1 + m) ** 2 / (h * (3 * (1 + m) ** 2 + (1 + m * n) * (m**2 + 1 / (m * n))))
    force = curvature * (e_a * h_a**3 + e_b * h_b**3) / (6.0 * h)
    bend_a, bend_b = e_a * curvature * h_a / 2, e_b * curvature * h_b / 2
    return {
        "curvature": curvature,
        "a_joint": force / h_a + bend_a,
        "a_face": force / h_a - bend_a,
        "b_joint": -force / h_b - bend_b,
        "b_face": -force / h_b + bend_b,
    }


def sphere(strain, share, e_pa, poisson) -> dict:
    """Round core a in a shell b; share = core diameter ÷ outer diameter. Pa: core (all round), shell hoop at the joint."""
    unit, phi = e_pa * strain / (3.0 * (1.0 - poisson)), share**3
    return {"core": 2.0 * unit * (1.0 - phi), "shell_hoop": -unit * (1.0 + 2.0 * phi)}


def cylinder(strain, share, e_pa, poisson) -> dict:
    """Long core a in a sheath b; share = core diameter ÷ outer diameter. Pa: core across and along, sheath round at the joint and along."""
    unit, phi = e_pa * strain / (1.0 - poisson), share**2
    return {
        "core_across": unit * (1.0 - phi) / 2.0,
        "core_along": unit * (1.0 - phi),
        "sheath_hoop": -unit * (1.0 + phi) / 2.0,
        "sheath_along": -unit * phi,
    }


def trail(strain, e_pa, poisson) -> tuple:
    """Bound of the stress in a thin trail b on a bead a, Pa: (narrow, broad)."""
    return -e_pa * strain, -e_pa * strain / (1.0 - poisson)


def thread_bow_m(strain, diameter_m, length_m):
    """Rise of the arc of a pulled thread of two half-moons, m; the sign is the misfit's: positive has a on the inside."""
    return THREAD * strain * length_m**2 / (8.0 * diameter_m)


def misfit_of_bow(bow_m, diameter_m, length_m):
    """The misfit strain that a measured bow tells."""
    return 8.0 * bow_m * diameter_m / (THREAD * length_m**2)
