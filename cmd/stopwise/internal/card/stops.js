// The second screen: one field.

let typing = null; // the stop whose totals are being typed, from 1
let askedPlants = 0; // a surprising number of plants that has been asked about

function showWalk(v, stage) {
  const r = replay(v.log);
  const a = r.stops.length > 0 ? decide(stage, r.stops) : null;
  setText("walk-field", v.field);
  setText("walk-stage", [tableName(stage), say("card.threshold", {Threshold: stage.threshold})].filter(Boolean).join(", "));
  if (document.activeElement !== $("note")) $("note").value = v.note;
  $("walk-notice").hidden = !keepFault;
  setText("walk-notice", keepFault);
  showVerdict(v, stage, r, a);
  showWhere(r, a);
  showStops(stage, r);
  showTable(stage, r);
  showHand(v, stage, r, a);
}

function showVerdict(v, stage, r, a) {
  const head = a ? verdictHead(a) : say("card.head_begin");
  const text = a ? verdictText(stage, a) : say("card.begin", {Head: head, First: firstVerdict(stage), Last: stage.leave.length});
  if ($("verdict-text").textContent !== text) {
    $("verdict-text").replaceChildren(...headed(text, head));
    $("scroll").scrollTop = 0;
  }
  $("verdict").dataset.verdict = a ? a.verdict : "none";
  setText("verdict-next", a ? nextText(stage, a) : "");
  setText("verdict-back", a && a.verdict === "leave" ? backText(stage, v, r.stops) : "");
  const remarks = [];
  if (!a) {
    if (stage.worth) remarks.push(stage.worth);
    remarks.push(stage.infested + (stage.unit ? " " + say("card.sample_unit", {Unit: stage.unit}) : ""));
    if (stage.sign) remarks.push(say("card.sign_to_look_for", {Sign: stage.sign.text, At: stage.sign.absent ? stage.sign.at : stopsText(stage.sign.stops)}));
  }
  if (a) remarks.push(lateText(a), unevenText(stage, a), signText(stage, a));
  if (stage.broken) remarks.push(stage.broken);
  if (a && a.verdict === "act") remarks.push(...card.cautions);
  const shown = remarks.filter(Boolean);
  if ($("remarks").textContent !== shown.join("")) $("remarks").replaceChildren(...shown.map(t => el("p", {}, t)));
}

// showWhere shows where the next stop is, as long as one is to come.
function showWhere(r, a) {
  if (!$("where-part")) return;
  $("where-part").hidden = a !== null && a.verdict !== "continue" && !r.walkOn;
  const place = (card.places || [])[r.stops.length];
  setText("where-next", place ? say("where.next", {Stop: r.stops.length + 1, Where: place}) : "");
}

// headed parts the head at the start of a sentence from the rest, to be shown
// large. The text stays the same.
function headed(text, head) {
  const [, link, rest] = text.slice(head.length).match(/^([,،:]? ?)([^]*)$/);
  return [el("strong", {}, head), el("span", {className: "unseen"}, link), el("span", {}, rest)];
}

function showStops(stage, r) {
  $("no-stops").hidden = r.stops.length > 0;
  $("stops-table").hidden = r.stops.length === 0;
  setText("counted-head", stage.shares ? say("card.counted_infested") : say("card.counted_insects"));
  setText("total-head", stage.points ? say("card.points_total") : say("card.total"));
  let total = 0;
  $("stops-rows").replaceChildren(...r.stops.map((s, i) => {
    total += worthOf(stage, s.total, fullPlants(stage, s));
    const b = el("button", {type: "button"}, say("card.correct"));
    b.setAttribute("aria-label", say("card.correct_stop", {Stop: i + 1}));
    b.addEventListener("click", () => { typing = i + 1; openTyping(); });
    const row = el("tr", {}, el("th", {scope: "row"}, String(i + 1)));
    row.append(...[s.sign ? say("card.with_sign", {Total: s.total}) : s.total, s.plants, total].map(x => el("td", {}, String(x))), el("td", {}, b));
    return row;
  }));
}

function showTable(stage, r) {
  setText("table-text", say("card.table_text", {What: addedText(stage), Units: plantsText(stage, stage.plants)}));
  $("table-rows").replaceChildren(...stage.leave.map((leave, i) => {
    const here = i === r.stops.length;
    const row = el("tr", {className: here ? "here" : ""}, el("th", {scope: "row"}, (here ? "▸ " : "") + (i + 1)));
    row.append(...[stage.plants * (i + 1), neverOr(leave), neverOr(stage.act[i])].map(x => el("td", {}, String(x))));
    if (here) row.setAttribute("aria-current", "step");
    return row;
  }));
}

function showHand(v, stage, r, a) {
  const decided = a !== null && a.verdict !== "continue";
  const over = r.stops.length >= stage.leave.length;
  const ending = decided && (!r.walkOn || over);
  const begun = r.now.plants > 0;
  $("type-part").hidden = typing === null;
  // Who taps on as before when the verdict comes means the count, not the verdict.
  if (ending && !endShown) endSince = performance.now();
  endShown = ending;
  if (!ending) asking = asking === "more" ? "" : asking;
  if (full(r, stage) || !begun) asking = asking === "short" ? "" : asking;
  $("count-part").hidden = typing !== null || ending || asking !== "";
  $("end-part").hidden = typing !== null || !ending || asking !== "";
  $("short-part").hidden = typing !== null || asking !== "short";
  $("more-part").hidden = typing !== null || asking !== "more";
  setText("short-title", say("card.short_stop", {Stop: r.stops.length + 1, Seen: r.now.plants, Units: plantsText(stage, stage.plants)}));
  setText("counts-as", stage.infested);
  $("walk-on").hidden = over;
  $("give-up").hidden = ending || typing !== null;
  $("give-up").disabled = begun;
  setText("give-up", begun ? say("card.end_first", {Stop: r.stops.length + 1})
    : decided ? say("card.finish") : r.stops.length > 0 ? say("card.end_without") : say("card.drop"));
  const all = full(r, stage);
  setText("now-title", say("card.now_stop", {Stop: r.stops.length + 1}));
  setText("now-total", stage.shares ? say("card.now_infested", {Total: r.now.total}) : say("card.now_insects", {Insects: insectsText(r.now.total)}));
  $("now-total").className = stage.shares ? "unseen" : ""; // it stands on the buttons
  setText("now-plants", say("card.now_of", {Seen: r.now.plants, Units: plantsText(stage, stage.plants)}));
  setText("clean-many", String(r.now.plants - r.now.total));
  setText("infested-many", String(r.now.total));
  for (const head of document.querySelectorAll("th.units")) head.textContent = capital(stage.many);
  $("tap-plants").hidden = !stage.shares;
  setText("no-insects", say("card.none_on_this", {One: stage.one}));
  setText("insects-label", say("card.insects_on_this", {One: stage.one}));
  setText("add-insects", say("card.add_this", {One: stage.one}));
  $("tap-insects").hidden = stage.shares;
  for (const id of ["infested", "clean", "no-insects", "add-insects", "insects"]) $(id).disabled = all;
  $("rest").disabled = all;
  $("cap").hidden = !stage.cap;
  if (stage.cap) setText("cap", say("card.cap", {Cap: stage.cap}));
  $("cap").disabled = all;
  showStageChoice(v, decided);
  $("sign").hidden = !stage.sign;
  $("sign").setAttribute("aria-checked", String(r.now.sign));
  setText("sign-box", r.now.sign ? "☒ " : "☐ ");
  $("undo").disabled = v.log.length === 0;
  $("done").disabled = !begun;
  $("done").className = all ? "strong" : "";
}

// full tells whether there is no more to look at at the stop.
function full(r, stage) { return r.now.plants >= stage.plants || atCap(stage, r.now); }

// A slip in the stage is mended until the verdict, among stages that count the
// same; a visit that was handed over keeps its own.
function showStageChoice(v, decided) {
  const like = card.stages.filter(s => s.shares === stageOf(v).shares);
  $("stage-part").hidden = like.length < 2 || Boolean(v.sent || v.copied);
  $("stage-choice").disabled = decided;
  if ($("stage-choice").length !== like.length) $("stage-choice").replaceChildren(...like.map(s => el("option", {value: tableName(s)}, tableName(s))));
  $("stage-choice").value = tableName(stageOf(v));
}

// takeTable gives a visit the table that was chosen in place of its own.
function takeTable(v) {
  const stage = card.stages.find(s => tableName(s) === $("stage-choice").value);
  v.stage = stage.name;
  if (!stage.last) return;
  v.last = stage.last;
  v.found = stage.last !== "none";
}

function keptChanged() {
  // Not as text: it is no part of what is read out or compared.
  $("kept").dataset.say = writes > 0 ? say("card.keeping") : disk ? say("card.kept") : store.lasting ? say("card.kept_by_browser") : say("card.not_kept");
}

let endShown = false, endSince = 0; // whether and since when the buttons after a verdict are there
let asking = ""; // "short" or "more"
const SETTLE = 900; // milliseconds after a verdict in which taps do not count

// settled runs an action unless the verdict has only just come.
function settled(run) {
  return event => { if (performance.now() - endSince >= SETTLE) run(event); };
}

function ask(what) {
  return () => {
    asking = what;
    show();
    if (what === "short") $("short-title").focus();
    if (what === "more") { $("more-why").value = ""; setText("more-fault", ""); $("more-why").focus(); }
  };
}

function stopDone(event) {
  const v = visitOf(state.current);
  if (full(replay(v.log), stageOf(v))) tap("d")(event);
  else ask("short")();
}

function restClean(event) {
  const v = visitOf(state.current);
  const left = stageOf(v).plants - replay(v.log).now.plants;
  if (left > 0) tap("r" + left)(event);
}

// capReached takes the stop as one with the most that it counts, or more.
function capReached(event) {
  const v = visitOf(state.current), stage = stageOf(v);
  tap(`t${stage.cap}/${stage.plants}/${replay(v.log).now.sign ? 1 : 0}`)(event);
}

function walkOn(event) {
  event.preventDefault();
  const why = clean($("more-why").value).slice(0, 200);
  setText("more-fault", why ? "" : say("card.say_why"));
  if (!why) return;
  asking = "";
  tap("w:" + why)(event);
}

function openTyping() {
  const v = visitOf(state.current), stage = stageOf(v), r = replay(v.log);
  const old = r.stops[typing - 1];
  const now = old || {total: "", plants: stage.plants, sign: r.now.sign};
  setText("type-title", old ? say("card.correct_stop", {Stop: typing}) : say("card.totals_of", {Stop: typing}));
  setText("typed-label", stage.shares ? capital(infestedMany(stage)) : say("card.insects"));
  setText("typed-seen", say("card.units_seen", {Units: capital(stage.many)}));
  $("typed-total").value = String(now.total);
  $("typed-plants").value = String(now.plants);
  $("typed-sign").checked = now.sign;
  $("typed-sign-part").hidden = !stage.sign;
  if (stage.sign) setText("typed-sign-text", say("card.sign_seen_here", {Sign: stage.sign.text}));
  setText("type-fault", "");
  show();
  $("typed-total").focus();
}

function closeTyping() {
  typing = null;
  show();
  ($("count-part").hidden ? $("finish") : $("type")).focus();
}

function takeTyped(event) {
  event.preventDefault();
  const v = visitOf(state.current), stage = stageOf(v);
  const total = whole($("typed-total").value), plants = whole($("typed-plants").value);
  const fault = typedFault(stage, total, plants);
  const many = !fault && plants > 5 * stage.plants && askedPlants !== plants;
  askedPlants = many ? plants : 0;
  setText("type-fault", many ? say("card.sure_many", {Units: plantsText(stage, plants), Planned: stage.plants}) : fault);
  if (fault || many) return;
  const counts = `${total}/${plants}/${stage.sign && $("typed-sign").checked ? 1 : 0}`;
  add(v, typing > replay(v.log).stops.length ? "t" + counts : `e${typing}:${counts}`);
  closeTyping();
}

function whole(text) { return /^\s*\d{1,9}\s*$/.test(text) ? Number(text) : null; }

function typedFault(stage, total, plants) {
  if (total === null) return say("card.fault_total", {What: infestedMany(stage)});
  if (plants === null || plants < 1 || plants > card.most_plants) return say("card.fault_plants", {Many: stage.many, Most: card.most_plants});
  if (stage.shares && total > plants) return say("card.fault_more", {Total: total, Units: plantsText(stage, plants)});
  return "";
}

function tap(action) {
  return event => {
    event.preventDefault();
    const v = visitOf(state.current);
    if (v) add(v, action);
    show();
  };
}

function addInsects(event) {
  event.preventDefault();
  const n = whole($("insects").value);
  if (n === null) { $("insects").focus(); return; }
  $("insects").value = "";
  add(visitOf(state.current), "p" + n);
  show();
}

function undoTap() {
  undo(visitOf(state.current));
  show();
}

function endVisit() {
  const v = visitOf(state.current);
  const r = replay(v.log);
  if (r.stops.length === 0 && r.now.plants === 0) state.visits = state.visits.filter(x => x !== v);
  else change(v, () => { v.finished = true; });
  state.current = null;
  typing = null;
  save();
  show();
  toTop();
}
