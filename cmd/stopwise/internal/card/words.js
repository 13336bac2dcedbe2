// What the scout is told, in the words of the command check.

const VERDICT_WORDS = {
  act: "ACT, the threshold is taken as reached",
  leave: "LEAVE the field and come back",
  continue: "WALK ON",
};

function counted(n, one, many) {
  return String(n).replace(/\B(?=(\d{3})+$)/g, ",") + " " + (n === 1 ? one : many);
}

function capital(text) { return text[0].toUpperCase() + text.slice(1); }
function stopsText(n) { return counted(n, "stop", "stops"); }
function plantsText(stage, n) { return counted(n, stage.one, stage.many); }
function infestedMany(stage) { return stage.shares ? `infested ${stage.many}` : "insects"; }
function neverOr(n) { return n === null ? "never" : String(n); }

function leavesText(stage, a) {
  return stage.one !== "plant" && stage.leaves === 1 ? plantsText(stage, a.plants) : counted(a.units, "leaf", "leaves");
}

function seenText(stage, a) {
  if (stage.shares) return `${a.total} infested of ${plantsText(stage, a.plants)} at ${stopsText(a.stop)}`;
  return `${counted(a.total, "insect", "insects")} on ${leavesText(stage, a)} at ${stopsText(a.stop)}`;
}

function verdictText(stage, a) {
  const seen = seenText(stage, a);
  const word = VERDICT_WORDS[a.verdict];
  if (a.signMissing && stage.sign.absent) {
    return `DO NOT TREAT YET, come back soon: the count is reached (${seen}), but the sign (${stage.sign.text}) was seen at ${stopsText(a.signs)}, and to act it must be seen at ${stage.sign.at}. Look again at the next visit.`;
  }
  if (a.signMissing) {
    return `DO NOT TREAT YET, come back soon: the count is reached (${seen}), but the sign (${stage.sign.text}) was seen at only ${stopsText(a.signs)}, and the rule asks for ${stage.sign.stops}. Look for it again at the next visit.`;
  }
  if (a.decidedAt > 0 && a.decidedAt < a.stop) return `${word}, as decided at stop ${a.decidedAt}. By now ${seen}.`;
  if (a.verdict === "act") return `${word}: ${seen} reaches the act number ${a.act}.`;
  if (a.verdict === "leave") return `${word}: ${seen} is not above the leave number ${neverOr(a.leave)}.`;
  let why = `between leave (${neverOr(a.leave)}) and act (${neverOr(a.act)})`;
  if (a.leave === null && a.act === null) {
    const first = firstVerdict(stage);
    why = a.stop >= first ? "no verdict yet" : `no verdict before stop ${first}`;
  }
  return `${word} to stop ${a.stop + 1}: ${seen}, ${why}.`;
}

function nextText(stage, a) {
  if (!a.next) return "";
  const n = a.next;
  const what = stage.shares ? "infested" : "insects";
  const at = `At stop ${a.stop + 1} (${plantsText(stage, n.plants)})`;
  const parts = [];
  if (n.leave !== null) parts.push(n.leave === 0 ? `none ${what} brings leave` : `${n.leave} ${what} or fewer brings leave`);
  if (n.act !== null) parts.push(`${n.act} ${what} or more brings act${andTheSign(stage, a)}`);
  if (n.act === 0) return `${at} any count brings act${andTheSign(stage, a)}.`;
  if (parts.length === 0 && a.stop + 1 < firstVerdict(stage)) return ""; // the verdict has said it
  if (parts.length === 0) return `${at} no count can bring a verdict yet.`;
  const text = `${at} ${parts.join(", ")}`;
  if (n.leave === null) return `${text}; leave is not possible there.`;
  if (n.act === null) return `${text}; act is not possible there.`;
  if (n.act > n.leave + 1) return `${text}, anything between walks on.`;
  return `${text}: it is the last stop.`;
}

// andTheSign says what the sign must still do for a count to bring act.
function andTheSign(stage, a) {
  if (!stage.sign) return "";
  const missing = stage.sign.stops - a.signs;
  if (stage.sign.absent) {
    if (missing <= 0) return " by the count, but the sign was seen too often";
    return missing === 1 ? " if the sign is not seen there" : "";
  }
  if (missing <= 0) return "";
  return missing === 1 ? " if the sign is seen there" : " by the count, but the sign was seen too seldom to act there";
}

function signText(stage, a) {
  if (!stage.sign || a.signMissing) return "";
  return `The sign (${stage.sign.text}) was seen at ${stopsText(a.signs)}; act asks for ${stage.sign.asked}.`;
}

function lateText(a) {
  if (!(a.decidedAt > 0 && a.decidedAt < a.stop)) return "";
  return `The verdict came at stop ${a.decidedAt}, and the stops after it do not change it: who walks on until the numbers look otherwise no longer has the plan's risks.`;
}

function unevenText(stage, a) {
  if (!a.uneven) return "";
  return `Not every stop had the planned ${plantsText(stage, stage.plants)}. The numbers are taken at the ${stage.many} really seen, rounded to the careful side.`;
}
