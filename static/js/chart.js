// @ts-check
/** Draws superheat, subcooling and charge added over time on the office's session page. */

const holder = document.getElementById("chart");

/** @param {HTMLElement} place */
function draw(place) {
  const series = JSON.parse(place.dataset.series ?? "null");
  if (series === null) return;
  const style = getComputedStyle(document.documentElement);
  /** @param {string} name */
  const color = (name) => style.getPropertyValue(name).trim();
  const axis = { stroke: color("--ink"), grid: { stroke: color("--rule"), width: 0.5 } };
  const plot = new globalThis.uPlot(
    {
      width: place.clientWidth,
      height: 340,
      scales: { x: { time: false }, mass: { range: { min: { soft: 0, mode: 1 }, max: {} } } },
      series: [
        { label: "Minutes" },
        { label: `Superheat, ${series.degree}`, stroke: color("--link"), width: 2, spanGaps: true, points: { show: true, size: 9 } },
        { label: `Subcooling, ${series.degree}`, stroke: color("--stop"), width: 2, dash: [8, 4], spanGaps: true, points: { show: true, size: 9 } },
        { label: `Added, ${series.mass}`, stroke: color("--go"), width: 2, scale: "mass", paths: globalThis.uPlot.paths.stepped({ align: 1 }), points: { show: false } },
      ],
      axes: [
        { ...axis, label: "Minutes since the start" },
        { ...axis, label: series.degree },
        { ...axis, label: `Added, ${series.mass}`, scale: "mass", side: 1, grid: { show: false } },
      ],
    },
    [series.minutes, series.superheat, series.subcooling, series.added],
    place,
  );
  addEventListener("resize", () => plot.setSize({ width: place.clientWidth, height: 340 }));
}

if (holder !== null) draw(holder);
