"use strict";
/* Comfort only: keys, and judging without losing one's place. Without this file every form still works. */
(() => {
  const OFF = "antedate-keys-off";
  const stored = () => { try { return localStorage.getItem(OFF); } catch { return null; } };
  const rows = () => [...document.querySelectorAll("article.hit")];
  const current = () => document.activeElement.closest?.("article.hit, article.reference")
    ?? document.querySelector("article.reference");

  const go = (row) => {
    if (!row) return;
    row.focus({ preventScroll: true });
    row.scrollIntoView({ block: "nearest" });
  };
  const step = (by) => {
    const all = rows();
    if (!all.length) {
      document.querySelector(`.walk a[rel="${by > 0 ? "next" : "prev"}"]`)?.click();
      return;
    }
    const at = all.indexOf(current());
    go(all[at < 0 ? 0 : Math.min(all.length - 1, Math.max(0, at + by))]);
  };
  const press = (selector, row = current()) => row?.querySelector(selector)?.click();

  const keys = {
    j: () => step(1),
    k: () => step(-1),
    o: () => press("h2 a"),
    y: () => press('button[value="relevant"]'),
    m: () => press('button[value="undecided"]'),
    n: () => press('button[value="not relevant"]'),
    z: () => document.querySelector("#status .undo button")?.click() ?? press(".undo button"),
    e: () => {
      const details = current()?.querySelector(".judge details");
      if (details) { details.open = true; details.querySelector("textarea").focus(); }
    },
    b: () => document.querySelector("a.back")?.click(),
    "?": () => { location.href = "/help"; },
  };

  addEventListener("keydown", (event) => {
    const typing = event.target.closest?.("input, textarea, select");
    if (event.key === "Escape" && typing) {
      go(current());
      return;
    }
    if (typing || event.ctrlKey || event.metaKey || event.altKey || event.isComposing || stored()) return;
    const marked = document.querySelector(`[data-key="${CSS.escape(event.key)}"]`);
    if (!keys[event.key] && !marked) return;
    event.preventDefault();
    if (keys[event.key]) keys[event.key]();
    else if (marked.matches("input")) { marked.closest("details").open = true; marked.focus(); }
    else marked.click();
  });

  /* A judgement made in the list changes its own row alone; the rest stays under the reader's eye. */
  addEventListener("submit", async (event) => {
    const form = event.target;
    const row = form.closest("article.hit");
    const inStatus = form.closest("#status");
    if (form.method !== "post" || !(row || inStatus) || form.dataset.plain) return;
    event.preventDefault();
    const sent = new URLSearchParams(new FormData(form, event.submitter));
    const plainly = () => { form.dataset.plain = "1"; form.requestSubmit(event.submitter); };
    let answer;
    try {
      answer = await fetch(form.action, { method: "POST", body: sent });
    } catch {
      plainly();
      return;
    }
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const id = row?.id ?? new URL(sent.get("back"), location.href).hash.slice(1);
    const fresh = page.getElementById(id);
    if (!answer.ok || !fresh) { plainly(); return; }
    const old = document.getElementById(id);
    const next = inStatus || form.matches(".undo") ? null : old?.nextElementSibling;
    old?.replaceWith(fresh);
    for (const part of ["#status", ".count"]) {
      const made = page.querySelector(part);
      if (made) document.querySelector(part)?.replaceChildren(...made.childNodes);
    }
    go(next ?? fresh);
  });

  /* Keys can be turned off, for those who speak or whose tools send letters. */
  const toggle = document.getElementById("keys");
  if (toggle) {
    toggle.hidden = false;
    const box = toggle.querySelector("input");
    box.checked = !stored();
    box.addEventListener("change", () => {
      try { box.checked ? localStorage.removeItem(OFF) : localStorage.setItem(OFF, "1"); } catch { /* not kept */ }
    });
  }
})();
