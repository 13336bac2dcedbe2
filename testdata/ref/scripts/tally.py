"""tally.json: share of leaves with T or more insects under the negative binomial; an empirical tally model."""
import mpmath as mp
import numpy as np
import scipy, scipy.optimize
from scipy import stats
import refjson

mp.mp.dps = 50


def tail(T, mean, k):
    """P(X >= T), 1 - sum below; k None is Poisson."""
    mu = mp.mpf(mean)
    with mp.workdps(80):
        if k is None:
            v = mp.exp(-mu)
            s = mp.mpf(0)
            for x in range(T):
                s += v
                v *= mu / (x + 1)
        else:
            k = mp.mpf(k)
            r = mu / (k + mu)
            v, s = mp.exp(-k * mp.log1p(mu / k)), mp.mpf(0)
            for x in range(T):
                s += v
                v *= r * (k + x) / (x + 1)
        return +(1 - s)


dis, grid, nbq = [], [], []
for mean in [.05, .5, 1., 2., 5., 12.5, 25., 50., 80., 125., 200., 500.]:
    for k in [.2, .3, .5, .8, 1., 1.2, 2., 10.]:
        pts = []
        for T in [1, 2, 3, 6, 11, 25, 50, 51, 100]:
            v = tail(T, mean, k)
            if v < mp.mpf(10) ** -40:
                continue
            s = stats.nbinom.sf(T - 1, k, k / (k + mean))
            assert abs(float(v) - s) <= 1e-10 * float(v) + 1e-300, (mean, k, T, v, s)
            nbq.append((f"nb {T} {mean!r} {k!r}", float(v)))
            pts.append([T, refjson.number(v, 17)])
        grid.append({"mean": mean, "k": k, "p": pts})
for mean in [.05, 1., 12.5, 50., 125.]:
    grid.append({"mean": mean, "k": None, "p": [[T, refjson.number(tail(T, mean, None), 17)] for T in [1, 2, 6, 11, 50, 100] if tail(T, mean, None) > mp.mpf(10) ** -40]})
for m, row in [(50., (.274768, .319724, .371528, .411314)), (125., (.427242, .528533, .671388, .808233))]:
    for k, w in zip((.3, .5, 1., 2.), row):
        if abs(tail(50, m, k) - w) > 6e-7:
            dis.append(("T 50", m, k, float(tail(50, m, k)), w))
for m, k, row in [(50., .8, {0: .96387723, 1: .93543411, 5: .84500149, 10: .75533834, 50: .34977118}), (2., 1.2, {0: .69179653, 1: .46064393, 5: .08106307, 10: .00851874})]:
    for t, w in row.items():   # P(X > t)
        if abs(tail(t + 1, m, k) - w) > 6e-9:
            dis.append(("P(X > T)", m, k, t, float(tail(t + 1, m, k)), w))

# mean that gives a share at a tally number
inverse = []
for T in (1, 6, 50):
    for k in (.5, 1.2):
        for p in (.05, .25, .5, .9):
            f = lambda lm: float(tail(T, mp.e**lm, k) - p)
            g = scipy.optimize.brentq(f, -8, 14)
            m = mp.findroot(lambda mu: tail(T, mu, k) - mp.mpf(p), mp.e**g)
            inverse.append({"tally": T, "k": k, "p": p, "mean": refjson.number(m, 15)})

# Taylor's law in place of k (Wilson & Room 1983 for T = 1)
taylor = []
for a, b in [(2., 1.5), (2.5, 1.4), (1.178544, 1.099422), (5., 1.6), (1.5, 1.2)]:
    for mean in [.1, .5, 1., 2., 10., 50., 125.]:
        A, B, m = mp.mpf(a), mp.mpf(b), mp.mpf(mean)
        v = A * m**B
        if v <= m:
            taylor.append({"a": a, "b": b, "mean": mean, "k": None, "p": [[T, refjson.number(tail(T, mean, None), 16)] for T in (1, 6, 50) if tail(T, mean, None) > mp.mpf(10) ** -40], "note": "a mean^b <= mean: Poisson"})
            continue
        k = m * m / (v - m)
        wr = 1 - mp.exp(-m * mp.log(A * m**(B - 1)) / (A * m**(B - 1) - 1))
        assert abs(wr - tail(1, m, k)) < mp.mpf(10) ** -40
        taylor.append({"a": a, "b": b, "mean": mean, "k": refjson.number(k, 16), "p": [[T, refjson.number(tail(T, m, k), 16)] for T in (1, 6, 50) if tail(T, m, k) > mp.mpf(10) ** -40]})
w = next(t for t in taylor if t["a"] == 2. and t["mean"] == 1.)
if w["p"][0][1] != "@num:0.5@":
    dis.append(("Wilson & Room a=2 b=1.5 m=1", w))

# empirical model: invented fields, ln mean = c + d ln(-ln(1-p))
fields = [[3.1, .03], [5.2, .06], [8.8, .07], [14.0, .13], [17.5, .12], [24.0, .21], [31.0, .22], [42.0, .33], [55.0, .36], [78.0, .52], [96.0, .55], [140.0, .74]]
text = "".join(f"fit {m!r} {p!r}\n" for m, p in fields) + "".join(q + "\n" for q, _ in nbq)
out = [l.split() for l in refjson.rscript("tally_check.R", text).splitlines()]
worst = max(abs(float(o[1]) / v - 1) for o, (_, v) in zip([o for o in out if o[0] == "nb"], nbq))
print(f"R pnbinom largest relative difference {worst:.1e}")
x = [mp.log(-mp.log1p(-mp.mpf(p))) for _, p in fields]
y = [mp.log(mp.mpf(m)) for m, _ in fields]
n = len(x)
xb, yb = sum(x) / n, sum(y) / n
sxx = sum((v - xb) ** 2 for v in x)
d = sum((v - xb) * (u - yb) for v, u in zip(x, y)) / sxx
c = yb - d * xb
mse = sum((u - c - d * v) ** 2 for v, u in zip(x, y)) / (n - 2)
vd = mse / sxx
fit = [float(v) for v in next(o for o in out if o[0] == "fit")[1:]]
r2 = 1 - mse * (n - 2) / sum((u - yb) ** 2 for u in y)
for g, v in zip(fit, [c, d, mp.sqrt(mse * (mp.mpf(1) / n + xb**2 / sxx)), mp.sqrt(vd), mse, r2, xb]):
    assert abs(g / float(v) - 1) < 1e-11
pred = []
for p in (.02, .1, .25, .5, .8):
    for plants, deff in ((80, 1.0), (80, 2.9), (400, 2.9)):
        P = mp.mpf(p)
        xx = mp.log(-mp.log1p(-P))
        parts = [mse, mse / n, (xx - xb) ** 2 * vd, d * d * P / (plants * (1 - P) * mp.log1p(-P) ** 2) * mp.mpf(deff)]
        g = next(o for o in out if o[0] == "pred" and abs(float(o[1]) - p) < 1e-12)
        assert abs(float(g[2]) - float(c + d * xx)) < 1e-11 and abs(float(g[3]) ** 2 / float(parts[1] + parts[2]) - 1) < 1e-10
        pred.append({"p": p, "plants": plants, "deff": deff, "ln_mean": refjson.number(c + d * xx, 16), "variance_parts": [refjson.number(v, 15) for v in parts], "variance": refjson.number(sum(parts), 15)})
print("DISAGREE" if dis else "no disagreement", dis)
refjson.write("tally.json", {
    "source": "scripts/tally.py; " + refjson.versions(mp, np, scipy) + " at 50 digits; beside scipy nbinom.sf to 1e-10 and " + refjson.rversion() + f" pnbinom to {worst:.0e} (tally_check.R)",
    "tolerance": {"relative": 1e-12, "note": "regression 1e-11"},
    "negative_binomial": {"note": "pairs [T, P(X >= T)]; k null is Poisson", "cases": grid},
    "mean_for_share": {"note": "mean at which P(X >= tally) = p", "cases": inverse},
    "taylor": {"note": "k = mean^2/(a mean^b - mean); T = 1 equals 1 - exp(-mean ln(a mean^(b-1))/(a mean^(b-1) - 1)) (Wilson & Room 1983); pairs [T, P(X >= T)]", "cases": taylor},
    "empirical": {"note": "invented fields [mean per leaf, share of plants]; ln mean = c + d ln(-ln(1-p)), least squares (Kono & Sugino 1958; Gerrard & Chiang 1970), base R lm agrees; variance_parts: mse, mse/N, (x - xbar)^2 var(d), d^2 p deff/(n (1-p) ln(1-p)^2) (Schaalje, Butts & Lysyk 1991)",
                  "fields": fields, "c": refjson.number(c, 16), "d": refjson.number(d, 16), "c_se": refjson.number(mp.sqrt(mse * (mp.mpf(1) / n + xb**2 / sxx)), 15), "d_se": refjson.number(mp.sqrt(vd), 15),
                  "mse": refjson.number(mse, 15), "r_squared": refjson.number(r2, 15), "x_mean": refjson.number(xb, 16), "predictions": pred}})
