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
