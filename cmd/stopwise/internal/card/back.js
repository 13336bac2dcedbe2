// When to come back: the sooner of the protocol's interval and the time that the
// pest needs from the upper limit of today's level to the threshold, less the
// days that a treatment takes. At least a day.

function daysBack(stage, stops, found) {
  const back = stage.back;
  if (!back || stops.length === 0) return null;
  const seen = found || stops.some(s => s.total > 0);
  const interval = seen ? back.once_found : back.until_found;
  const level = upperLimit(stage, stops, back.z);
  const reach = daysToThreshold(stage, level, back.growth);
  let days = interval, rule = "interval";
  if (reach.days - back.lead < days) {
    days = reach.days - back.lead;
    rule = days < 1 ? "limit" : "growth";
  }
  // A thousandth of a day is rounding, not time.
  days = Math.max(1, Math.floor(Math.min(days, 1e6) + 1e-3));
  return {days, rule, interval, found: seen, threshold: reach.text};
}

// upperLimit is one-sided: for a share Wilson's, on the plants' effective number
// (Kish); for a mean the normal one.
function upperLimit(stage, stops, z) {
  const total = stops.reduce((n, s) => n + s.total, 0);
  const units = stops.reduce((n, s) => n + s.plants * stage.leaves, 0);
  const level = total / units;
  if (!stage.shares) {
    const mean = Math.max(level, 1 / units);
    const alike = stops.reduce((n, s) => n + s.plants * stage.leaves * (1 + (s.plants * stage.leaves - 1) * stage.clump.count_rho), 0);
    return level + z * Math.sqrt(leafVariance(stage.clump, mean) * alike) / units;
  }
  const n = stops.reduce((sum, s) => sum + s.plants / (1 + (s.plants - 1) * stage.clump.rho), 0);
  if (total === units) return 1;
  const z2 = z * z;
  const center = (level + z2 / (2 * n)) / (1 + z2 / n);
  return Math.min(1, center + z / (1 + z2 / n) * Math.sqrt(level * (1 - level) / n + z2 / (4 * n * n)));
}

function leafVariance(clump, mean) {
  if (clump.k) return mean + mean * mean / clump.k;
  if (!clump.taylor && !clump.iwao) return mean;
  const over = clump.taylor ? clump.taylor.a * Math.pow(mean, clump.taylor.b) - mean
    : clump.iwao.a * mean + (clump.iwao.b - 1) * mean * mean;
  return mean + Math.max(0, over);
}

// daysToThreshold looks at the later stages too, whose thresholds count from the
// day on which the crop can be in them; it may leave its own stage at once.
function daysToThreshold(stage, level, growth) {
  let at = card.all.findIndex(s => s.name === stage.name);
  const own = card.all[at];
  let best = {days: growthDays(own, level, growth), text: own.text};
  let advance = 0;
  for (; at + 1 < card.all.length && card.all[at].lasts > 0; at++) {
    const next = card.all[at + 1];
    if (card.all[at].name !== stage.name) advance += card.all[at].lasts;
    if (next.shares !== stage.shares) break;
    const days = Math.max(advance, growthDays(next, level, growth));
    if (days < best.days) best = {days, text: `${next.text} of ${next.name}`};
  }
  return best;
}

function growthDays(to, level, growth) {
  const logit = p => Math.log(p) - Math.log1p(-p);
  const gap = to.shares ? logit(to.threshold) - logit(level) : Math.log(to.threshold / level);
  if (gap <= 0) return 0;
  return growth === 0 ? Infinity : gap / growth;
}

function backText(stage, visit, stops) {
  const b = daysBack(stage, stops, visit.found);
  if (!b) return stage.back ? "" : "The protocol does not say when to come back: ask the specialist.";
  const on = dateAfter(visit.date, b.days);
  const when = `Come back in ${counted(b.days, "day", "days")}${on ? ", on " + on : ""}.`;
  const interval = `the protocol's ${counted(b.interval, "day", "days")} for a field where the pest is ${b.found ? "found" : "not found yet"}`;
  if (b.rule === "interval") return `${when} By ${interval}.`;
  if (b.rule === "growth") return `${when} Sooner than ${interval}: the pest could reach the threshold ${b.threshold} before, and a treatment takes ${counted(stage.back.lead, "day", "days")}.`;
  return `${when} Do not wait ${interval}: the pest could be at the threshold ${b.threshold} before a treatment is done.`;
}

// dateAfter counts in UTC, so that no clock change moves the day.
function dateAfter(date, days) {
  const d = new Date(date + "T00:00:00Z");
  if (isNaN(d)) return "";
  d.setUTCDate(d.getUTCDate() + days);
  return dateText(d.toISOString().slice(0, 10));
}

const WEEKDAYS = ["Sunday", "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday"];
const MONTHS = ["January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"];

function dateText(date) {
  const d = new Date(date + "T00:00:00Z");
  return isNaN(d) ? date : `${WEEKDAYS[d.getUTCDay()]} ${d.getUTCDate()} ${MONTHS[d.getUTCMonth()]}`;
}
