// What the scout is told, in the words of the command check. Every sentence comes
// with the page's data, in its language; none is written here.

const card = JSON.parse(document.getElementById("card-data").textContent);
const words = card.words;
const plural = pluralOf(card.language);

// pluralOf returns the function that names the plural form of a number.
function pluralOf(language) {
  try {
    if (Intl.PluralRules.supportedLocalesOf([language]).length > 0) {
      const rules = new Intl.PluralRules(language);
      return n => rules.select(n);
    }
  } catch (e) { /* an old browser */ }
  return n => n === 1 ? "one" : "other";
}

function filled(text, values) {
  return text.replace(/\{\{\.([A-Za-z]+)\}\}/g, (whole, name) => name in values ? String(values[name]) : whole);
}

// say returns a sentence with its placeholders filled.
function say(id, values = {}) { return filled(words[id], values); }

// count returns a number of things by the plural form of the language.
function count(id, n, values = {}) {
  const forms = words[id];
  return filled(forms[plural(n)] || forms.other, {N: numberText(n), ...values});
}

// numberText writes a number with the marks of the language.
function numberText(n) {
  const [whole, decimals] = String(n).split(".");
  const grouped = whole.replace(/\B(?=(\d{3})+$)/g, words["language.thousands_mark"]);
  return decimals ? grouped + words["language.decimal_mark"] + decimals : grouped;
}

function capital(text) { return text[0].toUpperCase() + text.slice(1); }
function stopsText(n) { return count("count.stops", n); }
function insectsText(n) { return count("count.insects", n); }
function daysText(n) { return count("count.days", n); }
function plantsText(stage, n) {
  return stage.own ? count("count.own", n, {One: stage.one, Many: stage.many}) : count("count.plants", n);
}
function infestedMany(stage) { return stage.shares ? say("unit.infested", {Many: stage.many}) : say("unit.insects"); }
function neverOr(n) { return n === null ? say("verdict.never") : String(n); }

function leavesText(stage, a) {
  return stage.own && stage.leaves === 1 ? plantsText(stage, a.plants) : count("count.leaves", a.plants * stage.leaves);
}

function seenText(stage, a) {
  const Stops = stopsText(a.stop);
  const seen = {Total: a.total, Units: plantsText(stage, a.plants), Insects: insectsText(a.total), Leaves: leavesText(stage, a), Stops};
  const Seen = stage.shares
    ? a.ended > 0 ? say("verdict.seen_ended", seen) : say("verdict.seen_share", seen)
    : a.ended > 0 ? say("verdict.seen_mean_ended", seen) : say("verdict.seen_mean", seen);
  if (stage.points) return say("verdict.worth", {Seen, Points: count("count.points", a.counted)});
  return stage.cap > 0 ? say("verdict.counted", {Seen, Counted: a.counted}) : Seen;
}

// addedText says what the running total is the total of.
function addedText(stage) {
  if (stage.points) return say("worth.points");
  return stage.cap > 0 ? say("worth.capped", {What: infestedMany(stage), Cap: stage.cap}) : infestedMany(stage);
}

// verdictHead returns the words that a verdict begins with, to be shown large.
function verdictHead(a) {
  if (a.signMissing) return say("verdict.head_not");
  return {act: () => say("verdict.head_act"), leave: () => say("verdict.head_leave"), continue: () => say("verdict.head_on")}[a.verdict]();
}

function verdictText(stage, a) {
  const Seen = seenText(stage, a);
  const Head = verdictHead(a);
  if (a.signMissing) {
    const seen = {Head, Seen, Sign: stage.sign.text, Stops: stopsText(a.signs)};
    if (stage.sign.absent) return say("verdict.sign_present", {...seen, At: stage.sign.at});
    return say("verdict.sign_missing", {...seen, Asked: stage.sign.stops});
  }
  const Verdict = a.verdict === "act" ? say("verdict.act", {Head}) : say("verdict.leave", {Head});
  if (a.decidedAt > 0 && a.decidedAt < a.stop) return say("verdict.decided", {Verdict, Stop: a.decidedAt, Seen});
  if (a.verdict === "act") return say("verdict.act_at", {Verdict, Seen, Act: a.act});
  if (a.verdict === "leave") return say("verdict.leave_at", {Verdict, Seen, Leave: neverOr(a.leave)});
  let Why = say("verdict.between", {Leave: neverOr(a.leave), Act: neverOr(a.act)});
  if (a.leave === null && a.act === null) {
    const First = firstVerdict(stage);
    Why = a.stop >= First ? say("verdict.none_yet") : say("verdict.none_before", {First});
  }
  return say("verdict.on", {Head, Next: a.stop + 1, Seen, Why});
}

function nextText(stage, a) {
  if (!a.next) return "";
  const n = a.next;
  const What = stage.shares ? say("next.what_share") : say("next.what_mean");
  const IfSign = andTheSign(stage, a);
  const at = {Stop: a.stop + 1, Units: plantsText(stage, n.plants)};
  if (n.anyLeaves) return say("next.any_leaves", at);
  const parts = [];
  if (n.leave !== null) parts.push(n.leave === 0 ? say("next.none_leaves", {What}) : say("next.few_leave", {N: n.leave, What}));
  if (n.act !== null) parts.push(say("next.many_act", {N: n.act, What, IfSign}));
  if (n.act === 0) return say("next.any_acts", {...at, IfSign});
  if (parts.length === 0 && a.stop + 1 < firstVerdict(stage)) return ""; // the verdict has said it
  if (parts.length === 0) return say("next.no_verdict", at);
  const all = {...at, Parts: parts.join(say("next.comma"))};
  if (n.leave === null) return say("next.no_leave", all);
  if (n.act === null) return say("next.no_act", all);
  return n.act > n.leave + 1 ? say("next.both", all) : say("next.last", all);
}

// andTheSign says what the sign must still do for a count to bring act.
function andTheSign(stage, a) {
  if (!stage.sign) return "";
  const missing = stage.sign.stops - a.signs;
  if (stage.sign.absent) {
    if (missing <= 0) return say("next.sign_too_often");
    return missing === 1 ? say("next.sign_not_there") : "";
  }
  if (missing <= 0) return "";
  return missing === 1 ? say("next.sign_there") : say("next.sign_too_seldom");
}

function signText(stage, a) {
  if (!stage.sign || a.signMissing) return "";
  return say("sign.seen", {Sign: stage.sign.text, Stops: stopsText(a.signs), Asked: stage.sign.asked});
}

function lateText(a) {
  if (!(a.decidedAt > 0 && a.decidedAt < a.stop)) return "";
  return say("verdict.late", {Stop: a.decidedAt});
}

function unevenText(stage, a) {
  if (!a.uneven) return "";
  const planned = {Units: plantsText(stage, stage.plants), Many: stage.many};
  return stage.points ? say("verdict.uneven_points", planned) : say("verdict.uneven", planned);
}
