/* Every machine that passes the filters, sortable, fifty to a leaf. */

const LEAF = 50;
const LIST_COLUMNS = [
  { key: "number", title: "No." },
  { key: TIME, title: "Cycle", kind: "time" },
  { key: "cycle.extend_s", title: "Out", kind: "time" },
  { key: "cycle.retract_s", title: "Back", kind: "time" },
  { key: FORCE, title: "Force", kind: "force", first: -1 },
  { key: OUTLAY, title: "Outlay", kind: "money" },
  { key: "oil.steady_degC", title: "Oil, steady", kind: "temperature" },
  { key: LEAST_MARGIN, title: "Least margin", kind: "share", first: -1 },
  { key: "binding", title: "Closest limit", text: true },
];

class MachineList {
  constructor(section) {
    this.sort = { key: TIME, direction: 1 };
    this.leaf = 0;
    this.cursor = 0;
    this.order = [];
    this.head = make("tr");
    this.body = make("tbody");
    this.marked = make("tbody", { class: "marked" });
    this.table = make(
      "table",
      { class: "ledger machines", role: "grid", "aria-label": "Machines" },
      make("thead", {}, this.head),
      this.marked,
      this.body,
    );
    this.box = make("div", { class: "scroller tall", role: "region", "aria-label": "Table of machines", tabindex: "-1" }, this.table);
    this.position = make("span", { class: "position" });
    this.back = make("button", { type: "button", class: "quiet", onclick: () => this.turn(-1) }, "‹ Before");
    this.on = make("button", { type: "button", class: "quiet", onclick: () => this.turn(1) }, "Next ›");
    const save = make("button", { type: "button", class: "quiet", id: "save-front", onclick: () => saveFront(this.order) }, "Save these as CSV");
    section.append(
      make("h3", { id: "list-title" }, "All of them, in figures"),
      make(
        "p",
        { class: "sentence" },
        "Press a heading to sort. Arrow keys go through the rows, Enter opens a machine's sheet. " +
          (planCount() ? "Yours and the steps of the plan stand first, whatever the filters." : "Yours stands first, whatever the filters."),
      ),
      swipeHint("Swipe the table sideways to see all figures."),
      this.box,
      make("div", { class: "under" }, this.position, make("span", { class: "tools" }, this.back, this.on, save)),
    );
    this.body.addEventListener("click", (event) => {
      const row = event.target.closest("tr[data-index]");
      if (row) select(Number(row.dataset.index));
    });
    this.body.addEventListener("keydown", (event) => this.pressed(event));
    this.writeHead();
    this.writeMarked();
  }

  /** The machine owned and the steps of the plan, whatever filters and order are. */
  writeMarked() {
    this.marked.replaceChildren(
      ...[OWNED, ...planSteps()].map((index) => {
        const machine = new Machine(index);
        const sign = machine.isOwned
          ? make("span", { class: "sign owned", "aria-hidden": true }, "◆")
          : make("span", { class: "key-step", "aria-hidden": true });
        const words = machine.isOwned ? "yours" : `step ${machine.row + 1}`;
        const name = make("button", { type: "button", class: "quiet" }, sign, " ", words);
        const attributes = { "data-marked": index, onclick: () => select(index) };
        return this.line(index, make("th", { scope: "row" }, name), attributes);
      }),
    );
  }

  writeHead() {
    this.head.replaceChildren(
      ...LIST_COLUMNS.map((column) => {
        const unit = column.kind ? brief(unitOf(column.kind), 8) : "";
        const sorted = this.sort.key === column.key;
        const direction = this.sort.direction > 0 ? "ascending" : "descending";
        const arrow = sorted ? (this.sort.direction > 0 ? " ↑" : " ↓") : "";
        const button = make(
          "button",
          { type: "button", class: "sort", onclick: () => this.sortBy(column) },
          column.title,
          make("span", { "aria-hidden": true }, arrow),
        );
        const cell = { scope: "col", "aria-sort": sorted ? direction : "none", class: column.text ? "text" : "" };
        return make("th", cell, button, unit ? make("i", {}, unit) : null);
      }),
    );
  }

  sortBy({ key, first }) {
    if (this.sort.key === key) this.sort.direction *= -1;
    else this.sort = { key, direction: first ?? 1 };
    this.leaf = 0;
    this.cursor = 0;
    this.writeHead();
    this.refresh();
    this.head.querySelector(`th:nth-child(${1 + LIST_COLUMNS.findIndex((one) => one.key === key)}) button`).focus();
  }

  refresh() {
    const { key, direction } = this.sort;
    this.order = [...state.shown];
    if (key === "binding") {
      const title = (index) => content.limits[front.raw.binding[index]].title;
      this.order.sort((one, other) => direction * title(one).localeCompare(title(other), "en") || one - other);
    } else if (key === "number") {
      this.order.sort((one, other) => direction * (one - other));
    } else {
      const series = front.series(key);
      const rank = (index) => (Number.isNaN(series[index]) ? Infinity : direction * series[index]);
      this.order.sort((one, other) => rank(one) - rank(other) || one - other);
    }
    this.leaf = Math.min(this.leaf, Math.max(0, Math.ceil(this.order.length / LEAF) - 1));
    this.write();
  }

  write() {
    const from = this.leaf * LEAF;
    const rows = this.order.slice(from, from + LEAF);
    this.cursor = Math.min(this.cursor, Math.max(rows.length - 1, 0));
    this.body.replaceChildren(...rows.map((index, place) => this.row(index, place)));
    if (rows.length === 0) {
      const words = "No machine passes the filters. Move a bound, or show all.";
      this.body.append(make("tr", {}, make("td", { colspan: LIST_COLUMNS.length, class: "text none" }, words)));
    }
    const last = Math.min(from + LEAF, this.order.length);
    this.position.textContent = this.order.length
      ? `Rows ${grouped(from + 1, 0)} to ${grouped(last, 0)} of ${grouped(this.order.length, 0)}`
      : "No rows";
    this.back.disabled = this.leaf === 0;
    this.on.disabled = last >= this.order.length;
  }

  row(index, place) {
    const attributes = { "data-index": index, tabindex: place === this.cursor ? "0" : "-1" };
    return this.line(index, make("th", { scope: "row" }, grouped(index + 1, 0)), attributes);
  }

  /** Row of a machine: its name, then its figures. */
  line(index, name, attributes) {
    const machine = new Machine(index);
    const pin = state.pins.find((one) => one.index === index);
    if (pin) name.append(make("b", { class: `pin-mark pin-${pin.letter}` }, pin.letter));
    const figures = LIST_COLUMNS.slice(1).map(({ key, kind }) =>
      key === "binding"
        ? make("td", { class: "text" }, make("bdi", {}, brief(machine.binding.title, 48)))
        : make("td", {}, bare(machine.result(key), kind)),
    );
    const chosen = index === state.selected;
    const both = { ...attributes, "aria-selected": String(chosen), class: chosen ? "chosen" : "" };
    return make("tr", both, name, figures);
  }

  /** Show the chosen row: its leaf, and its place in the table's own box. */
  show() {
    const at = this.order.indexOf(state.selected);
    const leaf = Math.floor(at / LEAF);
    if (at >= 0 && leaf !== this.leaf) {
      this.leaf = leaf;
      this.cursor = at % LEAF;
      this.write();
    }
    this.mark();
    const row = this.table.querySelector("tr.chosen");
    if (row === null) return;
    const [place, room] = [row.getBoundingClientRect(), this.box.getBoundingClientRect()];
    const top = room.top + this.head.getBoundingClientRect().height;
    if (place.top < top) this.box.scrollTop -= top - place.top;
    else if (place.bottom > room.top + this.box.clientHeight) this.box.scrollTop += place.bottom - room.top - this.box.clientHeight;
  }

  /** Mark the chosen row without writing the rows anew, so that the focus stays. */
  mark() {
    for (const row of this.table.querySelectorAll("tbody tr[aria-selected]")) {
      const chosen = Number(row.dataset.index ?? row.dataset.marked) === state.selected;
      row.classList.toggle("chosen", chosen);
      row.setAttribute("aria-selected", String(chosen));
    }
  }

  turn(step) {
    this.leaf += step;
    this.cursor = 0;
    this.write();
    this.box.scrollTop = 0;
  }

  moveTo(place) {
    const count = this.order.length;
    if (count === 0) return;
    const wanted = Math.min(Math.max(place, 0), count - 1);
    const leaf = Math.floor(wanted / LEAF);
    this.cursor = wanted % LEAF;
    if (leaf !== this.leaf) {
      this.leaf = leaf;
      this.write();
    }
    [...this.body.rows].forEach((row, at) => {
      row.tabIndex = at === this.cursor ? 0 : -1;
    });
    this.body.rows[this.cursor].focus();
  }

  pressed(event) {
    const here = this.leaf * LEAF + this.cursor;
    const moves = {
      ArrowDown: here + 1,
      ArrowUp: here - 1,
      PageDown: here + 10,
      PageUp: here - 10,
      Home: 0,
      End: this.order.length - 1,
    };
    if (event.key in moves) {
      event.preventDefault();
      this.moveTo(moves[event.key]);
    } else if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      const row = event.target.closest("tr[data-index]");
      if (row) select(Number(row.dataset.index));
    }
  }
}

function startTable() {
  const list = new MachineList(byId("list"));
  list.body.addEventListener("focusin", (event) => {
    const row = event.target.closest("tr[data-index]");
    if (row) list.cursor = [...list.body.rows].indexOf(row);
  });
  on("filter", () => list.refresh());
  on("selection", () => list.show());
  on("pins", () => {
    list.writeMarked();
    list.write();
  });
  on("units", () => {
    list.writeHead();
    list.writeMarked();
    list.write();
  });
}
