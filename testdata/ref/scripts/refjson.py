"""Write reference values as JSON: mpf values are printed to 20 significant digits."""
import json, os, platform, re, subprocess
from fractions import Fraction
import mpmath as mp
import numpy as np

HERE = os.path.dirname(os.path.abspath(__file__))
OUT = os.path.dirname(HERE)


def number(v, digits=20):
    """Mark a number so that it is printed with the given significant digits."""
    if isinstance(v, Fraction):
        v = mp.mpf(v.numerator) / mp.mpf(v.denominator)
    if v == 0:
        return 0
    return "@num:" + mp.nstr(mp.mpf(v), digits, min_fixed=-4, max_fixed=12) + "@"


def clean(o):
    if isinstance(o, dict):
        return {k: clean(v) for k, v in o.items()}
    if isinstance(o, (list, tuple)):
        return [clean(v) for v in o]
    if isinstance(o, (mp.mpf, Fraction)):
        return number(o)
    if isinstance(o, np.integer):
        return int(o)
    if isinstance(o, np.floating):
        return float(o)
    return o


def render(o, depth=0):
    """Indent outer levels; keep lists of scalars and small objects on one line."""
    flat = json.dumps(o, ensure_ascii=False)
    if not isinstance(o, (dict, list)) or (depth > 0 and len(flat) <= 170):
        return flat
    pad, end = " " * (depth + 1), " " * depth
    if isinstance(o, dict):
        rows = [f"{pad}{json.dumps(k)}: {render(v, depth + 1)}" for k, v in o.items()]
        return "{\n" + ",\n".join(rows) + "\n" + end + "}"
    if all(not isinstance(v, (dict, list)) for v in o):
        return flat
    return "[\n" + ",\n".join(pad + render(v, depth + 1) for v in o) + "\n" + end + "]"


def write(name, doc):
    text = render(clean(doc)) + "\n"
    text = re.sub(r'"@num:([^@]*)@"', r"\1", text)
    json.loads(text)
    with open(os.path.join(OUT, name), "w", encoding="utf-8") as f:
        f.write(text)
    print(name, len(text), "bytes")


def versions(*mods):
    v = ["Python " + platform.python_version()]
    v += [m.__name__ + " " + m.__version__ for m in mods]
    return ", ".join(v)


def rversion():
    return subprocess.run(["Rscript", "-e", 'cat(R.version.string)'], capture_output=True, text=True, check=True).stdout


def rscript(script, stdin=""):
    """Run an R script of this folder: text in, text out."""
    r = subprocess.run(["Rscript", "--vanilla", os.path.join(HERE, script)], input=stdin, capture_output=True, text=True)
    if r.returncode:
        raise SystemExit(r.stderr)
    return r.stdout
