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
  const a = {verdict: "continue", stop: stops.length, plants: 0, total: 0, units: 0, leave: null, act: null,
    signs: 0, signMissing: false, decidedAt: 0, next: null, uneven: false};
  let total = 0n, units = 0n, leave = NEVER_LEAVE, act = NEVER_ACT;
  stops.forEach((s, i) => {
    total += BigInt(s.total);
    units += BigInt(s.plants * stage.leaves);
    a.plants += s.plants;
    a.uneven = a.uneven || s.plants !== stage.plants;
    ({leave, act} = numbersAt(t, i + 1, units));
    if (stage.shares && act !== NEVER_ACT && act > units && i + 1 < count) act = NEVER_ACT;
    if (a.verdict !== "continue") return;
    if (s.sign) a.signs++;
    a.verdict = verdictOf(total, leave, act);
    if (a.verdict !== "continue") a.decidedAt = i + 1;
    if (a.verdict === "act" && stage.sign && (a.signs >= stage.sign.stops) === stage.sign.absent) {
      a.verdict = "leave";
      a.signMissing = true;
    }
  });
  a.total = Number(total);
  a.units = Number(units);
  a.leave = leave === NEVER_LEAVE ? null : Number(leave);
  a.act = act === NEVER_ACT ? null : Number(act);
  if (a.verdict === "continue" && stops.length < count) a.next = lookAhead(stage, t, stops.length, total, units);
  return a;
}

// lookAhead says what the next stop would have to show, with the planned plants.
function lookAhead(stage, t, stop, total, units) {
  const {leave, act} = numbersAt(t, stop + 1, units + t.units);
  const next = {plants: stage.plants, leave: null, act: null};
  if (leave >= total) {
    const most = leave - total;
    next.leave = Number(stage.shares && most > t.units ? t.units : most);
  }
  if (act !== NEVER_ACT && !(stage.shares && act - total > t.units)) next.act = Number(larger(0n, act - total));
  return next;
}

// firstVerdict returns the first stop at which a verdict can come.
function firstVerdict(stage) {
  const i = stage.leave.findIndex((x, j) => x !== null || stage.act[j] !== null);
  return i < 0 ? stage.leave.length : i + 1;
}
