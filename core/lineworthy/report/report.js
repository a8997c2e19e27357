// Makes the report alive: pins and rows light each other up, filters, search, larger maps. Without it all is still there.
"use strict";
(() => {
  const all = (selector, within = document) => [...within.querySelectorAll(selector)];
  const rows = all(".finding");
  const rowOf = new Map(rows.map((row) => [row.dataset.finding, row]));
  const pins = all(".pin");
  const pinsOf = new Map(rows.map((row) => [row.dataset.finding, []]));
  for (const pin of pins) pinsOf.get(pin.dataset.finding).push(pin);

  // --- lighting up -------------------------------------------------------------------------------------------------
  function light(number) {
    for (const lit of all(".lit")) lit.classList.remove("lit");
    const lit = pinsOf.get(number) || [];
    for (const item of [rowOf.get(number), ...lit]) item?.classList.add("lit");
    for (const layer of all(".pins")) layer.classList.toggle("lighting", lit.length > 0);
  }
  const numberAt = (target) => target.closest?.("[data-finding]")?.dataset.finding;
  const focused = () => numberAt(document.activeElement);
  document.addEventListener("mouseover", (event) => light(numberAt(event.target) ?? focused()));
  document.addEventListener("focusin", (event) => light(numberAt(event.target)));

  // --- from pin to row and back ------------------------------------------------------------------------------------
  document.addEventListener("click", (event) => {
    const link = event.target.closest?.("a.pin, .places a");
    if (!link) return;
    event.preventDefault();
    const isPin = link.matches(".pin");
    const goal = isPin ? rowOf.get(link.dataset.finding) : document.getElementById(link.hash.slice(1))?.closest(".pin");
    if (!goal) return;
    if (!isPin) visit(goal);
    goal.focus({ preventScroll: true });
    goal.scrollIntoView({ block: isPin ? "center" : "nearest", inline: "nearest" });
  });

  // --- one tab stop per map, arrows move among its pins --------------------------------------------------------------
  const order = new Map(all(".pins").map((layer) => [layer, all(".pin", layer)]));
  const shownIn = (layer) => order.get(layer).filter((pin) => !pin.hasAttribute("hidden"));
  function visit(pin) {
    for (const other of order.get(pin.parentNode)) other.setAttribute("tabindex", other === pin ? "0" : "-1");
  }
  function settle(layer) {
    const shown = shownIn(layer);
    const stop = shown.find((pin) => pin.getAttribute("tabindex") === "0") ?? shown[0];
    if (stop) visit(stop);
  }
  document.addEventListener("keydown", (event) => {
    const pin = event.target.closest?.(".pin");
    if (!pin || event.altKey || event.ctrlKey || event.metaKey) return;
    const shown = shownIn(pin.parentNode);
    const at = shown.indexOf(pin);
    const goal = { ArrowRight: at + 1, ArrowDown: at + 1, ArrowLeft: at - 1, ArrowUp: at - 1, Home: 0, End: -1 }[event.key];
    if (goal === undefined) return;
    event.preventDefault();
    const next = shown.at(goal % shown.length);
    visit(next);
    next.focus();
  });

  // --- filters -----------------------------------------------------------------------------------------------------
  const buttons = all("[data-filter]");
  const search = document.getElementById("search");
  const heading = (row) => row.closest(".check").querySelector("h4").textContent;
  const texts = new Map(rows.map((row) => [row, `${row.textContent} ${heading(row)}`.toLowerCase()]));
  function apply() {
    const wanted = { area: new Set(), consequence: new Set() };
    for (const button of buttons) {
      if (button.getAttribute("aria-pressed") === "true") wanted[button.dataset.filter].add(button.dataset.value);
    }
    const words = search.value.toLowerCase().split(/\s+/).filter(Boolean);
    const passes = (row) =>
      ["area", "consequence"].every((kind) => !wanted[kind].size || wanted[kind].has(row.dataset[kind])) &&
      words.every((word) => texts.get(row).includes(word));
    for (const row of rows) {
      row.hidden = !passes(row);
      for (const pin of pinsOf.get(row.dataset.finding) || []) pin.toggleAttribute("hidden", row.hidden);
    }
    for (const block of all(".check, .area")) block.hidden = all(".finding", block).every((row) => row.hidden);
    for (const layer of order.keys()) settle(layer);
    const shown = rows.filter((row) => !row.hidden).length;
    document.getElementById("shown").textContent = `${shown} of ${rows.length} shown`;
    document.querySelector(".nothing").hidden = shown > 0;
  }
  if (search) {
    for (const button of buttons) {
      button.addEventListener("click", () => {
        button.setAttribute("aria-pressed", String(button.getAttribute("aria-pressed") !== "true"));
        apply();
      });
    }
    search.addEventListener("input", apply);
    document.getElementById("reset").addEventListener("click", () => {
      for (const button of buttons) button.setAttribute("aria-pressed", "false");
      search.value = "";
      apply();
    });
    document.querySelector(".filters").hidden = false;
  }
  for (const layer of order.keys()) settle(layer);

  // --- larger maps ---------------------------------------------------------------------------------------------------
  const SCALES = [1, 1.6, 2.5, 4, 6];
  for (const tools of all(".zoom")) {
    tools.hidden = false;
    const map = tools.parentNode.querySelector(".map");
    const pane = map.parentNode;
    let step = 0;
    tools.addEventListener("click", (event) => {
      const change = Number(event.target.dataset?.zoom ?? 0);
      const next = Math.min(Math.max(step + change, 0), SCALES.length - 1);
      const [x, y] = [pane.scrollLeft + pane.clientWidth / 2, pane.scrollTop + pane.clientHeight / 2];
      const grown = SCALES[next] / SCALES[step];
      step = next;
      map.classList.toggle("large", step > 0);
      map.style.width = `${100 * SCALES[step]}%`;
      map.style.setProperty("--shrink", String(1 / Math.sqrt(SCALES[step])));
      pane.tabIndex = step > 0 ? 0 : -1;
      pane.scrollTo({ left: x * grown - pane.clientWidth / 2, top: y * grown - pane.clientHeight / 2 });
    });
  }

  // --- paper shows everything ------------------------------------------------------------------------------------------
  let closed = [];
  addEventListener("beforeprint", () => {
    closed = all("details:not([open])");
    for (const fold of closed) fold.open = true;
  });
  addEventListener("afterprint", () => {
    for (const fold of closed) fold.open = false;
  });
})();
