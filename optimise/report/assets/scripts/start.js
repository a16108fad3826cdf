/* Start of the page, its switches, and printing. */

function startSwitches() {
  const root = byId("switches");
  root.hidden = false;
  for (const input of root.querySelectorAll("input[name=units]")) {
    input.checked = input.value === state.system;
    input.addEventListener("change", () => setUnits(input.value));
  }
  for (const input of root.querySelectorAll("input[name=theme]")) {
    input.addEventListener("change", () => {
      setTheme(input.value);
      tell("theme");
    });
  }
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => tell("theme"));
}

function setUnits(system) {
  if (state.system === system) return;
  state.system = system;
  document.documentElement.dataset.units = system;
  for (const input of document.querySelectorAll("input[name=units]")) input.checked = input.value === system;
  refreshQuantities();
  tell("units");
}

/** The sheet and the circuit alone, on a page of paper. */
function printSheet() {
  document.documentElement.dataset.paper = "sheet";
  addEventListener("afterprint", () => delete document.documentElement.dataset.paper, { once: true });
  print();
}

function setTheme(theme) {
  if (theme === "auto") delete document.documentElement.dataset.theme;
  else document.documentElement.dataset.theme = theme;
}

/** Names in the opening paragraph become buttons that choose the machine. */
function startPicks() {
  for (const pick of document.querySelectorAll(".pick")) {
    const index = Number(pick.dataset.design);
    pick.replaceWith(
      make("button", { type: "button", class: "link pick", "data-design": index, onclick: () => select(index) }, pick.textContent),
    );
  }
}

/** Paper is light, and shows what is folded away on the screen. */
function startPrinting() {
  let before = null;
  addEventListener("beforeprint", () => {
    const one = document.documentElement.dataset.paper === "sheet";
    const folded = one ? [] : [...document.querySelectorAll(".more-limits:not([open])")];
    const tables = one ? [] : [...document.querySelectorAll(".unfold[aria-expanded=false]")];
    before = { theme: document.documentElement.dataset.theme ?? "auto", folded, tables };
    folded.forEach((details) => details.setAttribute("open", ""));
    tables.forEach((button) => button.click());
    setTheme("light");
    tell("print");
  });
  addEventListener("afterprint", () => {
    if (!before) return;
    before.folded.forEach((details) => details.removeAttribute("open"));
    before.tables.forEach((button) => button.click());
    setTheme(before.theme);
    before = null;
    tell("print");
  });
}

function stayPlain(reason) {
  const message = byId("message");
  message.replaceChildren(
    make("strong", {}, "The charts of this page do not run in this browser. "),
    `${reason} The tables below stand in for them.`,
  );
  byId("live").hidden = true;
  byId("plain").hidden = false;
}

async function start() {
  if (typeof DecompressionStream === "undefined") {
    stayPlain("It cannot unpack compressed data.");
    return;
  }
  try {
    await readContent();
    byId("live").hidden = false;
    startSwitches();
    startPicks();
    startFilters();
    startSheet();
    startTable();
    startCompare();
    startPairs();
    startParallel();
    startSolid();
    startChosen();
    startBench();
    startSections();
    startContents();
    startPrinting();
    applyFilters();
    startAddress();
    byId("plain").hidden = true;
    document.documentElement.dataset.ready = "yes";
  } catch (error) {
    stayPlain(`The reason: ${brief(String(error?.message ?? error), 160)}.`);
    throw error;
  }
}
