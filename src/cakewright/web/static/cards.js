// What is behind a figure: its formula, the numbers put in, unit and source, on hover or by key.
let button = null;
let timer = 0;
// Counts what was asked for last: an answer that comes after Escape or a newer question is dropped.
let wanted = 0;

export function startCards(study) {
  const card = document.getElementById("card");
  const target = (event) => event.target.closest?.("[data-line], [data-source]");

  async function open(at) {
    const mine = ++wanted;
    const here = at.dataset.line && document.getElementById(at.dataset.line);
    if (here) {
      card.innerHTML = here.innerHTML;
      return show(at);
    }
    const path = at.dataset.line ? `/studies/${study}/lines/${at.dataset.line}` : `/sources/${encodeURIComponent(at.dataset.source)}`;
    const answer = await fetch(path);
    const text = answer.ok ? await answer.text() : "";
    if (!text || mine !== wanted) return;
    card.innerHTML = text;
    show(at);
  }

  function show(at) {
    button?.removeAttribute("aria-expanded");
    button = at;
    at.setAttribute("aria-expanded", "true");
    card.hidden = false;
    place(at);
  }

  function place(at) {
    const box = at.getBoundingClientRect();
    const left = Math.max(8, Math.min(box.left, innerWidth - card.offsetWidth - 8));
    const below = box.bottom + 6;
    const fits = below + card.offsetHeight < innerHeight || box.top < card.offsetHeight;
    card.style.left = `${left + scrollX}px`;
    card.style.top = `${(fits ? below : box.top - card.offsetHeight - 6) + scrollY}px`;
  }

  function close() {
    wanted += 1;
    card.hidden = true;
    button?.removeAttribute("aria-expanded");
    button = null;
  }

  document.addEventListener("pointerover", (event) => {
    const at = target(event);
    clearTimeout(timer);
    if (at && at !== button && event.pointerType === "mouse") timer = setTimeout(() => open(at), 220);
    else if (!at && !event.target.closest("#card") && button) timer = setTimeout(close, 350);
  });
  document.addEventListener("click", (event) => {
    const at = target(event);
    if (at) open(at);
    else if (!event.target.closest("#card")) close();
  });
  document.addEventListener("focusin", (event) => {
    const at = target(event);
    if (at && at.matches(":focus-visible")) open(at);
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") close();
  });
  document.addEventListener("cakewright-results", close);
}
