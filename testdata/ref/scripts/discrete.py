"""Probability lists of the discrete distributions in mpmath, parameters taken as exact binary doubles."""
import mpmath as mp


def binomial(m, p):
    p = mp.mpf(p)
    q = 1 - p
    out = [q**m]
    for x in range(m):
        out.append(out[-1] * (m - x) / (x + 1) * p / q)
    return out


def betabinomial(m, p, rho):
    """Product form: C(m,x) prod(p(1-rho)+i rho) prod((1-p)(1-rho)+i rho) / prod((1-rho)+i rho)."""
    p, rho = mp.mpf(p), mp.mpf(rho)
    if rho == 0:
        return binomial(m, p)
    a, b, c = p * (1 - rho), (1 - p) * (1 - rho), 1 - rho
    v = mp.mpf(1)
    for i in range(m):
        v *= (b + i * rho) / (c + i * rho)
    out = [v]
    for x in range(m):
        v = v * (m - x) * (a + x * rho) / ((x + 1) * (b + (m - x - 1) * rho))
        out.append(v)
    return out


def negbinomial(mean, k, top):
    """P(X=0..top); k None is Poisson."""
    mu = mp.mpf(mean)
    if k is None:
        out = [mp.exp(-mu)]
        for x in range(top):
            out.append(out[-1] * mu / (x + 1))
        return out
    k = mp.mpf(k)
    r = mu / (k + mu)
    out = [mp.exp(-k * mp.log1p(mu / k))]
    for x in range(top):
        out.append(out[-1] * r * (k + x) / (x + 1))
    return out
