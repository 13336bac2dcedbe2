// What is shown. Texts go in as text, never as HTML: field names are anybody's.

const $ = id => document.getElementById(id);

function el(tag, properties, ...children) {
  const e = Object.assign(document.createElement(tag), properties);
  e.append(...children);
  return e;
}

function setText(id, text) {
  if ($(id).textContent !== text) $(id).textContent = text;
}

function show() {
  const v = state.current ? visitOf(state.current) : null;
  const walking = v !== null && !v.finished && stageOf(v) !== null;
  $("start").hidden = walking;
  $("walk").hidden = !walking;
  if (walking) showWalk(v, stageOf(v));
  else showStart();
}

// The first screen: fields.

let dateTyped = false; // else it is today's, also where the page stays open for days

function showStart() {
  showNotices();
  const open = state.visits.filter(v => !v.finished);
  const done = state.visits.filter(v => v.finished);
  $("open-part").hidden = open.length === 0;
  $("open-list").replaceChildren(...open.map(openItem));
  $("fields").replaceChildren(...[...new Set(state.visits.map(v => v.field))].map(f => el("option", {value: f})));
  $("none-done").hidden = done.length > 0;
  $("earlier-part").hidden = earlier.length === 0;
  $("earlier-list").replaceChildren(...earlier.flatMap(e => e.visits.map(v => {
    const r = replay(v.log);
    return el("li", {}, el("strong", {}, visitTitle(v)), ", " + say(v.finished ? "card.earlier_visit" : "card.earlier_unfinished", {Stops: stopsText(r.stops.length)}));
  })));
  $("hand-over").hidden = results() === "";
  $("done-list").replaceChildren(...done.slice().reverse().map(doneItem));
  $("results").value = results();
  $("share").hidden = !navigator.share;
  if (!dateTyped) $("date").value = today();
}

function showNotices() {
  const notices = [];
  const notice = (...children) => notices.push(el("div", {className: "notice"}, ...children));
  if (!store.lasting) notice(say("card.keeps_nothing"));
  if (keepFault) notice(keepFault);
  if (unread) {
    const text = el("textarea", {readOnly: true, rows: 3, value: unread});
    text.setAttribute("aria-label", say("card.unread_label"));
    notice(say("card.unread"), text);
  }
  $("notices").replaceChildren(...notices);
}

function visitTitle(v) {
  const parts = [v.field, v.stage, dateText(v.date)];
  return parts.filter(Boolean).join(", ");
}

function openItem(v) {
  const stage = stageOf(v);
  const r = replay(v.log);
  const at = stage ? say("card.at_stop", {Stop: r.stops.length + 1, Counts: countsText(stage, r)}) : say("card.stage_not_here");
  const b = el("button", {type: "button", className: "wide left", disabled: !stage}, el("strong", {}, visitTitle(v)), el("br", {}), at);
  b.addEventListener("click", () => { state.current = v.id; save(); show(); toTop(); });
  return el("li", {}, b);
}

function countsText(stage, r) {
  const total = r.stops.reduce((n, s) => n + s.total, r.now.total);
  const plants = r.stops.reduce((n, s) => n + s.plants, r.now.plants);
  const Units = plantsText(stage, plants);
  return stage.shares ? say("card.so_far_share", {Total: total, Units}) : say("card.so_far_mean", {Insects: insectsText(total), Units});
}

function doneItem(v) {
  const stage = stageOf(v);
  const r = replay(v.log);
  const item = el("li", {className: "finished"}, el("strong", {}, visitTitle(v)));
  const line = text => { if (text) item.append(el("p", {}, text)); };
  if (stage && r.stops.length > 0) {
    const a = decide(stage, r.stops);
    line(a.verdict === "continue" ? say("card.ended", {Head: say("card.head_ended"), Seen: seenText(stage, a)}) : verdictText(stage, a));
    if (a.verdict !== "act") line(backText(stage, v, r.stops));
  } else {
    line(say("card.no_stop_done"));
  }
  line(v.note ? say("card.remark_was", {Remark: v.note}) : "");
  line(v.sent ? say("card.handed_on", {Date: dateText(v.sent)}) : v.copied ? say("card.copied_on", {Date: dateText(v.copied)}) : say("card.not_handed"));
  const again = el("button", {type: "button"}, say("card.open_again"));
  again.disabled = !stage;
  again.setAttribute("aria-label", say("card.open_again_visit", {Visit: visitTitle(v)}));
  again.addEventListener("click", () => { change(v, () => { v.finished = false; }); state.current = v.id; save(); show(); toTop(); });
  item.append(el("div", {className: "row"}, again, removeButton(v)));
  return item;
}

// removeButton asks once more before it removes a visit.
function removeButton(v) {
  const b = el("button", {type: "button"}, say("card.remove"));
  b.setAttribute("aria-label", say("card.remove_visit", {Visit: visitTitle(v)}));
  let asked = false;
  b.addEventListener("click", () => {
    if (!asked) {
      asked = true;
      b.textContent = v.sent ? say("card.remove_sure") : say("card.remove_not_handed");
      b.removeAttribute("aria-label");
      return;
    }
    state.visits = state.visits.filter(x => x !== v);
    save();
    show();
  });
  return b;
}

// makeStages lists the growth stages; which of a stage's tables is taken is asked apart.
function makeStages() {
  const names = [...new Set(card.stages.map(s => s.name))];
  const one = names.length === 1;
  $("stages").hidden = one && names[0] === "";
  for (const name of names) {
    const input = el("input", {type: "radio", name: "stage", value: name, checked: one, required: true});
    const text = el("span", {}, el("strong", {}, name), " " + say("card.threshold", {Threshold: tablesOf(name)[0].threshold}));
    $("stages").append(el("label", {className: "tick"}, input, text));
  }
  showLasts();
}

// tablesOf returns the tables of a stage: several where what earlier visits found chooses.
function tablesOf(name) { return card.stages.filter(s => s.name === name); }

// stagePicked returns the tables of the stage that is picked, none where none is.
function stagePicked() {
  const picked = document.querySelector("input[name=stage]:checked");
  return picked ? tablesOf(picked.value) : [];
}

function lastPicked() {
  const picked = document.querySelector("input[name=last]:checked");
  return picked ? picked.value : "";
}

// tablePicked returns the table that a visit is to be walked with, null where that is not
// said yet.
function tablePicked() {
  const tables = stagePicked();
  if (tables.length === 1) return tables[0];
  return tables.find(s => s.last === lastPicked()) || null;
}

// showLasts asks what earlier visits found: for the table, where the stage has several, or
// else for the next visit alone.
function showLasts() {
  const tables = stagePicked(), was = lastPicked();
  const many = tables.length > 1;
  $("lasts").hidden = !many;
  $("found-part").hidden = many || tables.length === 0 && card.stages.every(s => s.last);
  $("last-choices").replaceChildren(...(many ? tables : []).map(s => {
    const input = el("input", {type: "radio", name: "last", value: s.last, checked: s.last === was});
    return el("label", {className: "tick"}, input, el("span", {}, capital(s.fields)));
  }));
}

// clean takes out what is not seen but acts on what is: the season file takes no
// such names.
function clean(name) {
  return name.replace(/[\u0000-\u001f\u007f-\u009f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff]/g, " ").trim().replace(/\s+/g, " ");
}

function startForm(event) {
  event.preventDefault();
  const field = clean($("field").value);
  const stage = document.querySelector("input[name=stage]:checked"), table = tablePicked();
  const fault = !field ? say("card.fault_field") : !stage ? say("card.fault_stage") : !table ? say("card.fault_last") : !$("date").value ? say("card.fault_date") : "";
  setText("new-fault", fault);
  if (fault) return;
  startVisit(field, table, $("date").value, $("found").checked, clean($("scout").value));
  // The next field may be in another stage, and of others is known what they are: both are
  // chosen anew.
  stage.checked = new Set(card.stages.map(s => s.name)).size === 1;
  pickLast("");
  showLasts();
  $("field").value = "";
  $("found").checked = foundTicked = lastTicked = false;
  $("stops-part").open = $("table-part").open = false;
  if ($("where-part")) $("where-part").open = true;
  dateTyped = false;
  show();
  toTop();
}

let foundTicked = false, lastTicked = false; // by the card, not by the scout

// foundBefore ticks the box where an earlier visit on this card found the pest,
// and takes its own tick back when the name becomes that of another field.
function foundBefore() {
  const name = clean($("field").value).toLowerCase();
  const earlier = state.visits.filter(v => v.field.toLowerCase() === name);
  const known = earlier.some(v => v.found || replay(v.log).stops.some(s => s.total > 0));
  if (known || foundTicked) $("found").checked = known;
  foundTicked = known;
  const last = knownLast(earlier);
  if (last || lastTicked) pickLast(last);
  lastTicked = last !== "";
}

function pickLast(last) {
  for (const input of document.querySelectorAll("input[name=last]")) input.checked = input.value === last;
}

// knownLast returns what the visits of a field on this card found before the day of the new
// one, as the tables of the stage that is picked tell it; "" where that is not known.
function knownLast(visits) {
  const tables = stagePicked();
  const walked = visits.filter(v => v.date <= ($("date").value || today()) && replay(v.log).stops.length > 0);
  if (tables.length < 2 || walked.length === 0) return "";
  const last = walked.reduce((a, b) => b.date >= a.date ? b : a);
  const found = walked.some(v => v.found || replay(v.log).stops.some(s => s.total > 0));
  const more = tables[0].back && tables[0].back.more_from && sawMore(tables[0], replay(last.log).stops, (stageOf(last) || tables[0]).leaves);
  const want = !found ? ["none"] : more ? ["more"] : ["found", "little"];
  const table = tables.find(s => want.includes(s.last));
  return table ? table.last : "";
}

function toTop() { window.scrollTo(0, 0); }

// Handing over.

function handedOver(id) {
  const n = results().split("\n").length - 1;
  for (const v of finished()) v.sent = today();
  earlierSent();
  save();
  show();
  setText("handed", say(id, {Visits: count("count.visits", n)}));
}

// copied notes that the results left the page, which is not yet that they arrived.
function copied(id) {
  const n = results().split("\n").length - 1;
  for (const v of finished()) v.copied = today();
  save();
  show();
  setText("handed", say(id, {Visits: count("count.visits", n)}));
}

async function copyResults() {
  const text = results();
  try {
    await navigator.clipboard.writeText(text);
    copied("card.copied_visits");
    return;
  } catch (e) { /* not allowed for files in this browser: the old way */ }
  $("results").focus();
  $("results").select();
  if (document.execCommand("copy")) copied("card.copied_visits");
  else setText("handed", say("card.copy_by_hand"));
}

async function shareResults() {
  try {
    await navigator.share({title: say("card.share_title", {Title: card.title}), text: results()});
    handedOver("card.shared_visits");
  } catch (e) {
    if (e.name !== "AbortError") setText("handed", say("card.share_failed"));
  }
}

function saveResults() {
  const url = URL.createObjectURL(new Blob([results()], {type: "text/plain"}));
  const link = el("a", {href: url, download: say("card.file_name", {Date: today()})});
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(url), 60000);
  copied("card.saved_visits");
}

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

function begin() {
  load();
  findEarlier();
  openDisk().then(fromDisk).then(() => { if (disk && !$("start").hidden) show(); keptChanged(); document.documentElement.dataset.disk = String(disk !== null); });
  makeStages();
  $("new-form").addEventListener("submit", startForm);
  $("new-form").noValidate = true;
  for (const id of ["field", "date"]) $(id).addEventListener("change", foundBefore);
  $("stages").addEventListener("change", () => { showLasts(); foundBefore(); });
  $("last-choices").addEventListener("change", () => { lastTicked = false; });
  $("more-part").addEventListener("submit", walkOn);
  $("stage-choice").addEventListener("change", () => { change(visitOf(state.current), takeTable); show(); });
  $("note").addEventListener("input", () => change(visitOf(state.current), v => { v.note = $("note").value.trim(); }));
  $("date").addEventListener("input", () => { dateTyped = true; });
  document.addEventListener("visibilitychange", () => { if (!document.hidden && !$("start").hidden && !dateTyped) $("date").value = today(); });
  $("type-part").addEventListener("submit", takeTyped);
  $("tap-insects").addEventListener("submit", addInsects);
  const clicks = {
    copy: copyResults, share: shareResults, download: saveResults, print: () => window.print(),
    "to-start": () => { state.current = null; typing = null; asking = ""; save(); show(); toTop(); },
    infested: tap("i"), clean: tap("c"), "no-insects": tap("p0"), sign: tap("s"), done: stopDone, rest: restClean, cap: capReached, "walk-on": settled(ask("more")),
    "short-no": ask(""), "short-yes": event => { asking = ""; tap("d")(event); }, "more-no": ask(""), sent: () => handedOver("card.handed_visits"),
    undo: undoTap, "undo-end": settled(undoTap), "give-up": settled(endVisit), finish: settled(endVisit), "type-cancel": closeTyping,
    type: () => { typing = replay(visitOf(state.current).log).stops.length + 1; openTyping(); },
  };
  for (const id of ["typed-total", "typed-plants"]) $(id).addEventListener("focus", event => event.target.select());
  for (const [id, run] of Object.entries(clicks)) $(id).addEventListener("click", run);
  // The same card open twice: the other page has just kept something.
  window.addEventListener("storage", event => {
    if (event.key === KEY && event.newValue !== null) { load(); typing = null; show(); }
  });
  $("screen").hidden = false;
  document.documentElement.classList.add("live");
  show();
}

begin();
