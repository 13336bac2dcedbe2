// The rule. Numbers of the tables are whole and of any size: BigInt keeps them
// exact. A leave number "never" is -1, an act number "never" is null.

const NEVER_LEAVE = -1n;
const NEVER_ACT = null;

function floorDiv(a, b) {
  const q = a / b;
  return a % b !== 0n && (a < 0n) !== (b < 0n) ? q - 1n : q;
}

function larger(a, b) { return a > b ? a : b; }

function tableOf(stage) {
  return {
    units: BigInt(stage.plants * stage.leaves),
    leave: stage.leave.map(x => x === null ? NEVER_LEAVE : BigInt(x)),
    act: stage.act.map(x => x === null ? NEVER_ACT : BigInt(x)),
  };
}

// numbersAt returns the leave and the act number at a stop (from 1) after units
// units in all. With the planned units they are the table's own. Otherwise they
// lie on straight lines between the table's stops, rounded to the careful side.
function numbersAt(t, stop, units) {
  const stops = t.leave.length;
  const last = stops - 1;
  const final = t.leave[last];
  if (stop > last) {
    const leave = larger(NEVER_LEAVE, floorDiv(final * units, t.units * BigInt(stops)));
    return {leave, act: leave + 1n};
  }
  const floor = larger(0n, final);
  let leave = NEVER_LEAVE, act = NEVER_ACT;
  let first = firstNumber(t.leave.slice(0, last), NEVER_LEAVE);
  if (stop > first) {
    const [num, den] = readBoundary(t, t.leave.slice(0, last), first, units, final + 1n, floor, null);
    leave = larger(NEVER_LEAVE, floorDiv(num, den));
  }
  first = firstNumber(t.act.slice(0, last), NEVER_ACT);
  if (stop > first) {
    const [num, den] = readBoundary(t, t.act.slice(0, last), first, units, floor, final + 1n, final + 1n);
    act = larger(leave + 1n, -floorDiv(-num, den));
  }
  return {leave, act};
}

function firstNumber(numbers, never) {
  const i = numbers.findIndex(x => x !== never);
  return i < 0 ? numbers.length : i;
}

// readBoundary returns a boundary's value at units as a fraction. Before and
// after the stops that have a number it changes by below and above per whole
// visit. A number equal to capped is not left downwards.
function readBoundary(t, numbers, first, units, below, above, capped) {
  const visit = t.units * BigInt(t.leave.length);
  const last = numbers.length - 1;
  const i = Number(units / t.units) - 1;
  const unitsAt = stop => t.units * BigInt(stop + 1);
  if (i < first && numbers[first] === capped || i >= first && i < last && units % t.units !== 0n && numbers[i + 1] === capped) {
    return [capped, 1n];
  }
  if (i < first) return [numbers[first] * visit - below * (unitsAt(first) - units), visit];
  if (i >= last) return [numbers[last] * visit + above * (units - unitsAt(last)), visit];
  const rise = numbers[i + 1] - numbers[i];
  return [numbers[i] * t.units + rise * (units - unitsAt(i)), t.units];
}

// worthOf returns what a stop counts where so many are found on so many plants.
function worthOf(stage, total, plants) {
  if (stage.cap > 0) return Math.min(total, stage.cap);
  if (!stage.points) return total;
  if (stage.points.insects) return edgesOf(stage.points, plants * stage.leaves).filter(least => least <= total).length;
  return pointsOf(stage.points, plants)[total];
}

// atCap tells whether a stop has the most that it counts: looking may have ended
// there, so that it is a full one.
function atCap(stage, s) { return stage.cap > 0 && s.total >= stage.cap; }

// fullPlants returns the plants that a stop is held against.
function fullPlants(stage, s) { return atCap(stage, s) ? stage.plants : s.plants; }

// mostAt returns the most that a stop can count, Infinity where insects are added up.
function mostAt(stage, plants) {
  if (stage.shares) return worthOf(stage, plants, plants);
  if (stage.cap > 0) return stage.cap;
  return stage.points ? edgesOf(stage.points, plants * stage.leaves).length : Infinity;
}

// leastFor returns the least count at a full stop that is worth so much.
function leastFor(stage, worth) {
  if (worth <= 0) return 0;
  if (!stage.points) return worth;
  if (stage.points.insects) return edgesOf(stage.points, stage.plants * stage.leaves)[worth - 1];
  return pointsOf(stage.points, stage.plants).findIndex(x => x >= worth);
}

// edgesOf returns the least count of insects on n leaves that is worth 1, 2, ... points:
// what the count says for the upper mean against the lower, of a negative binomial
// whose variance is that of leaves alike at a stop.
const knownEdges = new Map();

function edgesOf(p, n) {
  const key = JSON.stringify([p, n]);
  if (knownEdges.has(key)) return knownEdges.get(key);
  const said = n => {
    const q = i => (p.insects.unit[i] + (n - 1) * p.insects.stop[i]) / n;
    const m0 = n * p.lower, m1 = n * p.upper, q0 = q(0), q1 = q(1);
    const each = Math.log(m1) - Math.log1p(m1 * q1) - (Math.log(m0) - Math.log1p(m0 * q0));
    const empty = (m, q) => q === 0 ? -m : -Math.log1p(m * q) / q;
    return {next: x => Math.log1p(x * q1) - Math.log1p(x * q0) + each, none: empty(m1, q1) - empty(m0, q0)};
  };
  const full = said(p.units), s = said(n);
  let whole = 0;
  for (let x = 0; x < p.insects.full; x++) whole += full.next(x);
  const scale = p.top / whole;
  let sum = s.none - full.none;
  const far = 2 * p.insects.full * Math.ceil(Math.max(n, p.units) / p.units);
  const edges = [];
  for (let x = 0; x <= far && edges.length < p.top; x++) {
    for (const worth = Math.round(scale * sum); edges.length < Math.min(worth, p.top);) edges.push(x);
    sum += s.next(x);
  }
  knownEdges.set(key, edges);
  return edges;
}

// pointsOf returns the points of a stop of n plants by what is found there: what
// that says for the upper share against the lower, beta-binomial with one rho.
const knownPoints = new Map();

function pointsOf(p, n) {
  const key = JSON.stringify([p, n]);
  if (knownPoints.has(key)) return knownPoints.get(key);
  const c = 1 - p.rho;
  const step = (share, i, n) => Math.log(share * c + i * p.rho) - Math.log((1 - share) * c + (n - i - 1) * p.rho);
  const evidence = n => {
    const sums = [0];
    for (let i = 0; i < n; i++) sums.push(sums[i] + (step(p.upper, i, n) - step(p.lower, i, n)));
    return sums;
  };
  const nothing = n => {
    let sum = 0;
    for (let i = 0; i < n; i++) sum += Math.log((1 - p.upper) * c + i * p.rho) - Math.log((1 - p.lower) * c + i * p.rho);
    return sum;
  };
  const scale = p.top / evidence(p.units)[p.units];
  const less = nothing(n) - nothing(p.units);
  const points = evidence(n).map((e, x) => Math.max(Math.min(x, 1), Math.round(scale * (less + e))));
  knownPoints.set(key, points);
  return points;
}

// numbersOf is numbersAt for what the stops of a stage count: points are worth the
// same however many plants were seen.
function numbersOf(stage, t, stop, units) {
  if (!stage.points) return numbersAt(t, stop, units);
  const i = Math.min(stop, t.leave.length) - 1;
  return {leave: t.leave[i], act: t.act[i]};
}

function verdictOf(total, leave, act) {
  if (total <= leave) return "leave";
  if (act !== NEVER_ACT && total >= act) return "act";
  return "continue";
}

// decide answers after the stops seen so far, each {total, plants, sign}. The
// first verdict stands, whatever the stops after it show.
function decide(stage, stops) {
  const t = tableOf(stage);
  const count = t.leave.length;
  const a = {verdict: "continue", stop: stops.length, plants: 0, total: 0, counted: 0, ended: 0, units: 0, leave: null, act: null,
    signs: 0, signMissing: false, decidedAt: 0, next: null, uneven: false};
  let total = 0n, units = 0n, most = 0, leave = NEVER_LEAVE, act = NEVER_ACT;
  stops.forEach((s, i) => {
    const plants = fullPlants(stage, s);
    total += BigInt(worthOf(stage, s.total, plants));
    units += BigInt(plants * stage.leaves);
    a.total += s.total;
    a.plants += s.plants;
    if (atCap(stage, s)) a.ended++;
    most += mostAt(stage, plants);
    a.uneven = a.uneven || plants !== stage.plants;
    ({leave, act} = numbersOf(stage, t, i + 1, units));
    if (most < Infinity && act !== NEVER_ACT && act > BigInt(most) && i + 1 < count) act = NEVER_ACT;
    if (a.verdict !== "continue") return;
    if (s.sign) a.signs++;
    a.verdict = verdictOf(total, leave, act);
    if (a.verdict !== "continue") a.decidedAt = i + 1;
    if (a.verdict === "act" && stage.sign && (a.signs >= stage.sign.stops) === stage.sign.absent) {
      a.verdict = "leave";
      a.signMissing = true;
    }
  });
  a.counted = Number(total);
  a.units = Number(units);
  a.leave = leave === NEVER_LEAVE ? null : Number(leave);
  a.act = act === NEVER_ACT ? null : Number(act);
  if (a.verdict === "continue" && stops.length < count) a.next = lookAhead(stage, t, stops.length, total, units);
  return a;
}

// lookAhead says what would have to be found at the next stop, with the planned plants.
function lookAhead(stage, t, stop, total, units) {
  const {leave, act} = numbersOf(stage, t, stop + 1, units + t.units);
  const next = {plants: stage.plants, leave: null, act: null, anyLeaves: false};
  const most = mostAt(stage, stage.plants);
  if (leave >= total) {
    const room = Number(leave - total);
    next.anyLeaves = room >= most && !stage.shares;
    next.leave = room < most ? leastFor(stage, room + 1) - 1 : stage.shares ? stage.plants : leastFor(stage, most);
  }
  if (act !== NEVER_ACT && Number(act - total) <= most) next.act = leastFor(stage, Number(act - total));
  return next;
}

// firstVerdict returns the first stop at which a verdict can come.
function firstVerdict(stage) {
  const i = stage.leave.findIndex((x, j) => x !== null || stage.act[j] !== null);
  return i < 0 ? stage.leave.length : i + 1;
}
