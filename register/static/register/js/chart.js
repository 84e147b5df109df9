/* Draws every figure of the page from its JSON block. The numbers are in the
   table under the figure as well; without this file only the drawing is missing. */
"use strict";

(function () {
  const PAPER_PX = 680; // A4 without its margins, at 96 px to the inch
  const font = { family: "Source Sans Pro, sans-serif", size: 14, color: "#1b2430" };
  const axis = { zeroline: false, gridcolor: "#d6cfbf", linecolor: "#1b2430", ticks: "outside" };

  document.querySelectorAll("[data-chart]").forEach(function (place) {
    const block = document.getElementById(place.dataset.chart);
    const figure = block && JSON.parse(block.textContent);
    if (!figure || !window.Plotly) {
      return;
    }
    const layout = Object.assign(
      { font: font, paper_bgcolor: "rgba(0,0,0,0)", plot_bgcolor: "rgba(0,0,0,0)",
        margin: { l: 56, r: 16, t: 16, b: 48 }, showlegend: false },
      figure.layout,
    );
    layout.xaxis = Object.assign({}, axis, figure.layout.xaxis);
    layout.yaxis = Object.assign({}, axis, figure.layout.yaxis);
    window.Plotly.newPlot(place, figure.data, layout, { displayModeBar: false, responsive: true });
    // Paper is narrower than the screen, and a drawing does not shrink by itself.
    window.addEventListener("beforeprint", function () {
      window.Plotly.relayout(place, { width: Math.min(place.clientWidth, PAPER_PX) });
    });
    window.addEventListener("afterprint", function () {
      window.Plotly.relayout(place, { width: null, autosize: true });
    });
  });
})();
