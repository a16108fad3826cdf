/* CSV files made in the page. */

/** Text cell: quoted, and kept from being read as a formula by a spreadsheet. */
function textCell(text) {
  const safe = /^[=+\-@\t\r\n]/.test(text) ? `'${text}` : text;
  return `"${safe.replaceAll('"', '""')}"`;
}

/** Number cell in the unit chosen, without grouping; empty where there is no value. */
function numberCell(value, kind) {
  if (value === null || !Number.isFinite(value)) return "";
  return String(Number(inUnit(value, kind).toPrecision(6)));
}

function headed(title, kind) {
  return textCell(unitOf(kind) ? `${title} [${unitOf(kind)}]` : title);
}

function save(name, rows) {
  const text = `\ufeff${rows.map((row) => row.join(",")).join("\r\n")}\r\n`;
  saveBlob(name, new Blob([text], { type: "text/csv;charset=utf-8" }));
}

const fileStem = () => content.study.name.replace(/[^A-Za-z0-9_-]+/g, "-").slice(0, 40) || "study";

function saveFront(order) {
  const header = [
    textCell("No."),
    ...content.categories.map((category) => textCell(category.title)),
    ...content.results.map(({ title, unit }) => headed(title, unit)),
    headed("Least margin", "share"),
    textCell("Closest limit"),
  ];
  const rows = order.map((index) => {
    const machine = new Machine(index);
    return [
      String(index + 1),
      ...machine.parts().map((part) => textCell(part.name)),
      ...content.results.map(({ key, unit }) => numberCell(machine.result(key), unit)),
      numberCell(machine.result(LEAST_MARGIN), "share"),
      textCell(machine.binding.title),
    ];
  });
  save(`${fileStem()}-front.csv`, [header, ...rows]);
}

function saveParts(machine, which = machine.isOwned ? "owned" : nameOf(machine.index)) {
  const header = [
    textCell("Category"), textCell("Part"), textCell("New"), headed("Price", "money"),
    textCell("Hours of work"), headed("Old part brings", "money"), headed("Outlay", "money"),
  ];
  const rows = machine.parts().map((part) => [
    textCell(part.category),
    textCell(part.name),
    textCell(part.changed ? "yes" : "no"),
    numberCell(part.price, "money"),
    numberCell(part.changed ? part.hours : 0, "count"),
    numberCell(part.changed ? part.back : 0, "money"),
    numberCell(part.changed ? part.outlay : 0, "money"),
  ]);
  save(`${fileStem()}-parts-${which}.csv`, [header, ...rows]);
}
