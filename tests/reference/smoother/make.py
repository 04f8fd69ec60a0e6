"""The posterior of a whole run at once, by dense linear algebra: what a smoother must agree with.

Writes cases.json beside it. Needs numpy alone: python3 make.py

Nothing is filtered here. All states of a run are one long vector, linear in the start and in every
step's noise; its covariance is written down whole, and conditioned on all measurements together. The
noise of a step is integrated by C. F. Van Loan's matrix exponential ("Computing integrals involving the
matrix exponential", IEEE Transactions on Automatic Control 23, 1978, from memory), not by the closed
form that the program uses. Values: computed.
"""

import json
from pathlib import Path

import numpy as np

SEED = 20310309


def exponential(a):
    """e^a by scaling, a Taylor series and squaring."""
    squarings = max(0, int(np.ceil(np.log2(max(np.abs(a).sum(axis=1).max(), 1e-12)))) + 4)
    a = a / 2.0**squarings
    total, term = np.eye(len(a)), np.eye(len(a))
    for n in range(1, 30):
        term = term @ a / n
        total = total + term
    for _ in range(squarings):
        total = total @ total
    return total


def step_of(seconds, spread, tau, wander):
    """Transition and noise of dx = v dt + dW, dv = -v/tau dt + dB."""
    f = np.zeros((4, 4))
    f[:2, 2:] = np.eye(2)
    f[2:, 2:] = -np.eye(2) / tau
    g = np.zeros((4, 4))
    g[:2, :2] = wander * np.eye(2)
    g[2:, 2:] = 2.0 * spread / tau
    big = np.zeros((8, 8))
    big[:4, :4], big[:4, 4:], big[4:, 4:] = -f, g, f.T
    e = exponential(big * seconds)
    carry = e[4:, 4:].T
    return carry, carry @ e[:4, 4:]


def covariance(random, small, large):
    a, b = np.exp(random.uniform(np.log(small), np.log(large), 2))
    turn = random.uniform(0, np.pi)
    r = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return r @ np.diag([a * a, b * b]) @ r.T


def case(random):
    tau = float(random.choice([5400.0, 10800.0]))
    wander = float(random.choice([9.5e1, 1.0e1]))
    spread = covariance(random, 0.5, 8.0)
    mean = np.concatenate([random.normal(0, 500, 2), [0.0, 0.0]])
    start = np.zeros((4, 4))
    start[:2, :2], start[2:, 2:] = covariance(random, 1000.0, 8000.0), spread
    steps, rows, values, noises = [], [], [], []
    count = int(random.integers(4, 14))
    for at in range(count):
        seconds = float(random.choice([0.0, 60.0, 300.0, 900.0, 3600.0])) if at else 600.0
        shift = np.zeros(4)
        if random.uniform() < 0.4:
            shift[:2] = random.normal(0, 2000, 2)
        if random.uniform() < 0.3:
            shift[2:] = random.normal(0, 5, 2)
        anew = bool(random.uniform() < 0.2)
        step = {"seconds": seconds, "shift": shift.tolist(), "anew": anew, "weight": None}
        kind = random.uniform()
        if kind < 0.6 or at == count - 1:
            if kind < 0.15:
                direction = random.normal(size=2)
                direction /= np.linalg.norm(direction)
                h, r = direction[None, :], np.array([[300.0**2]])
            else:
                h, r = np.eye(2), covariance(random, 100.0, 900.0)
            z = random.normal(0, 1500, len(h))
            weight = h.T @ np.linalg.inv(r) @ h
            step["weight"] = weight.tolist()
            step["weighted"] = (h.T @ np.linalg.inv(r) @ z).tolist()
            rows.append((at, h))
            values.append(z)
            noises.append(r)
        steps.append(step)

    # Every state as a matrix times (start, noise 1, noise 2, ...), and a mean.
    parts = [start]
    maps, means = [], []
    now, centre = np.eye(4), mean
    for step in steps:
        carry, noise = step_of(step["seconds"], spread, tau, wander)
        shift = np.array(step["shift"])
        if step["anew"]:
            forget = np.diag([1.0, 1.0, 0.0, 0.0])
            carry, noise, shift = forget @ carry, forget @ noise @ forget, forget @ shift
            noise[2:, 2:] += spread
        now = np.hstack([carry @ now, np.eye(4)])
        centre = carry @ centre + shift
        parts.append(noise)
        maps.append(now)
        means.append(centre)
    width = 4 * len(parts)
    whole = np.zeros((width, width))
    for n, part in enumerate(parts):
        whole[4 * n : 4 * n + 4, 4 * n : 4 * n + 4] = part
    a = np.vstack([np.hstack([m, np.zeros((4, width - m.shape[1]))]) for m in maps])
    prior, mu = a @ whole @ a.T, np.concatenate(means)

    h = np.zeros((sum(len(r[1]) for r in rows), 4 * count))
    r = np.zeros((len(h), len(h)))
    at = 0
    for (state, part), noise in zip(rows, noises):
        h[at : at + len(part), 4 * state : 4 * state + 2] = part
        r[at : at + len(part), at : at + len(part)] = noise
        at += len(part)
    gain = np.linalg.solve(h @ prior @ h.T + r, h @ prior).T
    posterior = mu + gain @ (np.concatenate(values) - h @ mu)
    left = prior - gain @ h @ prior
    answers = [
        {
            "mean": posterior[4 * n : 4 * n + 4].tolist(),
            "covariance": left[4 * n : 4 * n + 4, 4 * n : 4 * n + 4].tolist(),
        }
        for n in range(count)
    ]
    return {
        "tau": tau,
        "wander": wander,
        "spread": spread.tolist(),
        "start": {"mean": mean.tolist(), "covariance": start.tolist()},
        "steps": steps,
        "answers": answers,
    }


random = np.random.default_rng(SEED)
told = {
    "source": "make.py beside this file: dense posterior of whole runs, numpy; computed",
    "seed": SEED,
    "cases": [case(random) for _ in range(8)],
}
Path(__file__).with_name("cases.json").write_text(json.dumps(told) + "\n")
