// What was typed. A visit keeps every action in its log, and what stands at its
// stops follows from the log; undo takes the last action back. Actions:
//   i, c     an infested plant, a clean plant
//   p12      a plant with 12 insects
//   s        the sign was seen at this stop, or was not after all
//   d        the stop is done
//   t3/20/1  the stop's totals as typed: counted, plants, sign
//   e2:3/20/0  the same as a correction of stop 2
//   r15      the other 15 plants of the stop are clean
//   w:why    walk on although there is a verdict, and why

const KEY = ["stopwise card", card.plan, ...card.stages.map(tableName)].join("/");

// The browser's storage outlives a closed page and an empty battery. Where a
// browser gives none to files, the page's address keeps the entries through a
// reload at least.
const store = openStore();

function openStore() {
  try {
    localStorage.setItem(KEY + "/probe", "1");
    localStorage.removeItem(KEY + "/probe");
    return {lasting: true, read: () => localStorage.getItem(KEY), write: text => localStorage.setItem(KEY, text),
      setAside: text => localStorage.setItem(KEY + "/unread/" + Date.now(), text)};
  } catch (e) {
    return {lasting: false,
      read: () => location.hash.startsWith("#kept=") ? decodeURIComponent(location.hash.slice(6)) : null,
      write: text => history.replaceState(null, "", "#kept=" + encodeURIComponent(text)),
      setAside: () => {}};
  }
}

let state = {version: 1, current: null, visits: []};
let unread = ""; // what was kept but cannot be read
let keepFault = ""; // why nothing can be kept just now

function load() {
  let text = null;
  try {
    text = store.read();
    if (text === null) return;
    const kept = JSON.parse(text);
    if (kept.version !== 1 || !Array.isArray(kept.visits) || !kept.visits.every(isVisit)) throw new Error("not visits");
    state = kept;
  } catch (e) {
    unread = text || String(e);
    store.setAside(unread);
  }
}

function isVisit(v) {
  return v && typeof v.id === "string" && typeof v.field === "string" && typeof v.date === "string" &&
    typeof v.stage === "string" && Number.isInteger(v.changes) && Array.isArray(v.log) && v.log.every(a => typeof a === "string" && ACTION.test(a));
}

const ACTION = /^(?:[icsdw]|r\d+|w:.{1,200}|p\d+|t\d+\/\d+\/[01]|e\d+:\d+\/\d+\/[01])$/;

function save() {
  state.saves = (state.saves || 0) + 1;
  const text = JSON.stringify(state);
  toDisk(text);
  try {
    store.write(text);
    keepFault = "";
  } catch (e) {
    keepFault = say("card.not_keeping", {Fault: e.name});
  }
}

function newId() {
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = b[6] & 0x0f | 0x40;
  b[8] = b[8] & 0x3f | 0x80;
  const h = Array.from(b, x => x.toString(16).padStart(2, "0")).join("");
  return [h.slice(0, 8), h.slice(8, 12), h.slice(12, 16), h.slice(16, 20), h.slice(20)].join("-");
}

function today() {
  const d = new Date();
  return [d.getFullYear(), d.getMonth() + 1, d.getDate()].map(n => String(n).padStart(2, "0")).join("-");
}

// tableName names a table by its stage and, where that has several, the fields it is for.
function tableName(stage) { return [stage.name, stage.fields].filter(Boolean).join(", "); }

// startVisit begins a visit with a table. Where a stage has several by what earlier
// visits found, the table says it.
function startVisit(field, stage, date, found, scout = "") {
  if (stage.last) found = stage.last !== "none";
  const v = {id: newId(), field, stage: stage.name, last: stage.last || "", date, found, scout, changes: 0, log: [], note: "", finished: false, sent: ""};
  state.visits.push(v);
  state.current = v.id;
  save();
  return v;
}

function visitOf(id) { return state.visits.find(v => v.id === id) || null; }
function stageOf(v) { return card.stages.find(s => s.name === v.stage && (s.last || "") === (v.last || "")) || null; }

// change notes a change of a visit: the count tells a newer copy of its results
// from an older one.
function change(v, edit) {
  edit(v);
  v.changes++;
  v.sent = "";
  save();
}

function add(v, action) { change(v, () => v.log.push(action)); }
function undo(v) { if (v.log.length > 0) change(v, () => v.log.pop()); }

// replay returns what stands at the stops, and the stop that is being counted.
function replay(log) {
  const empty = () => ({total: 0, plants: 0, sign: false});
  const r = {stops: [], now: empty(), walkOn: false, why: []};
  const typed = text => {
    const [total, plants, sign] = text.split("/").map(Number);
    return {total, plants, sign: sign === 1};
  };
  for (const a of log) {
    switch (a[0]) {
    case "i": r.now.total++; r.now.plants++; break;
    case "c": r.now.plants++; break;
    case "p": r.now.total += Number(a.slice(1)); r.now.plants++; break;
    case "s": r.now.sign = !r.now.sign; break;
    case "r": r.now.plants += Number(a.slice(1)); break;
    case "d": r.stops.push(r.now); r.now = empty(); break;
    case "t": r.stops.push(typed(a.slice(1))); r.now = empty(); break;
    case "e": {
      const [stop, counts] = a.slice(1).split(":");
      if (r.stops[stop - 1]) r.stops[stop - 1] = typed(counts);
      break;
    }
    case "w": r.walkOn = true; if (a.length > 2) r.why.push(say("card.why_noted", {Stop: r.stops.length, Why: a.slice(2)})); break;
    }
  }
  return r;
}

// resultLine is one finished visit as the season file's import reads it. The mark
// before it lets the line stand in any message.
function resultLine(v, plan = card.plan) {
  const stage = plan === card.plan ? stageOf(v) : null;
  const r = replay(v.log);
  const stops = r.stops;
  const line = {v: 1, id: v.id, plan, field: v.field, date: v.date, stage: v.stage,
    counts: stops.map(s => s.total), plants: stops.map(s => s.plants)};
  if (stage ? stage.sign : stops.some(s => s.sign)) line.signs = stops.map(s => s.sign ? 1 : 0);
  line.changes = Math.max(v.changes, stops.length);
  if (v.found) line.found = true;
  if (v.last) line.last = v.last;
  const note = [v.note, ...r.why].filter(Boolean).join("; ");
  if (note) line.note = note;
  if (v.scout) line.scout = v.scout;
  return "stopwise-visit " + JSON.stringify(line);
}

// finished returns the visits that can be handed over.
function finished() { return state.visits.filter(v => v.finished && replay(v.log).stops.length > 0); }

function results() {
  return [...finished().map(v => resultLine(v)), ...earlier.flatMap(e => e.visits.map(v => resultLine(v, e.plan)))].map(l => l + "\n").join("");
}

// Earlier cards, of another plan or of other stages, keep their visits on the
// phone beside this one's. Those with a stop that were not handed over are shown
// here too, finished or not.
let earlier = [];

function findEarlier() {
  earlier = [];
  if (!store.lasting) return;
  for (let i = 0; i < localStorage.length; i++) {
    const key = localStorage.key(i);
    const parts = key.split("/");
    if (parts[0] !== "stopwise card" || key === KEY || parts.includes("unread")) continue;
    try {
      const kept = JSON.parse(localStorage.getItem(key));
      if (kept.version !== 1) continue;
      const visits = kept.visits.filter(v => isVisit(v) && !v.sent && replay(v.log).stops.length > 0);
      if (visits.length > 0) earlier.push({key, plan: parts[1], kept, visits});
    } catch (e) { /* another card's to tell */ }
  }
}

// earlierSent marks the visits of earlier cards as handed over, in their places.
function earlierSent() {
  for (const e of earlier) {
    for (const v of e.visits) v.sent = today();
    localStorage.setItem(e.key, JSON.stringify(e.kept));
  }
  findEarlier();
}

// A browser that dies writes its storage seconds later or never; a database asked
// for strict durability tells when an entry is on the disk.
let disk = null;
let writes = 0; // saves that are on their way to the disk

function openDisk() {
  return new Promise(done => {
    try {
      const open = indexedDB.open("stopwise card", 1);
      open.onupgradeneeded = () => open.result.createObjectStore("cards");
      open.onsuccess = () => { disk = open.result; done(); };
      open.onerror = open.onblocked = () => done();
    } catch (e) { done(); }
  });
}

function toDisk(text) {
  if (!disk) return;
  writes++;
  document.documentElement.dataset.kept = "";
  keptChanged();
  const end = () => {
    writes--;
    if (writes === 0) document.documentElement.dataset.kept = String(state.saves);
    keptChanged();
  };
  try {
    const t = disk.transaction("cards", "readwrite", {durability: "strict"});
    t.objectStore("cards").put(text, KEY);
    t.oncomplete = end;
    t.onerror = t.onabort = () => { writes--; keptChanged(); };
  } catch (e) { writes--; }
}

// fromDisk takes what is on the disk where the browser's other storage is older.
function fromDisk() {
  return new Promise(done => {
    if (!disk) { done(); return; }
    const get = disk.transaction("cards").objectStore("cards").get(KEY);
    get.onerror = () => done();
    get.onsuccess = () => {
      try {
        const kept = JSON.parse(get.result);
        if (kept.version === 1 && kept.visits.every(isVisit) && (kept.saves || 0) > (state.saves || 0)) state = kept;
      } catch (e) { /* nothing there: the other storage is all there is */ }
      done();
    };
  });
}
