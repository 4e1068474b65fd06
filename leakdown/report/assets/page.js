(async function () {
  "use strict";
  if (!window.DecompressionStream) { return; } // the still pictures stay

  var inside = document.getElementById("library");
  var packedLibrary = inside ? inside.textContent : window.packedLibrary;
  if (!packedLibrary) { return; } // the file beside the page is missing

  async function unpack(text) {
    var packed = atob(text);
    var bytes = Uint8Array.from(packed, function (c) { return c.charCodeAt(0); });
    var plain = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
    return new Response(plain).text();
  }

  function shorten(layout) {
    (layout.annotations || []).forEach(function (a) {
      if (a.name === "limit") { a.text = a.text.split(/ of vacuum| left | in /)[0]; }
    });
  }

  function fitPhone(chart, layout) {
    chart.config.displayModeBar = false; // fingers zoom and drag; its buttons would lie on the labels
    layout.font.size = 12;
    layout.dragmode = false; // a swipe that starts on a chart scrolls; a tap shows values
    layout.xaxis.fixedrange = layout.yaxis.fixedrange = true;
    layout.margin.l = Math.min(layout.margin.l, 50);
    if (layout.legend) { layout.legend.font.size = 12; } // a figure of intervals has none
    layout.annotations = (layout.annotations || []).filter(function (a) { return a.name !== "part" && a.name !== "zero"; });
    var ends = layout.annotations.filter(function (a) { return a.name === "end"; });
    var height = layout.yaxis.range[1] - layout.yaxis.range[0];
    layout.annotations.forEach(function (a) {
      if (a.name === "end") {
        a.font.size = 11;
        a.showarrow = false; // there is no room beside its line, so none to lead over
        a.xref = "paper";
        a.x = 1;
        a.xanchor = "right";
        a.xshift = 0;
        var under = ends.some(function (b) { return b.y > a.y && b.y - a.y < 0.12 * height; });
        a.yanchor = under ? "top" : "bottom"; // beside its line, not on it
        a.yshift = under ? -3 : 3;
        a.bgcolor = "rgba(255,255,255,0.75)";
      }
    });
  }

  var library = document.createElement("script");
  library.textContent = await unpack(packedLibrary); // runs because the page's policy knows its hash
  document.head.append(library);
  if (!window.Plotly) { return; }
  var medium = window.matchMedia("(max-width: 900px)").matches;
  var narrow = window.matchMedia("(max-width: 600px)").matches;
  JSON.parse(document.getElementById("charts").textContent).forEach(function (chart) {
    var place = document.getElementById(chart.id);
    var layout = chart.figure.layout;
    if (medium) { shorten(layout); }
    if (narrow) { fitPhone(chart, layout); }
    var frame = place.parentNode;
    frame.classList.add("drawn"); // shown first: a hidden place has no width to draw in
    Plotly.newPlot(place, chart.figure.data, layout, chart.config).then(function () {
      place.querySelectorAll(".main-svg").forEach(function (drawing) {
        drawing.setAttribute("aria-hidden", "true"); // its group says in words what it shows
      });
      place.on("plotly_relayout", function (change) { // whoever zooms wants marks that fit
        if ("xaxis.range[0]" in change && layout.xaxis.dtick) {
          Plotly.relayout(place, { "xaxis.tickmode": "auto", "yaxis.tickmode": "auto" });
          layout.xaxis.dtick = null;
        }
      });
    }).catch(function (error) {
      frame.classList.remove("drawn");
      console.error(error);
    });
  });
})();
