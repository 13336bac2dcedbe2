// When to come back: the sooner of the protocol's interval and the time that the
// pest needs from the upper limit of today's level to the threshold, less the
// days that a treatment takes. At least a day.

function daysBack(stage, stops, found) {
  const back = stage.back;
  if (!back || stops.length === 0) return null;
  const limit = upperLimit(stage, stops);
  if (!limit) return null;
  const seen = found || stops.some(s => s.total > 0);
  const more = seen && back.more_from && sawMore(stage, stops);
  const interval = more ? back.more_found : seen ? back.once_found : back.until_found;
  if (back.by_intervals) { // chosen for the season: no growth makes the next visit sooner
    return {days: Math.max(1, Math.floor(interval + 1e-3)), rule: "interval", interval, found: seen, more, threshold: "", careful: false};
  }
  const reach = daysToThreshold(stage, limit.level, back.growth);
  let days = interval, rule = "interval";
  if (reach.days - back.lead < days) {
    days = reach.days - back.lead;
    rule = days < 1 ? "limit" : "growth";
  }
  // A thousandth of a day is rounding, not time.
  days = Math.max(1, Math.floor(Math.min(days, 1e6) + 1e-3));
  return {days, rule, interval, found: seen, more, threshold: reach.text, careful: limit.careful};
}

// sawMore reports whether what a visit saw counts as more found: its next visit is
// another one, and so is its table.
function sawMore(stage, stops, leaves = stage.leaves) {
  if (stage.cap > 0 || stage.points) {
    const counted = stops.reduce((n, s) => n + worthOf(stage, s.total, fullPlants(stage, s)), 0);
    return counted / stops.length >= stage.back.more_from - 1e-12;
  }
  const total = stops.reduce((n, s) => n + s.total, 0);
  const units = stops.reduce((n, s) => n + s.plants, 0) * leaves;
  return total / units >= stage.back.more_from - 1e-12;
}

// upperLimit looks up the limit of today's level after the stops up to the verdict.
// The page has the limits of the ends of a walk with the planned plants. Where a
// stop had others it takes the higher one of fewer planned stops with a larger share,
// or the threshold: what check says is then not sooner in any walk tried. It returns
// null where there is no limit to come back by.
function upperLimit(stage, stops) {
  const a = decide(stage, stops);
  const threshold = card.all.find(s => s.name === stage.name).threshold;
  const told = a.decidedAt > 0 ? stops.slice(0, a.decidedAt) : stops;
  const total = told.reduce((n, s) => n + worthOf(stage, s.total, fullPlants(stage, s)), 0);
  const even = told.every(s => fullPlants(stage, s) === stage.plants);
  if (a.signMissing) { // the count says that the threshold is reached
    return {level: threshold, careful: false};
  }
  if (even) {
    const level = lookUp(stage, told.length, total);
    return level === null ? null : {level, careful: false};
  }
  if (a.verdict !== "leave") return null;
  const seen = told.reduce((n, s) => n + fullPlants(stage, s), 0);
  const full = Math.floor(told.reduce((n, s) => n + Math.min(fullPlants(stage, s), stage.plants), 0) / stage.plants);
  let level = threshold;
  for (const stop of [full, full - 1]) {
    const share = stage.points ? stop / told.length : stop * stage.plants / seen;
    const found = stop < 1 ? null : lookUp(stage, stop, Math.ceil(total * share) + 1);
    if (found === null) return {level: threshold, careful: true};
    level = stop === full ? found : Math.max(level, found);
  }
  return {level, careful: true};
}

// lookUp returns the upper limit at a stop (from 1), null where it has none.
function lookUp(stage, stop, total) {
  const run = (stage.back.limits[stop - 1] || []).find(([last]) => total <= last);
  return run ? run[1] : null;
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
    if (days < best.days) best = {days, text: say("back.of_stage", {Threshold: next.text, Stage: next.name})};
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
  if (!b) return stage.back ? "" : say("scout.no_return");
  const careful = b.careful ? say("back.careful") : "";
  const Days = daysText(b.days), Date = dateAfter(visit.date, b.days);
  const Come = Date ? say("back.come", {Days, Date}) : say("back.come_in", {Days});
  const own = {Days: daysText(b.interval)};
  const Interval = b.more ? say("back.more", own) : b.found ? say("back.found", own) : say("back.not_found", own);
  if (b.rule === "interval") return say("back.by_interval", {Come, Interval}) + careful;
  if (b.rule === "growth") return say("back.by_growth", {Come, Interval, Threshold: b.threshold, Lead: daysText(stage.back.lead)}) + careful;
  return say("back.by_limit", {Come, Interval, Threshold: b.threshold}) + careful;
}

// dateAfter counts in UTC, so that no clock change moves the day.
function dateAfter(date, days) {
  const d = new Date(date + "T00:00:00Z");
  if (isNaN(d)) return "";
  d.setUTCDate(d.getUTCDate() + days);
  return dateText(d.toISOString().slice(0, 10));
}

function dateText(date) {
  const d = new Date(date + "T00:00:00Z");
  if (isNaN(d)) return date;
  const named = (id, n) => say(id).split(" ")[n];
  return say("date.long", {Weekday: named("date.weekdays", d.getUTCDay()), Day: count("date.day_of_month", d.getUTCDate()), Month: named("date.months", d.getUTCMonth())});
}
