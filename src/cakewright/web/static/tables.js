// Tables can be sorted by a click on a head, and copied into a spreadsheet.
function valueOf(cell) {
  const text = cell.innerText.trim().replaceAll("\u202f", "").replaceAll("\u2212", "-");
  const number = parseFloat(text);
  return Number.isNaN(number) ? text.toLowerCase() : number;
}

function sortBy(table, head) {
  const at = [...head.parentElement.children].indexOf(head);
  const down = head.getAttribute("aria-sort") === "ascending";
  for (const each of head.parentElement.children) each.removeAttribute("aria-sort");
  head.setAttribute("aria-sort", down ? "descending" : "ascending");
  const rows = [...table.tBodies[0].rows];
  rows.sort((a, b) => {
    const [x, y] = [valueOf(a.cells[at]), valueOf(b.cells[at])];
    const order = typeof x === typeof y ? (x < y ? -1 : x > y ? 1 : 0) : typeof x === "number" ? -1 : 1;
    return down ? -order : order;
  });
  table.tBodies[0].append(...rows);
}

// A cell that a spreadsheet would take for a formula is given as text.
function plain(text) {
  const words = text.trim().replaceAll(/\s+/g, " ").replaceAll("\u2212", "-");
  return /^[=+@\t]|^-(?![\d.])/.test(words) ? `'${words}` : words;
}

function textOf(cell) {
  const copy = cell.cloneNode(true);
  for (const part of copy.querySelectorAll("svg, .badge, .sr")) part.remove();
  return plain(copy.textContent);
}

async function copy(table, button) {
  const rows = [...table.rows].map((row) => [...row.cells].map(textOf).join("\t"));
  try {
    await navigator.clipboard.writeText(rows.join("\n"));
    button.textContent = "Copied";
  } catch {
    button.textContent = "The browser did not allow it";
  }
  setTimeout(() => (button.textContent = "Copy table"), 1600);
}

export function startTables(root) {
  for (const table of root.querySelectorAll("table[data-sortable]")) {
    if (table.tBodies[0].rows.length > 2) {
      for (const head of table.tHead.rows[0].cells) {
        const button = document.createElement("button");
        button.type = "button";
        button.className = "sort";
        button.append(...head.childNodes);
        button.addEventListener("click", () => sortBy(table, head));
        head.append(button);
      }
    }
    const button = document.createElement("button");
    button.type = "button";
    button.className = "quiet copy";
    button.textContent = "Copy table";
    button.addEventListener("click", () => copy(table, button));
    table.closest("figure")?.append(button);
  }
}
