// The charts of one panel: drawn once, then only their rows change.
// No imports: vegaEmbed is given by the bundle that bundle.py makes of this file.

const EMBED = { renderer: "svg", actions: false, mode: "vega-lite", tooltip: false };
const NARROW = 520;

function make(tag, className, parent) {
  const node = document.createElement(tag);
  if (className) node.className = className;
  if (parent) parent.appendChild(node);
  return node;
}

// Every data set that a spec names and does not hold itself: in its layers, joined and repeated parts too.
function dataNames(spec, names = new Set()) {
  if (spec.data && spec.data.name) names.add(spec.data.name);
  for (const part of ["layer", "concat", "hconcat", "vconcat"]) (spec[part] || []).forEach(inner => dataNames(inner, names));
  if (spec.spec) dataNames(spec.spec, names);
  Object.keys(spec.datasets || {}).forEach(name => names.delete(name));
  return [...names];
}

// Three figures, digits grouped by gaps that are not copied, so that the table pastes into a spreadsheet as numbers.
function writeNumber(value, cell) {
  const digits = Math.abs(value) >= 100 ? 0 : value === 0 ? 0 : Math.max(0, 2 - Math.floor(Math.log10(Math.abs(value))));
  const text = Number.isInteger(value) ? String(value) : String(Number(value.toFixed(Math.min(digits, 12))));
  const [whole, decimals] = text.split(".");
  const groups = whole.length > 3 ? whole.replace(/\B(?=(\d{3})+$)/g, " ").split(" ") : [whole];
  groups.forEach((group, i) => {
    const part = make("span", i ? "pw-group" : "", cell);
    part.textContent = group + (decimals && i === groups.length - 1 ? "." + decimals : "");
  });
  cell.className = "pw-number";
}

function writeCell(value, cell) {
  if (typeof value === "number") writeNumber(value, cell);
  else if (typeof value === "boolean") cell.textContent = value ? "yes" : "no";
  else cell.textContent = value === null || value === undefined ? "" : String(value);
}

function columnsOf(table, rows) {
  return table.columns || [...new Set(rows.flatMap(row => Object.keys(row)))].map(key => [key, key]);
}

function writeTable(table, rows, holder) {
  const node = make("table", "pw-table", holder), columns = columnsOf(table, rows);
  make("caption", "", node).textContent = table.caption || table.name;
  const head = make("tr", "", make("thead", "", node)), body = make("tbody", "", node);
  columns.forEach(([, heading]) => { const th = make("th", "", head); th.scope = "col"; th.textContent = heading; });
  rows.forEach(row => {
    const line = make("tr", "", body);
    columns.forEach(([key], i) => {
      const cell = make(i ? "td" : "th", "", line);
      if (!i) cell.scope = "row";
      writeCell(row[key], cell);
    });
  });
}

// One chart: heading, picture, table. `state` gives the present rows, title and spoken text.
class Chart {
  constructor(spec, index, state, root) {
    Object.assign(this, { spec: structuredClone(spec), index, state, names: dataNames(spec) });
    this.section = make("section", "pw-chart", root);
    this.title = make("p", "pw-title", this.section);
    this.title.setAttribute("role", "heading");
    this.title.setAttribute("aria-level", "3");
    this.figure = make("div", "pw-figure", this.section);
    this.figure.setAttribute("role", "img");
    this.canvas = make("div", "pw-canvas", this.figure);
    this.details = make("details", "pw-details", this.section);
    make("summary", "", this.details).textContent = "Table";
    this.tables = make("div", "pw-tables", this.details);
    this.details.addEventListener("toggle", () => this.writeTables());
    this.fluid = this.spec.width === "container";
    if (this.fluid && typeof this.spec.height === "number") this.canvas.style.height = this.spec.height + "px";
  }

  rows(name) { return this.state("data")[name] || []; }

  tableList() {
    const told = ((this.spec.usermeta || {}).plotworth || {}).tables;
    return told || this.names.map(name => ({ name }));
  }

  async draw() {
    const spec = structuredClone(this.spec);
    if (this.fluid) spec.width = this.width = this.room();
    const rows = this.names.map(name => [name, structuredClone(this.rows(name))]);
    spec.datasets = { ...spec.datasets, ...Object.fromEntries(rows) };
    const drawn = await vegaEmbed(this.canvas, spec, EMBED);
    this.view = drawn.view;
    this.finalize = drawn.finalize;
    ["role", "aria-roledescription", "aria-label"].forEach(name => this.canvas.removeAttribute(name));
    this.watch = new ResizeObserver(() => this.fit());
    this.watch.observe(this.figure);
    this.say();
  }

  room() { return Math.max(200, Math.floor(this.figure.clientWidth || 600)); }

  fit() {
    this.section.classList.toggle("pw-narrow", this.figure.clientWidth < NARROW);
    if (!this.fluid || !this.figure.clientWidth || this.room() === this.width) return;
    this.width = this.room();
    this.view.width(this.width).runAsync();
  }

  push() {
    this.names.forEach(name => this.view.data(name, structuredClone(this.rows(name))));
    return this.view.resize().runAsync();
  }

  say() {
    this.title.textContent = this.state("titles")[this.index] || "";
    this.title.hidden = !this.title.textContent;
    this.figure.setAttribute("aria-label", this.state("texts")[this.index] || "Chart; its numbers are in the table below.");
    this.writeTables();
  }

  writeTables() {
    if (!this.details.open) return;
    this.tables.replaceChildren();
    this.tableList().forEach(table => writeTable(table, this.rows(table.name), this.tables));
  }

  close() {
    if (this.watch) this.watch.disconnect();
    if (this.finalize) this.finalize();
  }
}

async function render({ model, el }) {
  const root = make("div", "pw-charts", el), note = make("p", "pw-note", root);
  note.setAttribute("role", "status");
  root.dataset.updates = "0"; // how many changes of the rows are on the screen; tests wait for it
  const state = name => model.get(name) || {};
  let charts = [], drawing = Promise.resolve(), asked = 0, drawn = 0;
  const showStale = () => {
    root.classList.toggle("pw-stale", model.get("stale"));
    note.textContent = model.get("stale") ? model.get("stale_note") : "";
  };
  const drawAll = async () => {
    charts.forEach(chart => { chart.close(); chart.section.remove(); });
    charts = model.get("specs").map((spec, index) => new Chart(spec, index, state, root));
    await Promise.all(charts.map(chart => chart.draw()));
  };
  const push = async () => {
    if (asked === drawn) return;
    drawn = asked;
    await Promise.all(charts.map(chart => chart.push()));
    charts.forEach(chart => chart.say());
    root.dataset.updates = drawn;
  };
  const later = work => { drawing = drawing.then(work); return drawing; };
  const onRows = () => { asked += 1; later(push); };
  const onWords = () => later(() => charts.forEach(chart => chart.say()));
  const onSpecs = () => later(drawAll);
  const heard = [["data", onRows], ["texts", onWords], ["titles", onWords], ["specs", onSpecs]];
  heard.push(["stale", showStale], ["stale_note", showStale]);
  heard.forEach(([name, hear]) => model.on(`change:${name}`, hear));
  showStale();
  await later(drawAll);
  return () => {
    heard.forEach(([name, hear]) => model.off(`change:${name}`, hear));
    charts.forEach(chart => chart.close());
  };
}

export default { render };
