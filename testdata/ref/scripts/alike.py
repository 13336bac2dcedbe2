"""Totals of a stop whose units are alike: writes ../alike.json.

A stop has its own mean L, gamma distributed with the given mean and shape g; given L the total of m units is negative
binomial with mean m L and parameter m w. 1/g = rho (1/mean + 1/k), w = (1 + 1/g)/(1/k - 1/g). P(X = x) by mpmath's
Tricomi function at 30 digits, and for two points of each case by mpmath's quadrature over L; the latter alone where the
function's arguments are huge.
"""
import json
from mpmath import mp, mpf, quad, exp, log, log1p, sqrt, loggamma, hyperu

mp.dps = 30

CASES = [  # mean, k, rho, units, points
    (2, .8, .2, 5, [0, 1, 6, 30, 100, 400, 1000]),
    (10, .8, .1, 8, [0, 3, 6, 60, 200, 1000]),
    (.5, .6, .1, 15, [0, 3, 7, 40, 150]),
    (.01, .6, .016, 20, [0, 1, 5, 20]),
    (50, 1.1, .15, 40, [0, 10, 500, 2000, 5000, 10000]),
    (50, .3, .9, 40, [0, 10, 500, 2000, 5000, 10000]),
    (50, .3, .99, 40, [0, 10, 500, 2000, 10000]),
    (50, 1.1, 1e-4, 40, [100, 1000, 2000, 3000, 5000]),
    (1, .6, 1e-2, 10, [0, 5, 20, 80]),
    (3, .6, 1e-9, 10, [0, 5, 30, 100, 200]),
    (3, .6, 1e-13, 10, [0, 5, 30, 100, 200]),
    (200, 2.5, .05, 30, [1000, 4000, 6000, 10000]),
    (4, 12, .2, 6, [0, 10, 24, 60, 120]),
    (1, 1, .5 - 1e-10, 10, [0, 5, 20, 80]),
]


def shapes(mean, k, rho):
    inverse = rho * (1 / mean + 1 / k)
    return 1 / inverse, (1 + inverse) / (1 / k - inverse)


def pmf(mean, k, rho, m, x):
    g, w = shapes(mean, k, rho)
    size, c = m * w, g * w / mean
    return exp(loggamma(size + x) - loggamma(size) - loggamma(x + 1) + g * log(c) - loggamma(g) + loggamma(x + g)) * hyperu(x + g, g + 1 - size, c)


def pmf_by_quadrature(mean, k, rho, m, x):
    g, w = shapes(mean, k, rho)
    size, c = m * w, g * w / mean
    head = loggamma(size + x) - loggamma(size) - loggamma(x + 1) + g * log(c) - loggamma(g)
    # In s = ln(L/w) the logarithm of what is integrated is concave; its mode solves a quadratic equation.
    b = c + size - g
    mode = log((-b + sqrt(b * b + 4 * c * (x + g))) / (2 * c))
    t = exp(mode)
    sd = 1 / sqrt((x + size) * t / (1 + t) ** 2 + c * t)

    def density(s):
        return exp(head + (x + g) * s - (x + size) * log1p(exp(s)) - c * exp(s))

    cuts = [-160, -80, -40, -20, -10, -6, -4, -2, -1, 0, 1, 2, 4, 6, 10, 20]
    return quad(density, [mode + z * sd for z in cuts])


cases = []
for mean, k, rho, m, points in CASES:
    args = [mpf(v) for v in (mean, k, rho)] + [m]
    # Tricomi's function does not come out where its arguments are huge (rho near 0 or its limit).
    ordinary = shapes(*args[:3])[0] < 1e5 and shapes(*args[:3])[1] < 20
    by = pmf if ordinary else pmf_by_quadrature
    rows = []
    for x in points:
        row = {"x": x, "pmf": float(by(*args, x))}
        if x <= 7:
            row["upper"] = float(1 - sum((by(*args, y) for y in range(x)), mpf(0)))
        rows.append(row)
    if ordinary:
        for x in points[1:3]:
            a, b = pmf(*args, x), pmf_by_quadrature(*args, x)
            if abs(a / b - 1) > mpf(10) ** -17:
                print("DISAGREE", mean, k, rho, m, x, float(a), float(b))
    cases.append({"mean": mean, "k": k, "rho": rho, "units": m, "points": rows})

with open("../alike.json", "w") as f:
    json.dump({"source": "mpmath at 30 digits (Tricomi's function), cross-checked by its quadrature over the mean of a stop; see scripts/alike.py",
               "tolerance": "1e-12 relative", "cases": cases}, f, indent=1)
    f.write("\n")
