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
  return stage.points ? pointsOf(stage.points, plants)[total] : total;
}

// atCap tells whether a stop has the most that it counts: looking may have ended
// there, so that it is a full one.
function atCap(stage, s) { return stage.cap > 0 && s.total >= stage.cap; }

// fullPlants returns the plants that a stop is held against.
function fullPlants(stage, s) { return atCap(stage, s) ? stage.plants : s.plants; }

// mostAt returns the most that a stop of shares can count.
function mostAt(stage, plants) { return worthOf(stage, plants, plants); }

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
    if (stage.shares) most += mostAt(stage, plants);
    a.uneven = a.uneven || plants !== stage.plants;
    ({leave, act} = numbersOf(stage, t, i + 1, units));
    if (stage.shares && act !== NEVER_ACT && act > BigInt(most) && i + 1 < count) act = NEVER_ACT;
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
  const next = {plants: stage.plants, leave: null, act: null};
  if (!stage.shares) {
    if (leave >= total) next.leave = Number(leave - total);
    if (act !== NEVER_ACT) next.act = Number(larger(0n, act - total));
    return next;
  }
  for (let x = 0; x <= stage.plants; x++) {
    const after = total + BigInt(worthOf(stage, x, stage.plants));
    if (after <= leave) next.leave = x;
    if (act !== NEVER_ACT && after >= act && next.act === null) next.act = x;
  }
  return next;
}

// firstVerdict returns the first stop at which a verdict can come.
function firstVerdict(stage) {
  const i = stage.leave.findIndex((x, j) => x !== null || stage.act[j] !== null);
  return i < 0 ? stage.leave.length : i + 1;
}
