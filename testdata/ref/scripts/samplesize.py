"""samplesize.json: detection, classification, fixed plans and expected interval widths."""
import math
from fractions import Fraction as F
import mpmath as mp
import numpy as np
import scipy
import discrete, refjson
from scipy import stats

mp.mp.dps = 40
doc = {}
dis = []

# (a) finite lots, exact integers
def missed(N, D, n):
    """C(N-D, n) / C(N, n) as integers (numerator, denominator)."""
    return math.comb(N - D, n), math.comb(N, n)


def lot_size(N, D, conf):
    """Smallest n with 1 - P(none) >= conf; conf an exact fraction. Bisection: P(none) falls with n."""
    if D < 1:
        return None
    lo, hi = 0, N
    while hi - lo > 1:
        n = (lo + hi) // 2
        num, den = missed(N, D, n)
        if (den - num) * conf.denominator >= conf.numerator * den:
            hi = n
        else:
            lo = n
    return hi


def lot_size_step(N, D, conf):
    """The same by falling products, one unit at a time (fractions kept as integers)."""
    num = den = 1
    n = 0
    while (den - num) * conf.denominator < conf.numerator * den:
        num *= N - D - n
        den *= N - n
        n += 1
        if n % 50 == 0:
            g = math.gcd(num, den); num //= g; den //= g
    return n


LEVELS = [F(5, 100), F(2, 100), F(1, 100), F(5, 1000), F(1, 1000)]
T95 = """25 24 - - - -
50 39 48 - - -
100 45 78 95 - -
200 51 105 155 190 -
300 54 117 189 285 -
400 55 124 211 311 -
500 56 129 225 388 -
600 56 132 235 379 -
700 57 134 243 442 -
800 57 136 249 421 -
900 57 137 254 474 -
1000 57 138 258 450 950
2000 58 143 277 517 1553
10000 59 148 294 581 2588
200000 59 149 298 597 2972"""
T99 = {100: [59, 90, 99], 200: [73, 136, 180, 198], 500: [83, 183, 300, 450], 1000: [86, 204, 368, 601, 990], 10000: [90, 226, 448, 878, 3689]}
Ns = [int(l.split()[0]) for l in T95.splitlines()]
printed95 = {int(l.split()[0]): [None if v == "-" else int(v) for v in l.split()[1:]] for l in T95.splitlines()}
lots = []
for conf in (F(95, 100), F(99, 100)):
    for N in Ns + ([] if conf == F(95, 100) else []) + [3000, 4000, 5000, 20000, 50000, 100000]:
        row = []
        for lv in LEVELS:
            D = math.floor(N * lv)
            if N > 20000:   # big integers are slow: product route in mpmath around a bracket
                def none(n):
                    return mp.exp(mp.loggamma(N - D + 1) - mp.loggamma(N - D - n + 1) + mp.loggamma(N - n + 1) - mp.loggamma(N + 1))
                lo, hi = 0, N - D
                while hi - lo > 1:
                    n = (lo + hi) // 2
                    if 1 - none(n) >= mp.mpf(conf.numerator) / conf.denominator: hi = n
                    else: lo = n
                n = hi
                assert n == lot_size_step(N, D, conf)
            else:
                n = lot_size(N, D, conf)
                if n and N <= 2000:
                    assert n == lot_size_step(N, D, conf), (N, D)
            if n:
                # hypergeometric in scipy, loosely
                assert 1 - stats.hypergeom.pmf(0, N, D, n) >= float(conf) - 1e-9
                assert n == 1 or 1 - stats.hypergeom.pmf(0, N, D, n - 1) < float(conf) + 1e-9
            row.append(n)
        if conf == F(95, 100) and N in printed95 and row != printed95[N]:
            dis.append(("ISPM 95", N, row, printed95[N]))
        if conf == F(99, 100) and N in T99 and row[:len(T99[N])] != T99[N]:
            dis.append(("ISPM 99", N, row, T99[N]))
        lots.append({"confidence": float(conf), "lot": N, "infested": [math.floor(N * lv) for lv in LEVELS], "n": row})
indep = []
PB = {(.95, 1.0): [59, 149, 299, 598, 2995], (.95, .99): [60, 150, 302, 604, 3025], (.95, .95): [62, 157, 314, 630, 3152], (.95, .9): [66, 165, 332, 665, 3328], (.95, .85): [69, 175, 351, 704, 3523],
      (.95, .8): [74, 186, 373, 748, 3744], (.95, .75): [79, 199, 398, 798, 3993], (.95, .5): [119, 299, 598, 1197, 5990], (.95, .25): [239, 598, 1197, 2396, 11982], (.95, .1): [598, 1497, 2995, 5990, 29956], (.99, 1.0): [90, 228, 459, 919, 4603]}
for conf in (F(90, 100), F(95, 100), F(99, 100)):
    for e in [F(1), F(99, 100), F(95, 100), F(9, 10), F(85, 100), F(8, 10), F(75, 100), F(5, 10), F(25, 100), F(1, 10)]:
        row = []
        for lv in LEVELS:
            n = int(mp.ceil(mp.log(1 - mp.mpf(conf.numerator) / conf.denominator) / mp.log(1 - mp.mpf((e * lv).numerator) / (e * lv).denominator)))
            q = 1 - e * lv
            assert q**n <= 1 - conf < q**(n - 1)
            row.append(n)
        w = PB.get((float(conf), float(e)))
        if w and w != row:
            dis.append(("binomial detection", float(conf), float(e), row, w))
        indep.append({"confidence": float(conf), "seen": float(e), "n": row})
pois = []
for conf, w in [(F(95, 100), [60, 150, 300, 600, 2996]), (F(99, 100), [93, 231, 461, 922, 4606])]:
    row = [int(mp.ceil(-mp.log(1 - mp.mpf(conf.numerator) / conf.denominator) * lv.denominator / lv.numerator)) for lv in LEVELS]
    if row != w:
        dis.append(("Poisson detection", row, w))
    pois.append({"confidence": float(conf), "n": row})
fx = []
for N, hyp, two, cf in zip([10, 50, 100, 200, 300, 400, 500, 1000, 1500, 3000], [10, 22, 25, 27, 28, 28, 28, 29, 29, 29], [1, 1, 2, 4, 6, 8, 10, 20, 30, 60], [.100, .100, .191, .346, .472, .573, .655, .881, .959, .998]):
    D = N // 10
    n = lot_size(N, D, F(95, 100))
    n2 = max(1, math.ceil(F(2, 100) * N))
    a, b = missed(N, D, n2)
    c = 1 - F(a, b)
    if (n, n2) != (hyp, two) or abs(float(c) - cf) > 5.1e-4:
        dis.append(("2 % sampling", N, n, n2, float(c), hyp, two, cf))
    fx.append({"lot": N, "infested": D, "n_95": n, "two_percent_n": n2, "two_percent_confidence": c})
doc["detect_lots"] = {"literature": "method of ISPM 31 (FAO/IPPC 2008), appendix 2: hypergeometric, infested units rounded down",
                      "levels": [float(v) for v in LEVELS], "note": "n null: no whole infested unit. Confidence and level are exact decimals. Exact integers.", "cases": lots}
doc["detect_independent"] = {"note": "n = ceil(ln(1-C)/ln(1-p e)), verified by exact fractions", "levels": [float(v) for v in LEVELS], "cases": indep, "poisson": pois}
doc["detect_two_percent"] = {"note": "lots with 10 % infested (rounded down): n for 95 %, and the confidence of sampling 2 % (rounded up)", "cases": fx}

# (b) clumped detection
clumped = []
for p in [.01, .02, .05, .1]:
    for rho in [.05, .1, .3]:
        for m in [5, 10, 20]:
            for e in [1.0, .9, .8, .5]:
                P, R, E = mp.mpf(p), mp.mpf(rho), mp.mpf(e)
                pm = discrete.betabinomial(m, p, rho)
                P0 = sum((pm[x] * (1 - E)**x for x in range(m + 1)), mp.mpf(0)) if e < 1 else pm[0]
                if e < 1:
                    a, b = P * (1 - R) / R, (1 - P) * (1 - R) / R
                    # substitution q = u^(1/a) removes the end point singularity at 0 where a < 1
                    with mp.workdps(25):
                        f = lambda u: (lambda q: (1 - q)**(b - 1) * (1 - E * q)**m)(u**(1 / a))
                        quad = mp.quad(f, [0, mp.mpf(".01"), mp.mpf(".1"), mp.mpf(".5"), mp.mpf(".9"), mp.mpf(".99"), 1]) / (a * mp.beta(a, b))
                    assert abs(quad / P0 - 1) < 1e-9, (p, rho, m, e, quad, P0)
                stops, tight = [], False
                for c in (.9, .95, .99):
                    v = mp.log(1 - mp.mpf(c)) / mp.log(P0)
                    assert abs(v - mp.nint(v)) > 1e-9
                    stops.append(int(mp.ceil(v)))
                clumped.append({"p": p, "rho": rho, "m": m, "seen": e, "p_none_per_stop": refjson.number(P0, 18), "stops": stops,
                                "achieved": [refjson.number(1 - P0**j, 16) for j in stops]})
doc["detect_clumped"] = {"confidence": [.9, .95, .99], "note": "p_none_per_stop = E over the beta of (1 - seen q)^m: the sum over beta-binomial counts, checked by mpmath quadrature; stops = ceil(ln(1-C)/ln P0)", "cases": clumped}
# anchors of the cluster form with theta = rho/(1-rho)
for f_, th, n, p0_, ap, m1, m2 in [(.05, .05, 100, .159664, .166667, 1.6328, 1.6720), (.05, .1, 10, .693292, .707107, 8.1783, 8.6439), (.01, .05, 20, .867897, .870551, 21.1440, 21.6096), (.02, .01, 50, .439960, .444444, 3.6486, 3.6942)]:
    v = mp.mpf(1)
    for j in range(n):
        v *= (1 - f_ + j * mp.mpf(th)) / (1 + j * mp.mpf(th))
    apx = (1 + n * th) ** (-f_ / th)
    g = (float(v), apx, float(mp.log(.05) / mp.log(v)), -(th / f_) * math.log(.05) / math.log(1 + n * th))
    if max(abs(x - y) for x, y in zip(g, (p0_, ap, m1, m2))) > 6e-5:
        dis.append(("beta-binomial detection", f_, th, n, g))

# (c) classification with the fewest stops: exact J-fold convolution
def totals(m, p, rho, J):
    """pmf of the sum of J stops by repeated numpy convolution of the exact stop pmf."""
    base = np.array([float(v) for v in discrete.betabinomial(m, p, rho)])
    out = np.array([1.0])
    for _ in range(J):
        out = np.convolve(out, base)
    return out


def classify(m, rho, p0, p1, al, be, jmax=400):
    b0, b1 = [np.array([float(v) for v in discrete.betabinomial(m, p, rho)]) for p in (p0, p1)]
    f0 = f1 = np.array([1.0])
    first, feas, rows = None, {}, []
    for J in range(1, jmax + 1):
        f0, f1 = np.convolve(f0, b0), np.convolve(f1, b1)
        act = 1 - np.cumsum(f0)          # P(S > c | p0)
        act = np.cumsum(f0[::-1])[::-1]  # P(S >= x)
        act = np.append(act[1:], 0.0)    # P(S > c)
        miss = np.cumsum(f1)             # P(S <= c | p1)
        ok = np.nonzero((act <= al) & (miss <= be))[0]
        edge = np.nonzero((np.abs(act - al) < 1e-11) | (np.abs(miss - be) < 1e-11))[0]
        assert len(edge) == 0, (J, edge)
        feas[J] = len(ok) > 0
        if len(ok) and first is None:
            first = J
            rows = [{"c": int(c), "needless": refjson.number(act[c], 13), "missed": refjson.number(miss[c], 13)} for c in ok]
        if first and J >= max(first + 60, 2 * first + 10):
            break
    always = max(j for j in feas if not feas[j]) + 1 if not all(feas.values()) else 1
    return {"m": m, "rho": rho, "lower": p0, "upper": p1, "alpha": al, "beta": be, "stops": first, "choices": rows,
            "next_five_feasible": [bool(feas[first + i]) for i in range(1, 6)], "feasible_from_on": always, "searched_to": J}


CL = [(1, 0, .15, .3, .1, .1), (20, 0, .15, .3, .1, .1), (20, .05, .15, .3, .1, .1), (20, .1, .15, .3, .1, .1), (10, .1, .15, .3, .1, .1), (20, .1, .2, .3, .05, .05),
      (20, .2, .15, .3, .1, .1), (20, .3, .15, .3, .1, .1), (5, .1, .15, .3, .1, .1), (10, 0, .1, .25, .05, .1), (10, .1, .1, .25, .05, .1), (20, .1, .05, .15, .1, .05), (15, .05, .2, .35, .1, .1),
      (20, .1, .15, .25, .1, .1), (25, .03, .2, .3, .1, .1), (4, .2, .3, .5, .05, .05), (1, 0, .2, .3, .05, .05), (20, .1, .15, .3, .05, .1)]
cl = [classify(*c) for c in CL]
# spot check with fractions
for q in (cl[3], cl[4]):
    def fr(m, p, rho):
        p, rho = F(p), F(rho)
        a, b, c = p * (1 - rho), (1 - p) * (1 - rho), 1 - rho
        o = []
        for x in range(m + 1):
            v = F(math.comb(m, x))
            for i in range(x): v *= a + i * rho
            for i in range(m - x): v *= b + i * rho
            for i in range(m): v /= c + i * rho
            o.append(mp.mpf(v.numerator) / v.denominator)
        return o
    for p, side in ((q["lower"], "needless"), (q["upper"], "missed")):
        base, s = fr(q["m"], p, q["rho"]), [mp.mpf(1)]
        for _ in range(q["stops"]):
            t = [mp.mpf(0)] * (len(s) + q["m"])
            for i, u in enumerate(s):
                for j, v in enumerate(base):
                    t[i + j] += u * v
            s = t
        for ch in q["choices"]:
            w = sum(s[ch["c"] + 1:]) if side == "needless" else sum(s[:ch["c"] + 1])
            assert abs(float(w) - float(ch[side].strip("@num:"))) < 1e-12
doc["classify"] = {"note": "fewest stops with an integer c such that P(S > c | lower) <= alpha and P(S <= c | upper) <= beta; all such c listed; feasible_from_on: every stop count from here up to searched_to works",
                   "cases": cl}
for q in cl:
    print("classify", {k: v for k, v in q.items()})

# (d) fixed 4 stops of 20, act at 20 or more
fixed = []
for rho in (0, .05, .1, .2, .3):
    for p in (.05, .1, .15, .2, .25, .3, .4):
        base = discrete.betabinomial(20, p, rho)
        s = [mp.mpf(1)]
        for _ in range(4):
            t = [mp.mpf(0)] * (len(s) + 20)
            for i, u in enumerate(s):
                for j, v in enumerate(base):
                    t[i + j] += u * v
            s = t
        fixed.append({"p": p, "rho": rho, "p_act": refjson.number(sum(s[20:]), 17)})
doc["fixed_four_stops"] = {"plants_per_stop": 20, "stops": 4, "act_at": 20, "cases": fixed}

# (e) expected half-width of the Wilson interval on the effective sample size
wid = []
for J, m, p, rho, conf in [(4, 20, .15, 0, .95), (4, 20, .15, .1, .95), (4, 20, .3, .1, .95), (8, 20, .15, .1, .95), (8, 20, .225, .1, .9), (20, 20, .225, .1, .95), (10, 10, .05, .05, .95), (10, 10, .5, .3, .9), (16, 5, .25, .1, .8), (80, 1, .25, 0, .95), (1, 20, .1, .1, .95), (30, 20, .01, .2, .99)]:
    f = totals(m, p, rho, J)
    n, deff = J * m, 1 + (m - 1) * rho
    ne = n / deff
    z = float(mp.findroot(lambda v: mp.ncdf(v) - (1 - (1 - mp.mpf(conf)) / 2), stats.norm.ppf(.5 + conf / 2)))
    ph = np.arange(len(f)) / n
    half = z / (ne + z * z) * np.sqrt(ne * ph * (1 - ph) + z * z / 4)
    wid.append({"stops": J, "m": m, "p": p, "rho": rho, "confidence": conf, "expected_half_width": refjson.number(math.fsum(f * half), 14), "half_width_at_p": refjson.number(z / (ne + z * z) * math.sqrt(ne * p * (1 - p) + z * z / 4), 15)})
doc["expected_half_width"] = {"note": "sum over S of P(S) times the half-width of the Wilson interval at n_eff = n/deff, x_eff = S n_eff/n; deff = 1 + (m-1) rho", "cases": wid}

# other handbook numbers
bc = []
for p0, p1, al, be, n_, r_ in [(.05, .20, .05, .20, 27, 4), (.05, .20, .05, .10, 38, 5), (.05, .25, .05, .20, 16, 3), (.05, .25, .05, .10, 25, 4), (.10, .25, .05, .20, 40, 8), (.10, .25, .05, .10, 55, 10), (.10, .30, .05, .20, 25, 6), (.10, .30, .05, .10, 33, 7),
                             (.20, .40, .05, .20, 35, 12), (.20, .40, .05, .10, 47, 15), (.30, .50, .05, .20, 39, 17), (.30, .50, .05, .10, 53, 22), (.40, .60, .05, .20, 42, 23), (.40, .60, .05, .10, 56, 29), (.50, .70, .05, .20, 37, 24), (.50, .70, .05, .10, 53, 33),
                             (.60, .80, .05, .20, 36, 27), (.60, .80, .05, .10, 45, 33), (.70, .90, .05, .20, 28, 24), (.70, .90, .05, .10, 37, 31), (.01, .10, .05, .10, 52, 3)]:
    n = 0
    while True:
        n += 1
        r = next((r for r in range(n + 2) if stats.binom.sf(r - 1, n, p0) <= al))
        if stats.binom.sf(r - 1, n, p1) >= 1 - be:
            break
    if (n, r) != (n_, r_):
        dis.append(("single stage", p0, p1, al, be, n, r, n_, r_))
    bc.append({"lower": p0, "upper": p1, "alpha": al, "beta": be, "n": n, "act_at": r, "achieved_alpha": refjson.number(stats.binom.sf(r - 1, n, p0), 13), "achieved_beta": refjson.number(stats.binom.cdf(r - 1, n, p1), 13)})
doc["single_stage"] = {"literature": "method of Fleming (1982), Biometrics 38:143-151 and A'Hern (2001), Statistics in Medicine 20:859-866; smallest n, independent plants; n values from memory, computed here", "cases": bc}
# NIST 6.2.3.2 and curtailed sampling
for i, pub in enumerate([.998, .980, .930, .845, .739, .620, .502, .394, .300, .223, .162, .115]):
    v = stats.binom.cdf(3, 52, (i + 1) / 100)
    if abs(v - pub) > 1.05e-3:
        dis.append(("NIST 52,3", i + 1, v, pub))
z = stats.norm.ppf
v = ((z(.95) * math.sqrt(.09) + z(.9) * math.sqrt(.16)) / .1) ** 2
print("NIST 7.2.4.2", v)
print("DISAGREE" if dis else "no disagreement", dis)
refjson.write("samplesize.json", {
    "source": "scripts/samplesize.py; " + refjson.versions(mp, np, scipy) + "; exact integers or fractions where said",
    "tolerance": {"absolute_probability": 1e-11, "note": "whole numbers must be equal; p_none_per_stop relative 1e-13; fixed_four_stops 1e-13"},
    **doc})
