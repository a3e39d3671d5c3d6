#!/usr/bin/env python3
"""Writes computed/*.json beside this file: distribution functions, quantiles and factors in 40-digit
arithmetic, for the arguments a check of a few clamps or a study of some hundred readings can meet.

    pip install mpmath==1.3.0 && python3 tests/reference/distributions.py

Definitions are integrated or evaluated directly with mpmath; nothing of the program is used.
"""
import json, pathlib
import mpmath as mp

mp.mp.dps = 50
HERE = pathlib.Path(__file__).parent / "computed"
SQRT2 = mp.sqrt(2)


def phi_cdf(z):
    return mp.erfc(-z / SQRT2) / 2


def betainc(a, b, x, y):
    """lower, upper"""
    lo = mp.betainc(a, b, 0, x, regularized=True) if x < mp.mpf(a) / (a + b) else None
    if lo is None:
        up = mp.betainc(b, a, 0, y, regularized=True)
        return 1 - up, up
    return lo, 1 - lo


def t_tails(t, nu):
    t, nu = mp.mpf(t), mp.mpf(nu)
    if t < 0:
        return tuple(reversed(t_tails(-t, nu)))
    inner, outer = betainc(mp.mpf(1) / 2, nu / 2, t * t / (nu + t * t), nu / (nu + t * t))
    return (1 + inner) / 2, outer / 2


def chi2_tails(x, nu):
    """Series below the mean, Legendre's continued fraction (bottom up, enough terms) above."""
    a, h = mp.mpf(nu) / 2, mp.mpf(x) / 2
    front = mp.exp(a * mp.log(h) - h - mp.loggamma(a))
    if h < a + 1:
        term = total = 1 / a
        k = 0
        while term > total * mp.mpf(10) ** -(mp.mp.dps + 2):
            k += 1
            term *= h / (a + k)
            total += term
        lower = front * total
        return lower, 1 - lower
    b, c = h + 1 - a, mp.mpf(10) ** 400
    d = 1 / b
    value = d
    i = 0
    while True:
        i += 1
        an = -i * (i - a)
        b += 2
        d = 1 / (an * d + b)
        c = b + an / c
        factor = c * d
        value *= factor
        if abs(factor - 1) < mp.mpf(10) ** -(mp.mp.dps - 4): break
    upper = front * value
    return 1 - upper, upper


def f_tails(x, n1, n2):
    x, n1, n2 = mp.mpf(x), mp.mpf(n1), mp.mpf(n2)
    s = n1 * x + n2
    return betainc(n1 / 2, n2 / 2, n1 * x / s, n2 / s)


def nct_tails(t, nu, delta, signs=(1, -1)):
    """Trapezoidal rule in s = ln w on both tails; converges faster than any power of the step."""
    t, nu, delta = mp.mpf(t), mp.mpf(nu), mp.mpf(delta)
    width = 1 / mp.sqrt(2 * nu)
    const = mp.log(2) + nu / 2 * mp.log(nu / 2) - mp.loggamma(nu / 2)
    out = []
    for sign in signs:
        def term(s):
            w = mp.exp(s)
            return phi_cdf(sign * (t * w - delta)) * mp.exp(const + nu * s - nu * w * w / 2)
        # coarse search of the highest point
        lo, hi = mp.mpf(-60), mp.mpf(8)
        def log_slope(s):
            w = mp.exp(s); z = sign * (t * w - delta)
            mills = mp.npdf(z) / phi_cdf(z)
            return sign * mills * t * w + nu - nu * w * w
        for _ in range(60):
            mid = (lo + hi) / 2
            if log_slope(mid) > 0: lo = mid
            else: hi = mid
        peak = lo
        # where t w is far above delta the normal tail has no shape left
        edge = 1 / (1 + min(abs(t) * mp.exp(peak), 4 + 4 * abs(delta)) + abs(delta))
        step = min(width, edge, mp.mpf(1) / 4) / 4
        top = term(peak); total = top
        for d in (1, -1):
            i = 1
            while True:
                v = term(peak + d * i * step)
                total += v
                if v < top * mp.mpf(10) ** -(mp.mp.dps - 5): break
                i += 1
        out.append(total * step)
    return tuple(out)


def solve(tails, p, lo, hi, log=False, upper=False):
    """x with lower (or upper) tail p: bisection to a narrow bracket, then the secant method."""
    p = mp.mpf(p)
    index = 1 if upper else 0
    arg = (lambda v: mp.exp(v)) if log else (lambda v: v)
    f = lambda v: mp.log(tails(arg(v))[index]) - mp.log(p)
    rising = f(hi) > 0
    for _ in range(36):
        mid = (lo + hi) / 2
        if (f(mid) > 0) == rising: hi = mid
        else: lo = mid
    root = mp.findroot(f, (lo, hi), tol=mp.mpf(10) ** -80, maxsteps=30, verify=False)
    assert abs(f(root)) < mp.mpf(10) ** -35, (p, lo, hi, mp.nstr(root, 20))
    return arg(root)


def num(x):
    return float(mp.nstr(x, 25))


def write(name, checks, columns, rows, rel_tol, document):
    doc = {
        "id": "computed." + name, "checks": checks,
        "source": {"document": document, "publisher": "mpmath " + mp.__version__, "year": 2026,
                   "taken_from": "tests/reference/distributions.py"},
        "provenance": "computed", "columns": columns,
        "expected": {"table": {"value": rows, "rel_tol": rel_tol}},
        "notes": ["At least 25-digit working precision; printed as the nearest f64."],
    }
    HERE.mkdir(exist_ok=True)
    text = json.dumps(doc, ensure_ascii=False)
    text = text.replace('"value": [[', '"value": [\n[').replace("], [", "],\n[")
    (HERE / (name + ".json")).write_text(text + "\n")
    print(name, len(rows), flush=True)


DOFS = [1, 1.5, 2, 3, 4, 7.25, 10, 30, 100, 1000, 100000]


def normal():
    rows = [["survival", z, num(phi_cdf(-mp.mpf(z)))] for z in (0.001, 0.1, 0.5, 1, 1.5, 2, 3, 5, 8, 12, 20, 35)]
    for p in (1e-30, 1e-20, 1e-10, 1e-6, 1e-3, 0.025, 0.05, 0.1, 0.25, 0.3, 0.49, 0.4999999):
        z = mp.findroot(lambda v: mp.log(phi_cdf(v)) - mp.log(mp.mpf(p)), (mp.mpf(-12), mp.mpf(0)),
                        solver="anderson", tol=mp.mpf(10) ** -80, maxsteps=300, verify=False)
        rows.append(["quantile", p, num(z)])
    write("normal", "normal upper tail and quantile", ["function", "argument", "value"], rows, 1e-12,
          "standard normal distribution, by definition")


def student():
    rows = []
    for nu in DOFS:
        for t in (0.001, 0.1, 0.5, 1, 1.7, 2.5, 5, 12, 60, 1000):
            v = t_tails(t, nu)[1]
            if v > mp.mpf(10) ** -290:
                rows.append(["survival", t, nu, num(v)])
        for p in (1e-12, 1e-6, 0.001, 0.025, 0.05, 0.2, 0.3, 0.45, 0.49999):
            hi = mp.log(mp.mpf(10)) * (mp.mpf(14) / nu) + 4
            t = solve(lambda v: t_tails(v, nu), p, mp.mpf(-14), hi, log=True, upper=True)
            rows.append(["quantile_upper", p, nu, num(t)])
    write("student_t", "Student t upper tail and upper quantile", ["function", "argument", "dof", "value"],
          rows, 1e-10, "Student's t distribution by the incomplete beta function")


def chi2():
    rows = []
    for nu in DOFS:
        for r in (0.01, 0.3, 0.8, 0.97, 1, 1.03, 1.5, 3, 10, 60):
            x = nu * r
            lo, up = chi2_tails(x, nu)
            if lo > mp.mpf(10) ** -290: rows.append(["cdf", x, nu, num(lo)])
            if up > mp.mpf(10) ** -290: rows.append(["survival", x, nu, num(up)])
        for p in (1e-12, 1e-6, 0.005, 0.05, 0.5, 0.95, 0.999):
            for upper in (False, True):
                x = solve(lambda v: chi2_tails(v, nu), p, mp.log(nu) - 70 / mp.mpf(nu) - 1,
                          mp.log(nu) + 5, log=True, upper=upper) if nu <= 100 else \
                    solve(lambda v: chi2_tails(v, nu), p, mp.log(nu) - 15 / mp.sqrt(nu),
                          mp.log(nu) + 15 / mp.sqrt(nu), log=True, upper=upper)
                rows.append(["quantile_upper" if upper else "quantile", p, nu, num(x)])
    write("chi_squared", "chi-squared tails and quantiles", ["function", "argument", "dof", "value"],
          rows, 1e-10, "chi-squared distribution by the incomplete gamma function")


def f():
    rows = []
    for n1 in (1, 2, 4, 9.5, 30, 180, 5000):
        for n2 in (1, 3, 8, 25.5, 100, 5000):
            for x in (0.001, 0.2, 0.9, 1, 1.3, 4, 20, 3000):
                lo, up = f_tails(x, n1, n2)
                if lo > mp.mpf(10) ** -290: rows.append(["cdf", x, n1, n2, num(lo)])
                if up > mp.mpf(10) ** -290: rows.append(["survival", x, n1, n2, num(up)])
            for p in (1e-9, 0.001, 0.05, 0.5):
                span = 4 + 50 / mp.mpf(min(n1, n2))
                for upper in (False, True):
                    x = solve(lambda v: f_tails(v, n1, n2), p, -span, span, log=True, upper=upper)
                    rows.append(["quantile_upper" if upper else "quantile", p, n1, n2, num(x)])
    write("f_ratio", "F tails and quantiles", ["function", "argument", "dof1", "dof2", "value"],
          rows, 1e-10, "F distribution by the incomplete beta function")


def noncentral():
    rows = []
    for nu in (1, 2, 3, 4, 9, 29.5, 99, 999):
        for delta in (0, 0.5, 2.85, 5.2, 16.4, 52, -3):
            for z in (-6, -2, 0, 2, 7):
                t = float(round(delta + z * (1 + abs(delta) / (2 * nu) ** 0.5 / 2), 3))
                lo, up = nct_tails(t, nu, delta)
                if lo > mp.mpf(10) ** -280: rows.append(["cdf", t, nu, delta, num(lo)])
                if up > mp.mpf(10) ** -280: rows.append(["survival", t, nu, delta, num(up)])
    write("noncentral_t", "noncentral t tails", ["function", "t", "dof", "noncentrality", "value"],
          rows, 1e-10, "noncentral t distribution, integrated over the chi distribution")


def noncentral_edge():
    """At the edge of the promised range, |delta| up to 100, |t| up to 1e6, dof from 1 to 1e5."""
    import random
    chosen = random.Random(20)
    cases = [(t, nu, delta) for nu in (1, 1.5, 3, 40) for delta in (100, -100)
             for t in (1e6, -1e6, 1e4, -1e4, 250, -250, 100, -100)]
    cases += [(95, 1000, 100), (103, 1000, 100), (99.5, 1e5, 100), (-100.6, 1e5, -100)]
    for _ in range(40):
        nu = round(10 ** chosen.uniform(0, 2.5), 3)
        delta = round(chosen.choice((-1, 1)) * chosen.uniform(60, 100), 3)
        t = round(delta * (1 + chosen.gauss(0, 1.5) / nu ** 0.5), 3)
        cases.append((t, nu, delta))
    rows = []
    mp.mp.dps = 40
    for t, nu, delta in cases:
        lo, up = nct_tails(t, nu, delta)
        if lo > mp.mpf(10) ** -280: rows.append(["cdf", float(t), nu, delta, num(lo)])
        if up > mp.mpf(10) ** -280: rows.append(["survival", float(t), nu, delta, num(up)])
    mp.mp.dps = 50
    write("noncentral_t_edge", "noncentral t tails at the edge of the range", ["function", "t", "dof", "noncentrality", "value"],
          rows, 1e-9, "noncentral t distribution, integrated over the chi distribution")


def tolerance():
    rows = []
    mp.mp.dps = 30
    for n in (2, 3, 4, 5, 6, 7, 8, 9, 10, 15, 20, 30, 50, 100, 300):
        for coverage, confidence in ((0.90, 0.95), (0.95, 0.95), (0.99, 0.95), (0.95, 0.90), (0.99, 0.99)):
            delta = mp.sqrt(2) * mp.erfinv(2 * mp.mpf(coverage) - 1) * mp.sqrt(n)
            target = mp.log(1 - mp.mpf(confidence))
            miss = lambda v: mp.log(nct_tails(v, n - 1, delta, (-1,))[0]) - target
            guess = delta * (1 + 2 / mp.sqrt(n))
            t = mp.findroot(miss, (guess, guess * mp.mpf("1.1")), tol=mp.mpf(10) ** -36, maxsteps=40, verify=False)
            assert abs(miss(t)) < mp.mpf(10) ** -17
            rows.append([n, coverage, confidence, num(t / mp.sqrt(n))])
    mp.mp.dps = 50
    write("tolerance_one_sided", "one-sided normal tolerance factor k, exact", ["n", "coverage", "confidence", "k"],
          rows, 1e-9, "noncentral t quantile at confidence, n - 1 degrees of freedom, z sqrt(n), over sqrt(n)")


def grubbs():
    rows = []
    for n in list(range(3, 31)) + [40, 60, 100, 300, 1000]:
        for alpha in (0.10, 0.05, 0.01, 0.001):
            row = [n, alpha]
            for sides in (1, 2):
                p = mp.mpf(alpha) / (sides * n)
                hi = mp.log(mp.mpf(10)) * (mp.mpf(14) / (n - 2)) + 4
                t = solve(lambda v: t_tails(v, n - 2), p, mp.mpf(-3), hi, log=True, upper=True)
                row.append(num((n - 1) / mp.sqrt(n) * mp.sqrt(t * t / (n - 2 + t * t))))
            rows.append(row)
    write("grubbs", "Grubbs critical values", ["n", "alpha", "one_sided", "two_sided"], rows, 1e-9,
          "from the Student t quantile at alpha/n and alpha/(2n)")


if __name__ == "__main__":
    import sys
    names = sys.argv[1:] or ["normal", "student", "chi2", "f", "noncentral", "noncentral_edge", "grubbs", "tolerance"]
    for name in names:
        globals()[name]()
