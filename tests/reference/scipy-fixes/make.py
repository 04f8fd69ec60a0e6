"""Fifty fixes of named marks by SciPy's least squares: python3 make.py > cases.json

`python3 make.py --time cases.json` prints as JSON how long a case and one call of it take on the mean,
in seconds, the fastest of three runs over all of them.

Needs numpy and scipy. Nothing here is the program's own: points of the Earth are vectors from its
centre (WGS84), so there is no plane. From own place the azimuth of a mark is that of the normal
section, within 0.01" of the geodesic's at 40 NM; the distance along the ground is the arc over the
straight line between the two feet, on the radius of curvature in that azimuth (Euler), to a
centimetre. A range is the chord between the two heights over a sphere of 6371 km.

Unknowns: east and north of the reckoning (metres, by the radii of curvature there), an error of all
bearings, one of all ranges, and the shift of the chart east and north. Each has its prior; a mark's
own error on each axis is in the variance of what is measured on it, taken at the last solution and
solved again until it stands. The covariance is the inverse of the product of the Jacobian (three-point
differences) with itself.
"""

import json
import sys
import time

import numpy as np
import scipy
from scipy.optimize import least_squares

SEED = 20310403
NM = 1852.0
A, F = 6378137.0, 1 / 298.257223563
E2 = F * (2 - F)
SPHERE = 6371000.0
ROUNDS = 6
RANGE_BIAS_NM = 0.05  # the program's own prior: it is not asked for


def radii(lat):
    w = 1 - E2 * np.sin(lat) ** 2
    return A * (1 - E2) / w**1.5, A / np.sqrt(w)


def vector(lat, lon):
    _, n = radii(lat)
    return np.array(
        [
            n * np.cos(lat) * np.cos(lon),
            n * np.cos(lat) * np.sin(lon),
            n * (1 - E2) * np.sin(lat),
        ]
    )


def line(lat, lon, to_lat, to_lon):
    """Ground distance in metres and azimuth in radians."""
    d = vector(to_lat, to_lon) - vector(lat, lon)
    east = np.array([-np.sin(lon), np.cos(lon), 0.0])
    north = np.array([-np.sin(lat) * np.cos(lon), -np.sin(lat) * np.sin(lon), np.cos(lat)])
    azimuth = np.arctan2(d @ east, d @ north)
    m, n = radii(0.5 * (lat + to_lat))
    radius = 1 / (np.cos(azimuth) ** 2 / m + np.sin(azimuth) ** 2 / n)
    chord = np.linalg.norm(d)
    return 2 * radius * np.arcsin(chord / (2 * radius)), azimuth


def beside(lat, lon, east, north):
    """A point some metres east and north, by the radii of curvature."""
    m, _ = radii(lat)
    to_lat = lat + north / m
    _, n = radii(to_lat)
    return to_lat, lon + east / (n * np.cos(to_lat))


def slant(ground, own, target):
    a, b = SPHERE + own, SPHERE + target
    return np.sqrt((own - target) ** 2 + 4 * a * b * np.sin(ground / (2 * SPHERE)) ** 2)


def solve(case):
    lat0, lon0 = np.radians(case["reckoning"])
    height = case["height_ft"] * 0.3048
    point = case["point_sigma_nm"] * NM

    def place(x):
        return beside(lat0, lon0, x[0], x[1])

    def parts(x, at):
        lat, lon = place(x)
        ground, azimuth = line(lat0, lon0, lat, lon)
        out = [
            ground * np.sin(azimuth) / (case["reckoning_sigma_nm"] * NM),
            ground * np.cos(azimuth) / (case["reckoning_sigma_nm"] * NM),
            x[2] / np.radians(case["bias_sigma_deg"]),
            x[3] / (RANGE_BIAS_NM * NM),
            x[4] / (case["shift_sigma_nm"] * NM),
            x[5] / (case["shift_sigma_nm"] * NM),
        ]
        for contact in case["contacts"]:
            mark = np.radians(contact["mark"])
            ground, azimuth = line(lat, lon, *beside(*mark, x[4], x[5]))
            there, _ = line(*place(at), *mark)
            if contact["range_nm"] is not None:
                step = (slant(there + 1, height, 0) - slant(there - 1, height, 0)) / 2
                sigma = np.hypot(contact["range_sigma_nm"] * NM, point * step)
                out.append((contact["range_nm"] * NM - slant(ground, height, 0) - x[3]) / sigma)
            if contact["bearing_deg"] is not None:
                sigma = np.hypot(np.radians(contact["bearing_sigma_deg"]), point / there)
                off = np.radians(contact["bearing_deg"]) - azimuth - x[2]
                out.append(((off + np.pi) % (2 * np.pi) - np.pi) / sigma)
        return np.array(out)

    lat, lon = np.radians(case["truth"])
    ground, azimuth = line(lat0, lon0, lat, lon)
    x = np.array([ground * np.sin(azimuth), ground * np.cos(azimuth), 0, 0, 0, 0])
    for _ in range(ROUNDS):
        at = x.copy()
        found = least_squares(
            parts,
            x,
            args=(at,),
            jac="3-point",
            x_scale=[1e3, 1e3, 1e-2, 1e2, 1e2, 1e2],
            xtol=1e-14,
            ftol=1e-14,
            gtol=1e-14,
        )
        x = found.x
    covariance = np.linalg.inv(found.jac.T @ found.jac)
    lat, lon = np.degrees(place(x))
    # A step north by the radii of curvature keeps the longitude's metres, not its degrees.
    m, n = radii(np.radians(lat))
    turn = np.array([[1, x[0] * np.tan(np.radians(lat)) / n], [0, m / radii(lat0)[0]]])
    nm2 = turn @ covariance[:2, :2] @ turn.T / NM**2
    return {
        "position": [round(lat, 9), round(lon, 9)],
        "covariance_nm2": [round(nm2[0, 0], 9), round(nm2[0, 1], 9), round(nm2[1, 1], 9)],
        "bias_deg": round(float(np.degrees(x[2])), 6),
        "bias_sigma_deg": round(float(np.degrees(np.sqrt(covariance[2, 2]))), 6),
        "chi2": round(float(2 * found.cost), 6),
    }


def draw(rng, index):
    truth = (rng.uniform(-62, 62), rng.uniform(-170, 170))
    lat, lon = np.radians(truth)
    case = {
        "truth": [round(v, 6) for v in truth],
        "height_ft": float(rng.choice([0, 100, 2000, 9000])),
        "reckoning_sigma_nm": float(rng.choice([1.0, 3.0, 6.0])),
        "bias_sigma_deg": float(rng.choice([0.5, 1.5])),
        "shift_sigma_nm": 0.05,
        "point_sigma_nm": 0.1,
    }
    reckoned = case["reckoning_sigma_nm"] * NM * np.clip(rng.normal(size=2), -2, 2)
    case["reckoning"] = [round(v, 6) for v in np.degrees(beside(lat, lon, *reckoned))]
    bias = np.radians(case["bias_sigma_deg"]) * rng.normal()
    range_bias = RANGE_BIAS_NM * NM * rng.normal()
    shift = case["shift_sigma_nm"] * NM * rng.normal(size=2)
    count = 2 + index % 4
    first = rng.uniform(0, 2 * np.pi)
    contacts = []
    for number in range(count):
        far, towards = rng.uniform(5, 40) * NM, first + number * rng.uniform(0.9, 1.7)
        mark = beside(lat, lon, far * np.sin(towards), far * np.cos(towards))
        mark = np.radians([round(v, 6) for v in np.degrees(mark)])
        own = case["point_sigma_nm"] * NM * rng.normal(size=2)
        ground, azimuth = line(lat, lon, *beside(*mark, *(own + shift)))
        range_sigma, bearing_sigma = rng.choice([0.1, 0.2]), rng.choice([0.5, 1.0])
        both = number < 2
        ranged, borne = both or number % 2 == 0, both or number % 2 == 1
        read = slant(ground, case["height_ft"] * 0.3048, 0) / NM + range_bias / NM
        read += range_sigma * rng.normal()
        bearing = np.degrees(azimuth + bias) + bearing_sigma * rng.normal()
        contacts.append(
            {
                "mark": [round(v, 6) for v in np.degrees(mark)],
                "range_nm": round(float(read), 4) if ranged else None,
                "range_sigma_nm": float(range_sigma),
                "bearing_deg": round(float(bearing % 360), 4) if borne else None,
                "bearing_sigma_deg": float(bearing_sigma),
            }
        )
    case["contacts"] = contacts
    case["solved"] = solve(case)
    return case


def timed(cases):
    best = float("inf")
    for _ in range(3):
        start = time.perf_counter()
        for case in cases:
            solve(case)
        best = min(best, time.perf_counter() - start)
    return {"case": best / len(cases), "call": best / len(cases) / ROUNDS}


if sys.argv[1:2] == ["--time"]:
    with open(sys.argv[2]) as told:
        print(json.dumps(timed(json.load(told)["cases"])))
elif __name__ == "__main__":
    rng = np.random.default_rng(SEED)
    cases = [draw(rng, index) for index in range(50)]
    told = {
        "source": f"make.py beside this file, seed {SEED}; SciPy {scipy.__version__} least_squares, "
        f"NumPy {np.__version__}",
        "status": "reproduced with an independent library",
        "cases": cases,
    }
    print(json.dumps(told, indent=1))
