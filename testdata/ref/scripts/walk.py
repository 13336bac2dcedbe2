"""Exact stop-by-stop evaluation of a decision table (direct method of Aroian 1968)."""


def evaluate(pmfs, leave, act, zero=0):
    """pmfs[j] is the list of count chances of stop j (any number type); leave[j] = -1 is never.

    act[j] = None is never. A stop list may be cut short when every higher count means act:
    the mass missing from it is added to act (pass pmf lists that sum to 1 otherwise).
    """
    f, pact, pleave, pstop = {0: zero + 1}, [], [], []
    for pmf, a, r in zip(pmfs, leave, act):
        g = {}
        for s, v in f.items():
            for x, q in enumerate(pmf):
                if r is not None and s + x >= r:
                    break
                g[s + x] = g.get(s + x, zero) + v * q
        total = sum(f.values(), zero)
        low = sum(g.values(), zero)
        lv = sum((v for s, v in g.items() if s <= a), zero)
        ac = total - low if r is not None else zero
        f = {s: v for s, v in g.items() if s > a}
        pleave.append(lv)
        pact.append(ac)
        pstop.append(lv + ac)
    return {
        "act": sum(pact, zero), "leave": sum(pleave, zero), "open": sum(f.values(), zero),
        "asn": sum(((j + 1) * q for j, q in enumerate(pstop)), zero),
        "act_by_stop": pact, "leave_by_stop": pleave, "stop_by_stop": pstop,
    }


def wald_binomial(p0, p1, alpha, beta, log):
    g = log(p1 * (1 - p0) / (p0 * (1 - p1)))
    return log((1 - alpha) / beta) / g, log((1 - beta) / alpha) / g, log((1 - p0) / (1 - p1)) / g


def wald_negbinomial(m0, m1, k, alpha, beta, log):
    g = log(m1 * (m0 + k) / (m0 * (m1 + k)))
    return log((1 - alpha) / beta) / g, log((1 - beta) / alpha) / g, k * log((m1 + k) / (m0 + k)) / g


def lines(h1, h2, s, per_stop, first, last, floor, ceil, finite=True):
    """Per stop: leave = floor(s n - h1) (-1 never), act = ceil(s n + h2) (None never);
    no verdict before stop `first`; at stop `last` leave = floor(s n), act = leave + 1."""
    leave, act = [], []
    for j in range(1, last + 1):
        n = per_stop * j
        if j == last:
            a = int(floor(s * n))
            r = a + 1
        else:
            a, r = int(floor(s * n - h1)), int(ceil(s * n + h2))
            if j < first or a < 0:
                a = -1
            if j < first or (finite and r > n):
                r = None
        leave.append(a)
        act.append(r)
    return leave, act
