(function () {
  "use strict";
  var narrow = window.matchMedia("(max-width: 600px)").matches;
  var charts = JSON.parse(document.getElementById("charts").textContent);
  charts.forEach(function (chart) {
    var place = document.getElementById(chart.id);
    var layout = chart.figure.layout;
    if (narrow) {
      layout.font.size = 12;
      layout.margin.l = 50;
      layout.annotations = (layout.annotations || []).filter(function (a) { return a.name !== "part"; });
    }
    Plotly.newPlot(place, chart.figure.data, layout, chart.config);
    place.parentNode.classList.add("drawn");
  });
})();
