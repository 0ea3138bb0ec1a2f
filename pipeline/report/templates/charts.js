// Draws each chart when it comes near the screen, and all of them before printing. The plain drawing stays until then,
// and stays for good where the drawing library cannot be unpacked.
(() => {
  "use strict";
  const ON_PAPER = { width: 430, height: 190, autosize: false };
  const figures = [...document.querySelectorAll("figure.chart")];
  const drawn = new Set();
  const touch = matchMedia("(pointer: coarse)").matches;
  let loading = null;

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

  const place = (figure) => figure.querySelector(".live");

  // Linked charts show the same stretch of time: what one is zoomed to, the others follow.
  let stretch = null;
  let following = false;
  const chosen = (change, whole) => {
    if (change["xaxis.autorange"]) return whole;
    if (change["xaxis.range"]) return change["xaxis.range"];
    return "xaxis.range[0]" in change ? [change["xaxis.range[0]"], change["xaxis.range[1]"]] : null;
  };
  const link = (figure, whole) => {
    place(figure).on("plotly_relayout", (change) => {
      const range = following ? null : chosen(change, whole);
      if (!range) return;
      stretch = range;
      following = true;
      const linked = figures.filter((each) => "linked" in each.dataset && drawn.has(each));
      const others = change["xaxis.autorange"] ? linked : linked.filter((each) => each !== figure);
      Promise.all(others.map((each) => window.Plotly.relayout(place(each), { "xaxis.range": [...range] })))
        .finally(() => { following = false; });
    });
  };
  const draw = (figure, size) => {
    if (drawn.has(figure) || !window.Plotly) return;
    drawn.add(figure);
    figure.classList.add("drawn");
    place(figure).hidden = false;
    const { data, layout } = JSON.parse(figure.querySelector("script.figure").textContent);
    Object.assign(layout, { dragmode: touch ? false : "zoom" }, size);
    const settings = { displayModeBar: false, displaylogo: false, responsive: !size };
    const whole = [...layout.xaxis.range];
    const linked = "linked" in figure.dataset && !size;
    if (linked && stretch) layout.xaxis.range = [...stretch];
    window.Plotly.newPlot(place(figure), data, layout, settings);
    if (linked) link(figure, whole);
  };
  const clear = (figure) => {
    if (!drawn.delete(figure)) return;
    window.Plotly.purge(place(figure));
    figure.classList.remove("drawn");
    place(figure).hidden = true;
    watcher.observe(figure);
  };
  const near = (entries) => {
    for (const entry of entries.filter((each) => each.isIntersecting)) {
      watcher.unobserve(entry.target);
      load().then(() => draw(entry.target));
    }
  };
  const watcher = new IntersectionObserver(near, { rootMargin: "300px" });
  for (const figure of figures) watcher.observe(figure);

  // A sheet is narrower than the screen, so every chart is drawn anew at its width, and once more on the way back.
  addEventListener("beforeprint", () => {
    for (const figure of figures) {
      clear(figure);
      draw(figure, ON_PAPER);
    }
  });
  addEventListener("afterprint", () => figures.forEach(clear));
  if (figures.length && "requestIdleCallback" in window) requestIdleCallback(load, { timeout: 4000 });
})();
