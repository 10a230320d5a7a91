// The report's 3D view: its layers, a box to tick for each, and buttons to look from.
(function () {
  const scene = JSON.parse(document.getElementById("scene-data").textContent);
  const view = startView(document.getElementById("scene"), document.getElementById("stage"),
    scene.radius);
  if (!view) return;
  scene.views.forEach((look, index) => {
    document.getElementById("view-" + (index + 1)).addEventListener("click", () => view.look(look));
  });
  scene.layers.forEach((layer) => {
    const box = document.getElementById("layer-" + layer.key);
    view.setLayer({ ...unpacked(layer), visible: box.checked });
    box.addEventListener("change", () => view.show(layer.key, box.checked));
  });
  view.look(scene.views[0]);
  view.draw();
})();
