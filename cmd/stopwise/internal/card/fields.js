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
