"""distributions.json: pmf and upper tail P(X>=x), mpmath, cross-checked with scipy and R."""
import math, sys
import mpmath as mp
import numpy as np
import scipy
from scipy import stats
import discrete, refjson

mp.mp.dps = 60
TINY = mp.mpf(10) ** -290


def pick(pmf, upper, xs0, targets_up, targets_lo):
    """x at the ends, the mode, the middle and given tail sizes."""
    n = len(pmf)
    want = {x for x in xs0 if 0 <= x < n}
    want.add(max(range(n), key=lambda x: pmf[x]))
    total = upper[0]
    up = [float(mp.log10(u)) if u > 0 else -1e9 for u in upper]
    for t in targets_up:
        want.add(min(range(n), key=lambda x: abs(up[x] - t)))
    lo = [float(mp.log10(total - u)) if total > u else -1e9 for u in upper]
    for t in targets_lo:
        want.add(min(range(n), key=lambda x: abs(lo[x] - t)))
    return sorted(x for x in want if pmf[x] > TINY and upper[x] > TINY)


def tails(pmf):
    up, s = [None] * len(pmf), mp.mpf(0)
    for x in range(len(pmf) - 1, -1, -1):
        s += pmf[x]
        up[x] = s
    return up


def finite(kind, m, p, rho=None):
    with mp.workdps(80):
        pmf = discrete.binomial(m, p) if rho is None else discrete.betabinomial(m, p, rho)
        up = tails(pmf)
        assert abs(up[0] - 1) < mp.mpf(10) ** -50, (kind, m, p, rho)
        up[0] = mp.mpf(1)
    c = {"dist": kind, "m": m, "p": p}
    if rho is not None:
        c["rho"] = rho
    xs = pick(pmf, up, [0, 1, 2, m // 3, m // 2, m - 1, m], [-0.3, -3, -12, -100, -250], [-3, -12, -100, -250])
    if len(xs) > 7:   # keep the ends, the mode and a spread
        mode = max(xs, key=lambda x: pmf[x])
        idx = {round(i * (len(xs) - 1) / 6) for i in range(7)}
        xs = sorted({xs[i] for i in idx} | {mode})
    c["points"] = [{"x": x, "pmf": pmf[x], "upper": up[x]} for x in xs]
    return c


def unbounded(mean, k, tops):
    """Upper tail as 1 - sum(pmf below) at 420 digits: exact down to 1e-290."""
    with mp.workdps(420):
        pmf = discrete.negbinomial(mean, k, tops)
        up, s = [], mp.mpf(1)
        for v in pmf:
            up.append(s)
            s -= v
    c = {"dist": "poisson", "mean": mean} if k is None else {"dist": "negative-binomial", "mean": mean, "k": k}
    xs = pick(pmf, up, [0, 1, 2, int(mean), tops], [-0.3, -3, -12, -100, -250], [-3, -12, -100, -250])
    if len(xs) > 8:
        mode = max(xs, key=lambda x: pmf[x])
        idx = {round(i * (len(xs) - 1) / 7) for i in range(8)}
        xs = sorted({xs[i] for i in idx} | {mode})
    c["points"] = [{"x": x, "pmf": +pmf[x], "upper": +up[x]} for x in xs]
    # second route on the first point of the upper tail: sum upwards when the terms fall fast
    r = 1.0 if k is None else mean / (k + mean)
    x = xs[-1]
    if r < 0.9 or k is None:
        with mp.workdps(60):
            v, s, j = pmf[x], mp.mpf(0), x
            while v > s * mp.mpf(10) ** -45 or j < mean:
                s += v
                v = v * (mp.mpf(mean) / (j + 1) if k is None else mp.mpf(mean) / (mp.mpf(k) + mean) * (mp.mpf(k) + j) / (j + 1))
                j += 1
            assert abs(s / up[x] - 1) < mp.mpf(10) ** -40, (mean, k, x, s, up[x])
    return c


PS = [1e-9, 1e-4, .01, .05, .15, .3, .5, .9, 1 - 1e-9]
cases = []
for m in [1, 2, 3, 5, 10, 20, 21, 50, 100, 400, 1000, 10000]:
    for p in PS:
        if m in (2, 3, 21, 50, 1000) and p not in (.05, .15, .3):
            continue
        if m == 10000 and p in (1e-4, .05):
            continue
        cases.append(finite("binomial", m, p))
RHO = [1e-15, 1e-12, 1e-9, 1e-6, .001, .01, .05, .1, .3, .7, .99]
for rho in RHO:
    cases.append(finite("beta-binomial", 20, .15, rho))
    cases.append(finite("beta-binomial", 400, .3, rho))
for m, p, rho in [(1, .15, .1), (1, .5, .99), (2, .3, .05), (3, .2, .2), (5, .05, .3), (10, .01, .1), (10, .9, .7), (20, .01, .05),
                  (20, .05, .1), (20, .3, .05), (20, .3, .1), (20, .3, .3), (20, .225, .1), (20, .5, .1), (20, .9, .1), (20, 1e-9, .1), (20, 1e-9, 1e-12),
                  (20, 1 - 1e-9, .1), (20, 1 - 1e-9, 1e-9), (50, .15, 1e-6), (50, .5, .99), (100, .01, .01), (100, .3, .1), (100, 1e-9, .3),
                  (1000, .05, .001), (1000, .3, 1e-9), (1000, .5, .1), (1000, .9, 1e-15), (10000, .15, .1), (10000, .3, 1e-6),
                  (10000, .01, 1e-12), (10000, .5, .01), (10000, 1e-9, .05), (10000, .9, 1e-9), (10000, .05, .99)]:
    cases.append(finite("beta-binomial", m, p, rho))
for mean, k, top in [(.01, .01, 3000), (.01, .3, 150), (.01, 1.0, 100), (.01, 1e6, 80), (.1, .05, 3000), (1.0, .01, 9000), (1.0, .8, 900), (1.0, 1.0, 900), (1.0, 1e3, 150), (1.0, 1e9, 150), (1.0, 1e12, 150),
                     (2.0, 1.2, 1500), (2.0, 1e7, 180), (4.0, 1.2, 2500), (6.0, 1.2, 3500), (4.0, 30.0, 600),
                     (12.5, .5, 9000), (50.0, .3, 20000), (50.0, .5, 20000), (50.0, .8, 20000), (50.0, 2.0, 12000), (50.0, 1e12, 500), (125.0, .3, 30000), (125.0, 1.0, 30000), (125.0, 20.0, 6000),
                     (500.0, 10.0, 20000), (1000.0, .01, 30000), (1000.0, 100.0, 12000), (1000.0, 1e6, 2500), (1000.0, 1e10, 2500), (10000.0, .7, 60000), (10000.0, 1e4, 18000),
                     (1e5, .5, 120000), (1e5, 50.0, 250000), (1e5, 1e12, 112000)]:
    cases.append(unbounded(mean, k, top))
for mean, top in [(.01, 60), (.1, 90), (1.0, 150), (2.0, 170), (12.5, 250), (50.0, 420), (125.0, 620), (1000.0, 2200), (10000.0, 13500), (1e5, 112000)]:
    cases.append(unbounded(mean, None, top))

# cross-checks with scipy (loose: scipy loses digits at small rho, large k and far tails)
worst = {}


def compare(tag, got, want, tol):
    if want < 1e-280:
        return
    e = abs(got / want - 1)
    worst[tag] = max(worst.get(tag, 0), e)
    if not e <= tol:
        sys.exit(f"cross-check {tag}: got {got}, want {want}, relative {e}")


rows = []
for c in cases:
    for pt in c["points"]:
        x, pm, up = pt["x"], float(pt["pmf"]), float(pt["upper"])
        d = c["dist"]
        if d == "binomial":
            compare("scipy binom pmf", stats.binom.pmf(x, c["m"], c["p"]), pm, 1e-7)
            compare("scipy binom sf", stats.binom.sf(x - 1, c["m"], c["p"]), up, 1e-7)
            rows.append(("binom", c["m"], c["p"], 0, x, pm, up))
        elif d == "beta-binomial":
            p, r = c["p"], c["rho"]
            a, b = p * (1 - r) / r, (1 - p) * (1 - r) / r
            if r >= 1e-3 and min(a, b) > 1e-6 and c["m"] <= 1000:
                compare("scipy betabinom pmf", stats.betabinom.pmf(x, c["m"], a, b), pm, 1e-7)
                # the beta-binomial as an average of the binomial over a beta, by quadrature
            if a > 1 and b > 1 and c["m"] <= 20 and r >= .01:
                with mp.workdps(30):
                    f = lambda q: q**(mp.mpf(p)*(1-mp.mpf(r))/mp.mpf(r)-1+x) * (1-q)**((1-mp.mpf(p))*(1-mp.mpf(r))/mp.mpf(r)-1+c["m"]-x)
                    q = mp.quad(f, mp.linspace(0, 1, 9)) * mp.binomial(c["m"], x) / mp.beta(mp.mpf(p)*(1-mp.mpf(r))/mp.mpf(r), (1-mp.mpf(p))*(1-mp.mpf(r))/mp.mpf(r))
                compare("mpmath quadrature", float(q), pm, 1e-6)
            if r <= 1e-12 and c["m"] <= 20 and p >= .01:
                compare("binomial limit", stats.binom.pmf(x, c["m"], p), pm, 1e-6)
        elif d == "negative-binomial":
            mu, k = c["mean"], c["k"]
            rows.append(("nbinom", k, mu, 0, x, pm, up))
            if k <= 1e4:
                compare("scipy nbinom pmf", stats.nbinom.pmf(x, k, k / (k + mu)), pm, 1e-6)
                compare("scipy nbinom sf", stats.nbinom.sf(x - 1, k, k / (k + mu)) if x else 1.0, up, 1e-6)
        else:
            rows.append(("pois", c["mean"], 0, 0, x, pm, up))
            compare("scipy poisson pmf", stats.poisson.pmf(x, c["mean"]), pm, 1e-6)
            compare("scipy poisson sf", stats.poisson.sf(x - 1, c["mean"]), up, 1e-6)
text = "\n".join(" ".join(repr(v) if not isinstance(v, str) else v for v in r) for r in rows)
print(refjson.rscript("distributions_check.R", text + "\n"))
for k, v in worst.items():
    print(f"{k}: largest relative difference {v:.2e}")
print(sum(len(c["points"]) for c in cases), "points")
refjson.write("distributions.json", {
    "source": "scripts/distributions.py; " + refjson.versions(mp) + " at 60 or more digits (product form; upper tails by exact summation); cross-checked with scipy "
              + scipy.__version__ + " and " + refjson.rversion() + " (distributions_check.R) where those are accurate",
    "parameters": "every parameter is the exact binary double; upper is P(X >= x); beta-binomial shape1 = p(1-rho)/rho, shape2 = (1-p)(1-rho)/rho; "
                  "negative binomial variance = mean + mean^2/k",
    "tolerance": {"relative": 1e-12},
    "cases": cases})
