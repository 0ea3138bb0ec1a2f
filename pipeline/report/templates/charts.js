// Draws each chart when it comes near the screen, and all of them before printing. The plain drawing stays until then,
// and stays for good where the drawing library cannot be unpacked.
(() => {
  "use strict";
  const ON_PAPER = { width: 430, height: 190, autosize: false };
  const figures = [...document.querySelectorAll("figure.chart")];
  const drawn = new Set();
  const settings = { displayModeBar: false, displaylogo: false, responsive: true };
  const touch = matchMedia("(pointer: coarse)").matches;
  let loading = null;
  let screenHeight = null;

  const unpack = async () => {
    const packed = document.getElementById("plotly-packed").textContent;
    const bytes = Uint8Array.from(atob(packed.trim()), (letter) => letter.charCodeAt(0));
    const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
    const script = document.createElement("script");
    script.textContent = await new Response(stream).text();
    document.head.append(script);
    if (!window.Plotly) throw new Error("the drawing library did not start");
  };
  const load = () => (loading ??= unpack().catch(() => document.body.classList.add("plain")));

  const draw = (figure, size) => {
    if (drawn.has(figure) || !window.Plotly) return;
    drawn.add(figure);
    const { data, layout } = JSON.parse(figure.querySelector("script.figure").textContent);
    screenHeight ??= layout.height;
    const target = figure.querySelector(".live");
    target.hidden = false;
    figure.classList.add("drawn");
    layout.dragmode = touch ? false : "zoom";
    Object.assign(layout, size);
    window.Plotly.newPlot(target, data, layout, settings);
  };
  const near = (entries) => {
    for (const entry of entries.filter((each) => each.isIntersecting)) {
      watcher.unobserve(entry.target);
      load().then(() => draw(entry.target));
    }
  };
  const watcher = new IntersectionObserver(near, { rootMargin: "300px" });
  for (const figure of figures) watcher.observe(figure);

  // On paper the page is narrower than on the screen: every chart gets that width, and its own back afterwards.
  addEventListener("beforeprint", () => {
    if (!window.Plotly) return;
    for (const figure of figures) {
      if (drawn.has(figure)) window.Plotly.relayout(figure.querySelector(".live"), ON_PAPER);
      else draw(figure, ON_PAPER);
    }
  });
  addEventListener("afterprint", () => {
    const onScreen = { width: null, height: screenHeight, autosize: true };
    for (const figure of drawn) window.Plotly.relayout(figure.querySelector(".live"), onScreen);
  });
  if (figures.length && "requestIdleCallback" in window) requestIdleCallback(load, { timeout: 4000 });
})();
