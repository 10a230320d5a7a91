// The marking page: clicks become points, points become fits, fits become lines of the rough file.
// The draft is the mark being made. Everything shown follows from the draft and the marks kept.
(function () {
  const data = JSON.parse(document.getElementById("scene-data").textContent);
  const part = (id) => document.getElementById(id);
  const marks = [];
  let draft = fresh();
  let surface = null;
  let view = null;
  let layerOf = null;

  function fresh() {
    return { points: [], hits: [], faces: [] };
  }
  function kind() {
    return KINDS[part("kind").value];
  }
  // Within zones, flaws or faces no name comes twice: a name that is taken gets a number.
  function freeName(place, wanted) {
    const own = marks.filter(({ mark }) => KINDS[mark.kind].place === place);
    const taken = new Set([...(data.names[place] || []), ...own.map(({ mark }) => mark.name)]);
    let name = wanted;
    for (let k = 2; taken.has(name); k += 1) name = `${wanted} ${k}`;
    return name;
  }
  function suggestedName() {
    part("name").value = kind().axis ? "c axis" : freeName(kind().place, kind().named);
  }

  function restart() {
    draft = fresh();
    face(1);
    suggestedName();
    for (const id of ["radius", "depth"]) part(id).value = 0;
    part("through").checked = false;
  }

  // --- the draft as it stands ---------------------------------------------------------------
  function described() {
    const said = (id) => printable(part(id).value);
    const side = (id) => ({ name: said(id) || part(id).defaultValue, srgb: said(id + "-srgb") });
    return { ...draft, kind: part("kind").value,
      name: kind().axis ? "c axis" : freeName(kind().place, said("name") || kind().named),
      radius: Math.max(0, Number(said("radius")) || 0), depth: Number(said("depth")) || 0,
      known: data.faces, through: part("through").checked,
      towards: side("towards"), away: side("away") };
  }
  function fitted(mark) {
    try {
      const fit = KINDS[mark.kind].fit(mark, surface);
      if (KINDS[mark.kind].sides && mark.towards.name === mark.away.name) {
        throw new FitFault("Give the two colours different names.");
      }
      return { mark, fit };
    } catch (fault) {
      if (!(fault instanceof FitFault)) throw fault;
      return { mark, fault: fault.message };
    }
  }

  // --- what is shown ------------------------------------------------------------------------
  function refresh() {
    const now = fitted(described());
    const count = draft.points.length;
    part("hint").textContent = kind().hint;
    part("colours").hidden = !kind().sides;
    (kind().sides || []).forEach((words, k) => { part(`side-${k + 1}`).textContent = words; });
    part("radius-field").hidden = !kind().radius;
    part("depth-field").hidden = !kind().depth;
    part("through-field").hidden = !kind().through;
    part("faces").hidden = !kind().faces;
    part("name").disabled = Boolean(kind().axis);
    part("last").textContent = count
      ? `Point ${count}: ${pointText(draft.points[count - 1].map((v) => Math.round(v * 1e3) / 1e3))} mm` : "";
    part("fit").textContent = now.fault ? (count ? now.fault : "") : fitText(now.fit);
    part("fit").classList.toggle("lacking", Boolean(now.fault));
    part("keep").disabled = Boolean(now.fault);
    part("clear").disabled = !count;
    part("undo").disabled = !count && !marks.length;
    view.setLayer(layerOf("draft", [now]));
  }
  function refreshMarks() {
    part("none").hidden = marks.length > 0;
    part("marks").replaceChildren(...marks.map(markItem));
    const { fresh: lines, whole } = roughFile(data.base, marks);
    part("lines").value = lines;
    part("copy").disabled = !marks.length;
    part("save").dataset.whole = whole;
    view.setLayer(layerOf("marks", marks));
  }
  function markItem({ mark, fit }, index) {
    const item = document.createElement("li");
    const words = document.createElement("span");
    words.textContent = `${mark.name} (${KINDS[mark.kind].title.toLowerCase()}). ${fitText(fit)} `;
    const change = button("Change", `Change ${mark.name}`, () => reopen(index));
    const remove = button("Remove", `Remove ${mark.name}`, () => {
      marks.splice(index, 1);
      refreshMarks();
      refresh();
    });
    item.append(words, document.createElement("br"), change, remove);
    return item;
  }
  function button(text, label, pressed) {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = text;
    made.setAttribute("aria-label", label);
    made.addEventListener("click", pressed);
    return made;
  }

  // --- what is done -------------------------------------------------------------------------
  function tapped(ray) {
    const hit = surface && pick(surface, inScan(ray));
    if (!hit) return;
    draft.points.push(hit.at);
    draft.hits.push(hit.face);
    draft.faces.push(part("face-2").getAttribute("aria-pressed") === "true" ? 1 : 0);
    refresh();
  }
  function inScan({ from, way }) {
    return { from: from.map((v, k) => v + data.middle[k]), way };
  }
  function keep(event) {
    event.preventDefault();
    const now = fitted(described());
    if (now.fault) return;
    if (KINDS[now.mark.kind].axis) {
      const old = marks.findIndex(({ mark }) => KINDS[mark.kind].axis);
      if (old >= 0) marks.splice(old, 1); // a piece has only one axis
    }
    marks.push(now);
    restart();
    refreshMarks();
    refresh();
  }
  function reopen(index) {
    const [{ mark }] = marks.splice(index, 1);
    draft = { points: mark.points, hits: mark.hits, faces: mark.faces };
    for (const id of ["kind", "name", "radius", "depth"]) part(id).value = mark[id];
    part("through").checked = mark.through;
    for (const id of ["towards", "away"]) {
      part(id).value = mark[id].name;
      part(id + "-srgb").value = mark[id].srgb;
    }
    refreshMarks();
    refresh();
  }
  function undo() {
    if (!draft.points.length && marks.length) return reopen(marks.length - 1);
    [draft.points, draft.hits, draft.faces] =
      [draft.points, draft.hits, draft.faces].map((list) => list.slice(0, -1));
    return refresh();
  }
  function swap() {
    for (const end of ["", "-srgb"]) {
      const [one, other] = [part("towards" + end), part("away" + end)];
      [one.value, other.value] = [other.value, one.value];
    }
    refresh();
  }
  function face(number) {
    [1, 2].forEach((k) => part(`face-${k}`).setAttribute("aria-pressed", String(k === number)));
  }
  async function copy(text, what) {
    try {
      await navigator.clipboard.writeText(text);
      part("copied").textContent = `${what} copied.`;
    } catch {
      part("lines").value = text;
      part("lines").select();
      part("copied").textContent = "Selected: press Ctrl+C (or Cmd+C) to copy.";
    }
  }
  function save() {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([part("save").dataset.whole], { type: "text/plain" }));
    link.download = "rough.toml";
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
    part("copied").textContent = "Saved as rough.toml: put it beside rough.ply.";
  }

  // --- the start ----------------------------------------------------------------------------
  function wire() {
    const select = part("kind");
    Object.entries(KINDS).forEach(([key, { title }]) => select.add(new Option(title, key)));
    select.addEventListener("change", () => { restart(); refresh(); });
    part("panel").addEventListener("submit", keep);
    part("panel").addEventListener("input", refresh);
    part("swap").addEventListener("click", swap);
    part("undo").addEventListener("click", undo);
    part("clear").addEventListener("click", () => { draft = fresh(); refresh(); });
    [1, 2].forEach((k) => part(`face-${k}`).addEventListener("click", () => face(k)));
    part("copy").addEventListener("click", () => copy(part("lines").value, "The lines are"));
    part("copy-whole").addEventListener("click", () => copy(part("save").dataset.whole, "The file is"));
    part("save").addEventListener("click", save);
    part("scene").addEventListener("keydown", (event) => {
      if (event.key !== "Enter") return;
      event.preventDefault();
      const box = part("scene").getBoundingClientRect();
      tapped(view.ray(box.left + box.width / 2, box.top + box.height / 2));
    });
    data.views.forEach((look, index) => {
      part(`view-${index + 1}`).addEventListener("click", () => view.look(look));
    });
    part("known").addEventListener("change", () => {
      data.layers.forEach(({ key }) => view.show(key, part("known").checked));
    });
    window.addEventListener("beforeunload", (event) => { if (marks.length) event.preventDefault(); });
  }
  async function start() {
    const pivot = (ray) => {
      const hit = surface && pick(surface, inScan(ray));
      return hit && minus(hit.at, data.middle);
    };
    view = startView(part("scene"), part("stage"), data.radius, { pivot, tapped });
    if (!view) return;
    surface = await unpackedSurface(data);
    layerOf = shownBy(surface, data);
    const points = Float32Array.from(surface.points, (v, k) => v - data.middle[k % 3]);
    view.setLayer({ key: "rough", opacity: 1, lines: [], labels: [], parts: [{ points,
      corners: surface.corners, colours: surface.colours, smooth: surface.smooth, closed: true }] });
    data.layers.forEach((layer) => view.setLayer(unpacked(layer)));
    wire();
    suggestedName();
    view.look(data.views[0]);
    refreshMarks();
    refresh();
    part("waiting").hidden = true;
    view.draw();
  }
  start().catch((fault) => { part("waiting").textContent = `The page failed: ${fault.message}`; });
})();
