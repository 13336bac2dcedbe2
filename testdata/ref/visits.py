"""Makes testdata/marrow-vale/visits.csv: a season of visits of INVENTED fields.

    stopwise design protocol.toml --out plan.json
    stopwise table plan.json --format csv > table.csv
    python3 visits.py table.csv > visits.csv

Thirty fields are visited from 1 June 2026 on: every 6 days until the pest is found,
then every 3, until a verdict to act. Each visit ends where the tables of the plan say.
Ten fields stay clean, five stay about 3% infested, fifteen grow by 0.12 a day on the
logit scale from about 0.6%. The share infested at a stop is beta distributed with
rho 0.12 (Python's random, seed 11).
"""

import csv, datetime, math, random, sys

RHO, GROWTH, PLANTS, DAYS = 0.12, 0.12, 15, 49
random.seed(11)

tables = {}
for row in csv.DictReader(open(sys.argv[1])):
    number = lambda s, never: int(s) if s else never
    tables.setdefault(row["stage"], []).append((number(row["leave"], -1), number(row["act"], 10**9)))

out = csv.writer(sys.stdout, lineterminator="\n")
out.writerow(["field", "date", "stage", "stop", "plants", "infested", "sign"])
for field in range(1, 31):
    if field <= 10:
        start, growth = None, 0
    elif field <= 15:
        start, growth = math.log(0.03 / 0.97) + random.gauss(0, 0.4), 0
    else:
        start, growth = math.log(0.006 / 0.994) + random.gauss(0, 0.8), GROWTH
    day, found = random.randrange(6), False
    while day < DAYS:
        stage = "leafing" if day < 21 else "budding" if day < 35 else "pod fill"
        p = 0 if start is None else 1 / (1 + math.exp(-start - growth * day))
        total, acted = 0, False
        for stop, (leave, act) in enumerate(tables[stage], 1):
            q = random.betavariate(p * (1 - RHO) / RHO, (1 - p) * (1 - RHO) / RHO) if p > 0 else 0
            x = sum(random.random() < q for _ in range(PLANTS))
            total += x
            sign = ""
            if stage == "pod fill":
                sign = "yes" if random.random() < min(0.9, 2.5 * p) else "no"
            date = datetime.date(2026, 6, 1) + datetime.timedelta(days=day)
            out.writerow([f"Made {field}", date, stage, stop, PLANTS, x, sign])
            if total >= act:
                acted = True
            if total >= act or total <= leave:
                break
        found = found or total > 0
        if acted:
            break
        day += 3 if found else 6
