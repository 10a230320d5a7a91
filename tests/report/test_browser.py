"""The page in a real browser: boxes ticked, buttons pressed, pixels looked at."""

import pytest
from browser import PROBE, browse, complaints

from optimizer.report.page import page_html
from optimizer.report.scene import scene_of

LOOK = """
<script>
window.addEventListener("load", () => setTimeout(() => {
  const canvas = document.getElementById("scene");
  const gl = canvas.getContext("webgl2");
  const look = () => {
    const pixels = new Uint8Array(4 * canvas.width * canvas.height);
    gl.readPixels(0, 0, canvas.width, canvas.height, gl.RGBA, gl.UNSIGNED_BYTE, pixels);
    return pixels;
  };
  const changed = (a, b) => {
    let count = 0;
    for (let k = 0; k < a.length; k += 4) {
      if (a[k] !== b[k] || a[k + 1] !== b[k + 1] || a[k + 2] !== b[k + 2]) count += 1;
    }
    return count;
  };
  const colours = (pixels) => {
    const counts = {};
    for (let k = 0; k < pixels.length; k += 4) {
      const [r, b] = [pixels[k], pixels[k + 2]];
      const warm = r > b + 60 ? "yellow" : "other";
      const kind = pixels[k + 3] < 10 ? "empty" : b > r ? "violet" : warm;
      counts[kind] = (counts[kind] || 0) + 1;
    }
    return counts;
  };
  const result = window.seen;
  const start = look();
  result.total = canvas.width * canvas.height;
  result.start = colours(start);
  result.drawn = result.total - (result.start.empty || 0);
  result.toggled = {};
  const named = () => document.querySelectorAll("#stage span:not([hidden])").length;
  const labels = named();
  for (const box of document.querySelectorAll("input[type=checkbox]")) {
    box.click();
    result.toggled[box.id] = changed(start, look()) + 1000 * Math.abs(named() - labels);
    box.click();
    result.toggled[box.id + " back"] = changed(start, look()) + Math.abs(named() - labels);
  }
  const spans = [...document.querySelectorAll("#stage span:not([hidden])")];
  result.labels = spans.map((span) => span.textContent);
  const after = (act) => new Promise((done) => {
    act();
    requestAnimationFrame(() => requestAnimationFrame(() => done(look())));
  });
  const press = (key) => canvas.dispatchEvent(new KeyboardEvent("keydown", { key }));
  const point = (kind, x, y) => canvas.dispatchEvent(
    new PointerEvent(kind, { pointerId: 1, clientX: x, clientY: y, buttons: 1 }));
  canvas.setPointerCapture = () => {};
  (async () => {
    result.moved = {};
    let last = start;
    const moves = {
      view2: () => document.getElementById("view-2").click(),
      view3: () => document.getElementById("view-3").click(),
      view4: () => document.getElementById("view-4").click(),
      arrow: () => press("ArrowLeft"),
      plus: () => press("+"),
      wheel: () => canvas.dispatchEvent(new WheelEvent("wheel", { deltaY: 200 })),
      drag: () => {
        point("pointerdown", 300, 300);
        point("pointermove", 340, 320);
        point("pointerup", 340, 320);
      },
    };
    for (const [name, act] of Object.entries(moves)) {
      const now = await after(act);
      result.moved[name] = changed(last, now);
      last = now;
    }
    result.back = changed(start, await after(() => document.getElementById("view-1").click()));
    result.wide = document.documentElement.scrollWidth <= window.innerWidth;
    document.body.setAttribute("data-seen", JSON.stringify(result));
  })().catch((error) => document.body.setAttribute("data-seen", JSON.stringify(
    { errors: [String(error)], ...result })));
}, 50));
</script>
"""


NO_WEBGL = "<script>HTMLCanvasElement.prototype.getContext = () => null;</script>"
LOOK_WITHOUT = """
<script>
window.addEventListener("load", () => {
  const shown = (name) => getComputedStyle(document.querySelector(name)).display !== "none";
  window.seen.fallback = shown("#stage .fallback");
  window.seen.canvas = shown("#scene");
  window.seen.drawings = document.querySelectorAll("#sides svg").length;
  document.body.setAttribute("data-seen", JSON.stringify(window.seen));
});
</script>
"""


@pytest.fixture(scope="module")
def visit(plan, tmp_path_factory):
    return browse(page_html(scene_of(plan)), tmp_path_factory.mktemp("page"), LOOK)


def test_the_browser_has_nothing_to_complain_of(visit):
    seen, log = visit
    assert seen["errors"] == []
    assert complaints(log) == []


def test_the_view_shows_the_stone_in_its_colours(visit):
    seen, _ = visit
    assert seen["total"] > 100_000
    assert 0.05 < seen["drawn"] / seen["total"] < 0.9
    assert seen["start"]["violet"] > 500
    assert seen["start"]["yellow"] > 500


def test_each_box_hides_or_shows_its_layer(visit):
    toggled = visit[0]["toggled"]
    assert len(toggled) == 2 * 10
    for name, count in toggled.items():
        assert count == 0 if name.endswith("back") else count > 100, (name, count)


def test_labels_follow_their_layers(visit):
    assert set(visit[0]["labels"]) == {"split", "cut 1", "axis in", "axis out", "width"}


def test_buttons_keys_wheel_and_drag_turn_the_view(visit):
    seen, _ = visit
    assert len(seen["moved"]) == 7
    for name, count in seen["moved"].items():
        assert count > 1000, name
    assert seen["back"] == 0


def test_the_page_fits_a_phone_and_a_plan_without_stone(plan_without_stone, tmp_path):
    seen, _ = browse(
        page_html(scene_of(plan_without_stone)), tmp_path, LOOK, "--window-size=500,900"
    )
    assert seen["errors"] == []
    assert seen["drawn"] > 1000
    assert seen["wide"]


def test_without_webgl_the_page_says_so_and_keeps_its_drawings(plan, tmp_path):
    page = page_html(scene_of(plan))
    seen, log = browse(page, tmp_path, LOOK_WITHOUT, head=PROBE + NO_WEBGL)
    assert seen == {"errors": [], "fallback": True, "canvas": False, "drawings": 3}
    assert "CONSOLE" not in log
