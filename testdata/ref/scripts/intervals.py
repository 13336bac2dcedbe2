"""intervals.json: proportion intervals and normal and t quantiles."""
import mpmath as mp
import numpy as np
import scipy, statsmodels
from scipy import stats
from scipy.optimize import brentq
from statsmodels.stats.proportion import proportion_confint
import refjson

mp.mp.dps = 40
XN = [(0, 1), (1, 1), (0, 5), (2, 5), (5, 5), (0, 20), (1, 20), (3, 20), (10, 20), (17, 20), (19, 20), (20, 20), (1, 29), (4, 20), (0, 80), (1, 80), (12, 80), (20, 80),
      (24, 80), (79, 80), (80, 80), (7, 50), (12, 100), (15, 148), (81, 263), (0, 400), (87, 400), (88, 400), (399, 400), (150, 1000), (0, 10000), (3, 10000)]
CONF = [.8, .9, .95, .99]


def cdf(x, n, p):
    q = 1 - p
    t, s = q**n, mp.mpf(0)
    for i in range(x + 1):
        s += t
        t = t * (n - i) / (i + 1) * p / q
    return s


def root(f, guess):
    """Secant from a double guess, then a bracket check."""
    g = mp.mpf(guess)
    v = mp.findroot(f, (g, g * (1 + mp.mpf(10) ** -6) if g < .9 else g * (1 - mp.mpf(10) ** -6)), tol=mp.mpf(10) ** -60, maxsteps=200, verify=False)
    assert abs(v / g - 1) < 1e-6, (v, g)
    d = mp.mpf(10) ** -25 * v
    assert f(v - d) * f(v + d) < 0
    return v


def quantile_z(p):
    p = mp.mpf(p)
    return mp.findroot(lambda z: mp.ncdf(z) - p, stats.norm.ppf(float(p)))


def clopper(x, n, a):
    a2 = mp.mpf(a) / 2
    lo = mp.mpf(0) if x == 0 else root(lambda p: 1 - cdf(x - 1, n, p) - a2, stats.beta.ppf(float(a2), x, n - x + 1))
    hi = mp.mpf(1) if x == n else root(lambda p: cdf(x, n, p) - a2, stats.beta.ppf(1 - float(a2), x + 1, n - x))
    return lo, hi


def midp(x, n, a):
    """P(X<x) + P(X=x)/2 = a/2 at the upper limit, P(X>x) + P(X=x)/2 = a/2 at the lower."""
    a2 = mp.mpf(a) / 2
    low = lambda p: 1 - cdf(x, n, p) + (cdf(x, n, p) - cdf(x - 1, n, p)) / 2 - a2
    high = lambda p: cdf(x - 1, n, p) + (cdf(x, n, p) - cdf(x - 1, n, p)) / 2 - a2
    fl = lambda p: stats.binom.sf(x, n, p) + stats.binom.pmf(x, n, p) / 2 - float(a2)
    fh = lambda p: stats.binom.cdf(x - 1, n, p) + stats.binom.pmf(x, n, p) / 2 - float(a2)
    lo = mp.mpf(0) if x == 0 else root(low, brentq(fl, 1e-12, 1 - 1e-12, xtol=1e-15, rtol=1e-13))
    hi = mp.mpf(1) if x == n else root(high, brentq(fh, 1e-12, 1 - 1e-12, xtol=1e-15, rtol=1e-13))
    return lo, hi


def wilson(x, n, z):
    x, n = mp.mpf(x), mp.mpf(n)
    c, h = x + z * z / 2, z * mp.sqrt(x * (n - x) / n + z * z / 4)
    return (c - h) / (n + z * z) if x > 0 else mp.mpf(0), (c + h) / (n + z * z) if x < n else mp.mpf(1)


def wilson_cc(x, n, z):
    """Newcombe (1998) method 4: 0 at x = 0, 1 at x = n."""
    p, q, n_ = mp.mpf(x) / n, 1 - mp.mpf(x) / n, mp.mpf(n)
    lo = (2 * n_ * p + z * z - 1 - z * mp.sqrt(z * z - 2 - 1 / n_ + 4 * p * (n_ * q + 1))) / (2 * (n_ + z * z)) if x else mp.mpf(0)
    hi = (2 * n_ * p + z * z + 1 + z * mp.sqrt(z * z + 2 - 1 / n_ + 4 * p * (n_ * q - 1))) / (2 * (n_ + z * z)) if x < n else mp.mpf(1)
    return max(lo, mp.mpf(0)), min(hi, mp.mpf(1))


def agresti(x, n, z):
    n_ = n + z * z
    p = (x + z * z / 2) / n_
    h = z * mp.sqrt(p * (1 - p) / n_)
    return max(p - h, mp.mpf(0)), min(p + h, mp.mpf(1))


def wald(x, n, z):
    p = mp.mpf(x) / n
    h = z * mp.sqrt(p * (1 - p) / n)
    return max(p - h, mp.mpf(0)), min(p + h, mp.mpf(1))


def near(tag, got, want, tol=1e-9):
    for g, w in zip(got, want):
        if not abs(float(g) - float(w)) <= tol:
            print("CROSS-CHECK", tag, [float(v) for v in got], [float(v) for v in want])
            break


keys = [(x, n, c) for x, n in XN for c in CONF]
r = refjson.rscript("intervals_check.R", "".join(f"ci {x} {n} {c!r}\n" for x, n, c in keys))
rr = [[float(v) for v in l.split()] for l in r.splitlines()]
cases = []
odd_cc = []
for (x, n, c), rv in zip(keys, rr):
    a = 1 - mp.mpf(c)
    z = quantile_z(1 - a / 2)
    cp, mpv = clopper(x, n, a), midp(x, n, a)
    w, wc, ac, wd = wilson(x, n, z), wilson_cc(x, n, z), agresti(x, n, z), wald(x, n, z)
    af = float(a)
    near("CP scipy", cp, stats.binomtest(x, n).proportion_ci(c, "exact"))
    near("CP statsmodels", cp, [np.nan_to_num(v, nan=k) for v, k in zip(proportion_confint(x, n, af, "beta"), (0, 1))])
    near("CP R binom.test", cp, rv[0:2])
    near("Wilson scipy", w, stats.binomtest(x, n).proportion_ci(c, "wilson"))
    near("Wilson statsmodels", w, proportion_confint(x, n, af, "wilson"))
    near("Wilson R prop.test", w, rv[2:4])
    near("Wilson cc scipy", wc, stats.binomtest(x, n).proportion_ci(c, "wilsoncc"))
    if abs(float(wc[0]) - rv[4]) + abs(float(wc[1]) - rv[5]) > 1e-9:
        odd_cc.append((x, n, c, rv[4:6], [float(v) for v in wc]))
    near("AC statsmodels", ac, proportion_confint(x, n, af, "agresti_coull"))
    near("Wald statsmodels", wd, proportion_confint(x, n, af, "normal"))
    cases.append({"x": x, "n": n, "confidence": c, **{k: [refjson.number(v, 17) for v in iv] for k, iv in
                  [("wilson", w), ("wilson_cc", wc), ("clopper_pearson", cp), ("agresti_coull", ac), ("wald", wd), ("mid_p", mpv)]}})
print("R prop.test(correct=TRUE) differs (its correction is min(0.5, |x - n/2|)):", odd_cc)

def tq(p, df):
    p, df = mp.mpf(p), mp.mpf(df)
    f = lambda t: mp.betainc(df / 2, mp.mpf(1) / 2, 0, df / (df + t * t), regularized=True) / 2 - (1 - p)
    return mp.findroot(f, mp.mpf(float(stats.t.ppf(float(p), float(df)))))


tcases, zcases = [], []
qs = [.9, .95, .975, .995]
dfs = list(range(1, 41)) + [45, 50, 60, 70, 79, 80, 99, 100, 120, 150, 199, 200]
mp.mp.dps = 30
out = refjson.rscript("intervals_check.R", "".join(f"t {q!r} {d}\n" for d in dfs for q in qs)).split()
it = iter(out)
for d in dfs:
    vals = [tq(q, d) for q in qs]
    for v in vals:
        w = float(next(it))
        if abs(float(v) / w - 1) > 1e-11:
            print("CROSS-CHECK qt", d, float(v), w)
    tcases.append({"df": d, "t": [refjson.number(v, 18) for v in vals]})
zp = [.5, .6, .75, .8, .9, .95, .975, .99, .995, .999, .9995, 1e-12, 1e-6, 1e-3, .005, .01, .025, .05, .1, .25]
out = refjson.rscript("intervals_check.R", "".join(f"z {q!r}\n" for q in zp)).split()
for q, o in zip(zp, out):
    v = quantile_z(q) if q != .5 else mp.mpf(0)
    if abs(float(v) - float(o)) > 1e-12:
        print("CROSS-CHECK qnorm", q, v, o)
    zcases.append({"p": q, "z": refjson.number(v, 18)})

# handbook: Newcombe (1998), table I, from memory
for x, n, want in [(81, 263, dict(wilson=(.2553, .3662), wilson_cc=(.2535, .3682), clopper_pearson=(.2527, .3676), mid_p=(.2544, .3658), wald=(.2522, .3638))),
                   (15, 148, dict(wilson=(.0624, .1605), wilson_cc=(.0598, .1644), clopper_pearson=(.0578, .1617), mid_p=(.0601, .1581), wald=(.0527, .1500))),
                   (0, 20, dict(wilson=(0, .1611), wilson_cc=(0, .2005), clopper_pearson=(0, .1684), mid_p=(0, .1391), wald=(0, 0))),
                   (1, 29, dict(wilson=(.0061, .1718), wilson_cc=(.0018, .1963), clopper_pearson=(.0009, .1776), mid_p=(.0017, .1585), wald=(0, .1009)))]:
    got = next(c for c in cases if (c["x"], c["n"], c["confidence"]) == (x, n, .95))
    for k, v in want.items():
        g = [float(str(u).strip("@num:")) if u else 0 for u in got[k]]
        if max(abs(a - b) for a, b in zip(g, v)) > 5.01e-5:
            print("DISAGREE Newcombe", x, n, k, g, v)
# coverage of the Wald interval, Brown, Cai & DasGupta (2001), and other quoted numbers
for n, p, want in [(17, .5, .951), (18, .5, .904), (40, .5, .919), (30, .2, .946), (98, .2, .928)]:
    cov = sum(stats.binom.pmf(x, n, p) for x in range(n + 1) if (lambda h: x / n - h <= p <= x / n + h)(stats.norm.ppf(.975) * np.sqrt(x / n * (1 - x / n) / n)))
    if abs(cov - want) > 5.1e-4:
        print("DISAGREE coverage", n, p, cov, want)
v = clopper(4, 20, mp.mpf("0.1"))
print("4/20 90 %", [mp.nstr(u, 10) for u in v])
refjson.write("intervals.json", {
    "source": "scripts/intervals.py; " + refjson.versions(mp, np, scipy, statsmodels) + ", " + refjson.rversion() + " (intervals_check.R)",
    "methods": {
        "clopper_pearson": "mpmath root of the binomial tail at 40 digits; agrees with scipy binomtest exact, statsmodels beta and R binom.test to 1e-9",
        "wilson": "closed form in mpmath; agrees with scipy, statsmodels wilson and R prop.test(correct=FALSE) to 1e-9",
        "wilson_cc": "Newcombe (1998) method 4 in mpmath; agrees with scipy wilsoncc to 1e-9; R prop.test(correct=TRUE) caps its correction near x = n/2, so differs there",
        "agresti_coull": "n + z^2 trials, x + z^2/2 found, clipped to 0..1; agrees with statsmodels to 1e-9",
        "wald": "clipped to 0..1; agrees with statsmodels normal to 1e-9",
        "mid_p": "half of P(X = x) counted in each tail; scipy brentq then mpmath root; lower limit 0 at x = 0, upper limit 1 at x = n"},
    "tolerance": {"absolute": 1e-12, "quantiles_relative": 1e-13, "note": "alpha = 1 - confidence of the exact binary double"},
    "cases": cases,
    "t_quantiles": {"p": qs, "cases": tcases},
    "normal_quantiles": zcases})
