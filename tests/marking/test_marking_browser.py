"""The marking page in a real browser: clicks on known places, and what becomes of them.

The expected places come from the piece's closed form (a hexagonal prism as six half-spaces and two
ends) and from a camera written anew here, not from the page's mesh or matrices.
"""

import re
import tomllib

import numpy as np
import pytest
from browser import browse, complaints
from shapes import hull, random_rotation

from optimizer.marking import write_check
from optimizer.mesh import Mesh, Plane, volume
from optimizer.rough import load_rough
from optimizer.rough.model import Colour, Flaw, ReferenceFace, Rough, Zone
from optimizer.rough.zones.boundary import heights
from optimizer.rough.zones.boundary_fit import fitted_ball
from optimizer.trade.materials import load_material

NEAR_MM = 0.02
ROTATION = random_rotation(np.random.default_rng(11))
SHIFT = np.array([120.0, -45.0, 310.0])
APOTHEM, HALF = 8.0, 12.0
TURNS = np.deg2rad(60.0 * np.arange(6))
OUTWARD = np.vstack(
    [np.column_stack([np.cos(TURNS), np.sin(TURNS), 0 * TURNS]), [[0, 0, 1.0], [0, 0, -1.0]]]
)
DISTANCE = np.array([APOTHEM] * 6 + [HALF] * 2)
NORMALS = OUTWARD @ ROTATION.T
OFFSETS = DISTANCE + NORMALS @ SHIFT


def to_scan(points):
    return np.asarray(points, float) @ ROTATION.T + SHIFT


def prism():
    rim = TURNS + np.deg2rad(30.0)
    ring = APOTHEM / np.cos(np.deg2rad(30.0)) * np.column_stack([np.cos(rim), np.sin(rim)])
    plain = hull(np.array([[*xy, z] for xy in ring for z in (-HALF, HALF)]))
    return Mesh(to_scan(plain.vertices), plain.faces)


def on_face(face, along, up):
    """A place of a prism face: ``along`` its width and ``up`` its height, in mm from its middle."""
    normal, across = OUTWARD[face], np.cross([0, 0, 1.0], OUTWARD[face])
    return to_scan(APOTHEM * normal + along * across + up * np.array([0, 0, 1.0]))


@pytest.fixture(scope="module")
def piece():
    mesh = prism()
    violet, yellow = Colour("violet", "#8a5cc2"), Colour("yellow", "#e8b83a")
    return Rough(
        scan="prism <hexagonal>.ply", mesh=mesh, mm_per_unit=1.0, watertight_as_read=True,
        repairs=(), warnings=(), material=load_material("quartz"), weighed_ct=None,
        scan_error_mm=0.03,
        zones=(Zone("split", Plane.through(SHIFT, ROTATION[:, 1]), violet, yellow),),
        reference_faces=(ReferenceFace("base", Plane(NORMALS[7], float(OFFSETS[7]))),),
        optic_axis=ROTATION[:, 0], volume_mm3=volume(mesh),
        flaws=(Flaw("bubble", to_scan([[1.0, 2.0, 3.0]]), None, 0.0, 0.3, 0.2),),
    )  # fmt: skip


class Camera:
    """A lens of focal length 4.2 half canvases, 4.2 * 1.08 radii from the middle of the piece."""

    def __init__(self, mesh, look, wide, tall):
        low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
        self.middle = (low + high) / 2.0
        radius = np.linalg.norm(mesh.vertices - self.middle, axis=1).max()
        self.distance = 4.2 * 1.08 * radius
        self.frame = np.array(look)
        self.size = np.array([wide, tall])
        self.focal = 4.2 * np.array([min(1.0, tall / wide), min(1.0, wide / tall)])

    def turned(self, axis, angle):
        """Rodrigues' formula on each vector of the frame."""
        k = self.frame[axis]
        turn = np.eye(3) + np.sin(angle) * cross_matrix(k)
        turn += (1.0 - np.cos(angle)) * cross_matrix(k) @ cross_matrix(k)
        self.frame = self.frame @ turn.T

    def pixel(self, place):
        right, up, out = self.frame @ (place - self.middle)
        x, y = self.focal * [right, up] / (self.distance - out)
        return self.size * [0.5 + 0.5 * x, 0.5 - 0.5 * y]

    def meets(self, pixel):
        """Where the ray through a pixel enters the prism, by its half-spaces; None if it misses."""
        x, y = (2.0 * np.array(pixel) / self.size - 1.0) * [1.0, -1.0] / self.focal
        right, up, out = self.frame
        eye, way = self.middle + self.distance * out, x * right + y * up - out
        depth = (OFFSETS - NORMALS @ eye) / (NORMALS @ way)
        enters, leaves = depth[NORMALS @ way < 0.0].max(), depth[NORMALS @ way > 0.0].min()
        return eye + enters * way if enters < leaves else None


def cross_matrix(v):
    return np.array([[0, -v[2], v[1]], [v[2], 0, -v[0]], [-v[1], v[0], 0]])


DRIVE = """
<script>
window.addEventListener("load", () => {
  const part = (id) => document.getElementById(id);
  const canvas = part("scene");
  canvas.setPointerCapture = () => {};
  const result = window.seen;
  const box = () => canvas.getBoundingClientRect();
  const press = (key) => canvas.dispatchEvent(new KeyboardEvent("keydown", { key }));
  const reading = () => part("last").textContent;
  const tap = (x, y) => {
    const at = { pointerId: 1, button: 0, clientX: box().left + x, clientY: box().top + y };
    canvas.dispatchEvent(new PointerEvent("pointerdown", { ...at, buttons: 1 }));
    canvas.dispatchEvent(new PointerEvent("pointerup", at));
    return reading();
  };
  const set = (id, value) => {
    part(id).value = value;
    const tell = (kind) => part(id).dispatchEvent(new Event(kind, { bubbles: true }));
    ["input", "change"].forEach(tell);
  };
  const drive = async () => {
    while (!part("waiting").hidden) {
      const said = part("waiting").textContent;
      if (said.includes("failed")) throw new Error(said);
      await new Promise((done) => setTimeout(done, 10));
    }
    BODY
    result.wide = document.documentElement.scrollWidth <= window.innerWidth;
  };
  drive().catch((error) => result.errors.push(String(error))).finally(
    () => document.body.setAttribute("data-seen", JSON.stringify(result)));
});
</script>
"""


def driven(page, folder, body, *flags):
    seen, log = browse(page, folder, DRIVE.replace("BODY", body), *flags)
    assert seen["errors"] == []
    assert complaints(log) == []
    return seen


@pytest.fixture(scope="module")
def folder(piece, tmp_path_factory):
    out = tmp_path_factory.mktemp("check") / "out"
    write_check(piece, out)
    return out


@pytest.fixture(scope="module")
def page(folder):
    return (folder / "marking.html").read_text(encoding="utf-8")


X, Y, Z = np.eye(3)
LOOKS = {2: (X, Y, Z), 3: (X, Z, -Y), 4: (Y, Z, X)}
TAPS = [(0.31, 0.42), (0.47, 0.55), (0.5, 0.5), (0.62, 0.38), (0.55, 0.71)]
PLACES = """
    result.size = [box().width, box().height];
    result.read = {};
    for (const view of [2, 3, 4]) {
      part("view-" + view).click();
      ["ArrowLeft", "ArrowLeft", "ArrowUp"].forEach(press);
      result.read[view] = TAPS.map(
        ([x, y]) => tap(Math.round(x * box().width), Math.round(y * box().height)));
    }
    part("view-3").click();
    const at = [box().width / 2, box().height / 2];
    const finger = (kind, id, x, y, more = {}) => {
      const spot = { clientX: box().left + x, clientY: box().top + y };
      canvas.dispatchEvent(new PointerEvent(kind, { pointerId: id, buttons: 1, ...spot, ...more }));
    };
    const moved = {
      drag: () => {
        finger("pointerdown", 1, ...at); finger("pointermove", 1, at[0] + 40, at[1] + 9);
        finger("pointerup", 1, at[0] + 40, at[1] + 9);
      },
      pan: () => {
        finger("pointerdown", 1, ...at);
        finger("pointermove", 1, at[0] + 30, at[1], { shiftKey: true });
        finger("pointerup", 1, at[0] + 30, at[1]);
      },
      pinch: () => {
        finger("pointerdown", 1, 300, 200); finger("pointerdown", 2, 340, 200);
        finger("pointermove", 2, 380, 230); finger("pointerup", 1, 300, 200);
        finger("pointerup", 2, 380, 230);
      },
    };
    result.moved = {};
    for (const [name, move] of Object.entries(moved)) {
      const both = () => [tap(at[0] + 70, at[1] + 30), tap(...at)];
      const before = both();
      move();
      const kept = reading() === before[1];
      result.moved[name] = { kept, before, after: both() };
    }
    part("clear").click();
""".replace("TAPS", str([list(tap) for tap in TAPS]))


def place_in(text):
    found = re.search(r"\[(.*)\] mm", text)
    return np.array([float(x) for x in found[1].split(",")])


def camera_at(mesh, view, size, turns=True):
    camera = Camera(mesh, LOOKS[view], *size)
    if turns:
        camera.turned(1, 0.1)
        camera.turned(1, 0.1)
        camera.turned(0, 0.1)
    return camera


@pytest.fixture(scope="module")
def seen(page, tmp_path_factory):
    return driven(page, tmp_path_factory.mktemp("places"), PLACES)


def test_a_click_reads_the_place_that_is_seen_there(piece, seen):
    """The ray through the clicked pixel, met with the prism's half-spaces."""
    met = 0
    for view, readings in seen["read"].items():
        camera = camera_at(piece.mesh, int(view), seen["size"])
        for share, text in zip(TAPS, readings, strict=True):
            pixel = np.floor(np.array(share) * seen["size"] + 0.5)
            expected = camera.meets(pixel)
            if expected is None:
                continue
            met += 1
            assert np.linalg.norm(place_in(text) - expected) < NEAR_MM
    assert met >= 12


def test_turning_shifting_and_pinching_move_the_piece_and_mark_nothing(seen):
    assert set(seen["moved"]) == {"drag", "pan", "pinch"}
    for name, move in seen["moved"].items():
        assert move["kept"], name
        pairs = zip(move["before"], move["after"], strict=True)
        aside, start = (np.linalg.norm(place_in(b) - place_in(a)) for a, b in pairs)
        assert aside > 0.5, name
        if name == "drag":  # the piece turns about the place where the drag began
            assert start < NEAR_MM


def visible(camera, places):
    """The places of prism faces that the camera sees, with their pixels."""
    for place in places:
        pixel = camera.pixel(place)
        if np.linalg.norm(camera.meets(pixel) - place) < 1e-6:
            yield place, pixel


@pytest.fixture(scope="module")
def known(piece, seen):
    """For each view: known places of the faces that it shows, and the clicks that show them."""
    grid = [on_face(face, along, up) for face in range(6) for along in (-3, 2.5) for up in (-9, 7)]
    return {view: list(visible(camera_at(piece.mesh, view, seen["size"]), grid)) for view in LOOKS}


MARKING = """
    const click = (points) => points.map(([x, y]) => tap(x, y));
    const start = (kind, view) => {
      set("kind", kind);
      part("view-" + view).click();
      ["ArrowLeft", "ArrowLeft", "ArrowUp"].forEach(press);
    };
    const known = KNOWN;
    result.known = {};
    for (const view of [2, 3, 4]) { start("plane", view); result.known[view] = click(known[view]); }
    const keep = (name) => { if (name) set("name", name); part("keep").click(); };
    start("plane", 3); click(FACE); result.fit = part("fit").textContent;
    set("towards", 'deep "violet"'); set("away", "yel\\u200blow\\u00a0 "); keep("split");
    start("band", 3); click(FACE); part("face-2").click(); click(BESIDE); keep("layer");
    start("ball", 3); click(known[3]); keep("core");
    start("flat", 3); click(FACE.slice(0, 1)); result.flat = part("fit").textContent; keep("side");
    start("spot", 3); click(FACE.slice(0, 1)); set("radius", "0.25"); keep();
    start("needle", 3); click(FACE.slice(0, 2)); keep();
    start("window", 3); click(FACE.slice(0, 1)); result.depthless = part("fit").textContent;
    set("depth", "1.5"); set("radius", "0"); keep("veil");
    start("crack", 3); click(FACE); keep("crack");
    start("crack", 3); click(FACE); part("through").click(); keep("crack");
    start("axisPrism", 3); click(FACES); keep();
    result.kept = part("marks").children.length;
    result.lines = part("lines").value;
    result.whole = part("save").dataset.whole;
    result.undone = (part("undo").click(), part("marks").children.length);
    start("plane", 3); click(FACE.slice(0, 2)); result.lacking = part("fit").textContent;
    result.refused = part("keep").disabled;
    part("view-3").click(); press("+"); press("+"); press("Enter"); result.entered = reading();
    [...part("marks").querySelectorAll("button")].filter((b) => b.textContent === "Remove")
      .forEach(() => part("marks").querySelectorAll("button")[1].click());
    const named = () => document.querySelectorAll("#stage span:not([hidden])").length;
    part("view-3").click(); await new Promise((done) => setTimeout(done, 30));
    const before = named(); part("known").click(); result.hidden = before - named();
    result.emptied = [part("marks").children.length, part("lines").value];
"""


@pytest.fixture(scope="module")
def marked(page, known, tmp_path_factory):
    clicks = {view: [pixel.tolist() for _, pixel in places] for view, places in known.items()}
    face = first_face(known)
    others = {tuple(np.round(normal_at(place), 6)): pixel for place, pixel in known[3]}
    body = MARKING.replace("KNOWN", str(clicks))
    body = body.replace("FACES", str([pixel.tolist() for pixel in others.values()][:2]))
    body = body.replace("BESIDE", str([pixel.tolist() for _, pixel in beside(known)[:1]]))
    body = body.replace("FACE", str([pixel.tolist() for _, pixel in face[:3]]))
    return driven(page, tmp_path_factory.mktemp("marks"), body)


def normal_at(place):
    return NORMALS[np.argmin(np.abs(NORMALS @ place - OFFSETS))]


def first_face(known):
    """The known places of one face, three or more of them, seen in the view from the front."""
    first = normal_at(known[3][0][0])
    return [(place, pixel) for place, pixel in known[3] if np.allclose(normal_at(place), first)]


def beside(known):
    """The known places of the other faces in the same view."""
    first = normal_at(known[3][0][0])
    return [(place, pixel) for place, pixel in known[3] if not np.allclose(normal_at(place), first)]


def test_a_click_on_a_known_place_reads_it(known, marked):
    assert sum(map(len, known.values())) >= 15
    for view, places in known.items():
        for (place, _), text in zip(places, marked["known"][str(view)], strict=True):
            assert np.linalg.norm(place_in(text) - place) < NEAR_MM


def test_three_clicks_on_a_known_plane_yield_it(known, marked):
    (zone, *_) = tomllib.loads(marked["lines"])["zones"]
    normal, place = normal_at(first_face(known)[0][0]), np.array(zone["point_mm"])
    assert abs(np.dot(zone["normal"], normal)) > 1.0 - 1e-7
    assert np.min(np.abs(NORMALS @ place - OFFSETS)) < 0.002
    assert "always fit exactly" in marked["fit"]


def test_one_click_finds_the_whole_face(marked):
    """A prism face is 2·a·tan 30° wide and 2·h high: mm² in closed form."""
    area = 2.0 * APOTHEM * np.tan(np.pi / 6.0) * 2.0 * HALF
    assert marked["flat"].startswith(f"Found: {area:.1f} mm²")


@pytest.fixture(scope="module")
def loaded(folder, marked):
    """What was copied, saved beside the mended scan and read as any rough file is."""
    path = folder / "marked.toml"
    path.write_text(marked["whole"], encoding="utf-8")
    return load_rough(path)


def test_the_copied_file_loads_with_all_marks(piece, known, marked, loaded):
    assert marked["kept"] == 10
    normal = normal_at(first_face(known)[0][0])
    assert [zone.name for zone in loaded.zones] == ["split", "split 2", "layer", "core"]
    assert loaded.zones[1].towards == Colour('deep "violet"', "#8a5cc2")
    assert loaded.zones[1].away.name == "yel low"
    assert [face.name for face in loaded.reference_faces] == ["base", "side", "window to veil"]
    assert loaded.reference_faces[1].plane.normal == pytest.approx(normal, abs=1e-4)
    names = ["bubble", "inclusion", "needle", "veil", "crack", "crack 2"]
    assert [flaw.name for flaw in loaded.flaws] == names
    spot, needle, _, crack, through = loaded.flaws[1:]
    assert (spot.radius_mm, spot.normal) == (0.25, None)
    assert needle.ends == pytest.approx(
        np.array([p for p, _ in first_face(known)[:2]]), abs=NEAR_MM
    )
    assert abs(crack.normal @ normal) > 1.0 - 1e-7
    assert np.isfinite(crack.across_mm)
    assert np.isinf(through.across_mm)
    assert loaded.volume_mm3 == pytest.approx(piece.volume_mm3, rel=1e-12)


def test_a_flaw_seen_through_a_window_lies_n_times_as_deep(known, marked, loaded):
    """A look square into it, with the middle of the species' refractive index."""
    assert marked["depthless"] == "Say how deep the flaw seems to lie."
    place, (low, high) = first_face(known)[0][0], load_material("quartz").ri
    depth = normal_at(place) @ (place - loaded.flaws[3].ends[0])
    assert depth == pytest.approx(1.5 * (low + high) / 2.0, abs=0.03)


def test_a_band_and_a_ball_are_those_of_the_clicked_places(known, loaded):
    """The ball against the fit of the rough stage, another program."""
    band, core = (zone.boundary for zone in loaded.zones[2:])
    face, (other, _) = first_face(known)[0][0], beside(known)[0]
    normal = normal_at(face)
    assert abs(band.planes[0].normal @ normal) > 1.0 - 1e-7
    assert band.thick_mm == pytest.approx(abs(normal @ (other - face)), abs=NEAR_MM)
    assert heights(band, (face + other)[None] / 2.0) > 0.0
    fitted = fitted_ball(np.array([place for place, _ in known[3]]))
    assert core.radius_mm == pytest.approx(fitted.radius_mm, rel=2e-3)
    assert core.centre == pytest.approx(fitted.centre, abs=0.05)


def test_two_prism_faces_tell_the_axis(marked, loaded):
    assert abs(loaded.optic_axis @ ROTATION[:, 2]) > 1.0 - 1e-9
    assert marked["whole"].count("optic_axis") == 1  # in place of what the piece had


def test_the_lines_alone_can_be_added_to_a_rough_file(folder, marked):
    """The axis above the first table, the rest at the end, as the page says."""
    axis, tables = marked["lines"].split("\n", 1)
    assert axis.startswith("optic_axis")
    plain = (folder / "rough.toml").read_text(encoding="utf-8")
    kept = "\n".join(line for line in plain.split("\n") if not line.startswith("optic_axis"))
    (folder / "added.toml").write_text(f"{axis}\n{kept}\n{tables}", encoding="utf-8")
    assert len(load_rough(folder / "added.toml").flaws) == 6


def test_what_is_lacking_is_said_and_undo_and_remove_work(marked):
    assert marked["lacking"] == "Click 1 more point for a plane."
    assert marked["refused"]
    assert marked["undone"] == 9
    assert marked["emptied"] == [0, ""]


def test_what_is_known_can_be_hidden(marked):
    """The labels of one boundary, one flaw and one face."""
    assert marked["hidden"] == 3


def test_enter_marks_the_place_under_the_cross(piece, seen, marked):
    """Zooming at the middle keeps it there."""
    camera = camera_at(piece.mesh, 3, seen["size"], turns=False)
    expected = camera.meets(camera.size / 2.0)
    assert np.linalg.norm(place_in(marked["entered"]) - expected) < NEAR_MM


def test_the_page_fits_a_phone(page, tmp_path):
    seen = driven(
        page, tmp_path, "result.hint = part('hint').textContent;", "--window-size=500,900"
    )
    assert seen["wide"]
    assert "colour changes" in seen["hint"]


def test_nothing_is_fetched_and_names_are_no_code(page):
    own = page.replace("http://www.w3.org/2000/svg", "")
    assert not re.search(r"https?://|@import|\bimport\s*\(|fetch\(|XMLHttpRequest|url\(", own)
    assert "default-src 'none'" in page
    assert "<hexagonal>" not in page
