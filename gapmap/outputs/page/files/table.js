/* The table of what is on the map: sortable, a few hundred rows at a time, downloadable whole. */
const ROWS_AT_A_TIME = 200;
const tableState = { sort: -1, descending: false, shown: ROWS_AT_A_TIME, view: "" };

function sortedRows(table) {
  const rows = table.rows.slice();
  const c = tableState.sort;
  if (c < 0) return rows;
  const isNumber = table.heads[c].isNumber;
  const keys = new Map(rows.map((row) => [row, table.cell(row, c)]));
  const compare = new Intl.Collator(words.language, { numeric: true }).compare;
  const sign = tableState.descending ? -1 : 1;
  rows.sort((a, b) => {
    const x = keys.get(a), y = keys.get(b);
    if (!isNumber) return sign * compare(x, y);
    if (!(x >= 0)) return y >= 0 ? 1 : 0;
    if (!(y >= 0)) return -1;
    return sign * (x - y);
  });
  return rows;
}

function cellText(head, value) {
  if (!head.isNumber) return value;
  if (!(value >= 0)) return "";
  return String(Math.round(value * 100) / 100);
}

function showTable() {
  const table = view().table();
  if (tableState.view !== state.view) Object.assign(tableState, { sort: -1, descending: false, shown: ROWS_AT_A_TIME, view: state.view });
  if (tableState.sort >= table.heads.length) tableState.sort = -1;
  const rows = sortedRows(table);
  const box = document.getElementById("table");
  box.textContent = "";
  box.append(element("caption", document.getElementById("map-title").textContent));
  box.append(tableHead(table));
  const body = element("tbody", "");
  for (const row of rows.slice(0, tableState.shown)) body.append(tableRow(table, row));
  box.append(body);
  document.getElementById("table-count").textContent = say("rows_shown", { n: Math.min(tableState.shown, rows.length), all: rows.length });
  document.getElementById("more-rows").hidden = rows.length <= tableState.shown;
}

function tableHead(table) {
  const line = element("tr", "");
  table.heads.forEach((head, c) => {
    const cell = element("th", "", head.isNumber ? "number" : "");
    cell.scope = "col";
    const sorted = tableState.sort === c;
    cell.setAttribute("aria-sort", sorted ? (tableState.descending ? "descending" : "ascending") : "none");
    const button = element("button", head.text + (sorted ? (tableState.descending ? " ▼" : " ▲") : ""));
    button.type = "button";
    button.dataset.sort = c;
    cell.append(button);
    line.append(cell);
  });
  const head = element("thead", "");
  head.append(line);
  return head;
}

function tableRow(table, row) {
  const line = element("tr", "");
  const square = table.square(row);
  table.heads.forEach((head, c) => {
    const cell = element(c === 0 ? "th" : "td", "", head.isNumber ? "number" : "");
    if (c === 0) cell.scope = "row";
    const text = cellText(head, table.cell(row, c));
    if (c === 0 && square >= 0) {
      const button = element("button", text, "link");
      button.type = "button";
      button.dataset.square = square;
      cell.append(button);
    } else {
      cell.textContent = text;
    }
    line.append(cell);
  });
  return line;
}

function sortTable(c) {
  tableState.descending = tableState.sort === c ? !tableState.descending : Boolean(view().table().heads[c].isNumber);
  tableState.sort = c;
  showTable();
  document.querySelector('#table button[data-sort="' + c + '"]').focus();
}

/* One cell of a CSV file; text that a spreadsheet would take for a formula gets an apostrophe before it. */
function csvCell(text, isNumber) {
  const safe = !isNumber && /^[\s]*[=+\-@\t\r]/.test(text) ? "'" + text : text;
  return /[",\r\n]/.test(safe) ? '"' + safe.split('"').join('""') + '"' : safe;
}

function tableCsv() {
  const table = view().table();
  const lines = [table.heads.map((head) => csvCell(head.text, false)).join(",")];
  for (const row of sortedRows(table)) {
    lines.push(table.heads.map((head, c) => csvCell(cellText(head, table.cell(row, c)), head.isNumber)).join(","));
  }
  return "\ufeff" + lines.join("\r\n") + "\r\n";
}

function downloadTable() {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([tableCsv()], { type: "text/csv;charset=utf-8" }));
  link.download = state.view + ".csv";
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}
