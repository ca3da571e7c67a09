// Draws the page's picture over again so that it answers to pointing, dragging and Shift + wheel.
// Stands after the plotting library in one file; expressions are interpreted, never run as code.
const dark = window.matchMedia("(prefers-color-scheme: dark)");
const narrow = window.matchMedia("(max-width: 40em)");
// Between these widths the still picture stays, since it shrinks to fit.
const fits = window.matchMedia("(max-width: 40em), (min-width: 66em)");

async function draw(figure) {
  figure.classList.remove("drawn");
  if (!fits.matches) return;
  const look = `${dark.matches ? "dark" : "light"}-${narrow.matches ? "narrow" : "wide"}`;
  const answer = await fetch(`${figure.dataset.drawing}?look=${look}${figure.dataset.query}`);
  if (!answer.ok) return; // The still picture stays.
  const live = figure.querySelector(".live");
  await vegaEmbed(live, await answer.json(), {
    ast: true,
    actions: false,
    defaultStyle: false,
    renderer: "svg",
    tooltip: { disableDefaultStyle: true },
  });
  live.querySelector("svg").setAttribute("aria-hidden", "true"); // The figure has its name already.
  figure.classList.add("drawn");
}

for (const figure of document.querySelectorAll("figure.picture")) {
  draw(figure);
  for (const query of [dark, narrow, fits]) query.addEventListener("change", () => draw(figure));
}
