"""The command line through ``main``: exit statuses, one-line faults, nothing half written."""

import json
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass, replace
from io import StringIO
from pathlib import Path

import jsonschema
import numpy as np
import pytest
import shapes
from command import Ran, document, everything_in, refused, untimed

import optimizer.offers.placement_cache
import optimizer.progress
from optimizer import cli
from optimizer.design import library
from optimizer.folder.own import write_file_list
from optimizer.mesh import Mesh
from optimizer.offcuts.sizes import SEARCHED
from optimizer.order import Order, load_order
from optimizer.plan import make_plan
from optimizer.plan_model import Plan
from optimizer.progress import STOPPING
from optimizer.rough import write_ply
from optimizer.rough.model import Rough
from optimizer.running.giving_up import GIVEN_UP

pytestmark = pytest.mark.usefixtures("small_search")

ROUGH = """\
scan = "pebble.ply"
unit = "mm"
material = "quartz"
scan_error_mm = 0.05
[[zones]]
name = "split"
point_mm = [0, 0, 0]
normal = [1, 0, 0]
towards = { colour = "violet" }
away = { colour = "yellow" }
"""
ORDER = """\
design = "oval"
[zone]
name = "split"
colour = "violet"
tilt_deg = [-20, 20]
offset = [-0.2, 0.2]
"""
FEW_CUTS = "\n[workshop]\nmost_cuts = 2\n"  # the saw plan takes the longest here
FIXED = "\n[parameters]\ncrown = 36\npavilion = 42.5\n"  # and free mains come next
HEAVY = {
    "numpy", "scipy", "numba", "trimesh", "open3d", "manifold3d", "ortools", "pydantic", "rich",
}  # fmt: skip
COMMAND = (sys.executable, "-c", "from optimizer.cli import main; main()")
HOME = Path(optimizer.__file__).parent.parent
FRESH = {**os.environ, "PYTHONPATH": str(HOME)}  # for processes of our own


def furnish(folder: Path) -> Path:
    """A folder with a pebble, its rough file and an order."""
    write_ply(folder / "pebble.ply", shapes.pebble(3, 8.0, 2))
    (folder / "rough.toml").write_text(ROUGH)
    (folder / "order.toml").write_text(ORDER + FEW_CUTS + FIXED)
    return folder


@pytest.fixture
def desk(tmp_path: Path) -> Path:
    return furnish(tmp_path)


@pytest.fixture
def plan(run, desk: Path) -> Callable[..., Ran]:
    """A quick plan of the pebble into ``desk``/out; the order is given as text."""

    def call(order: str = ORDER, *more: object, rough: str = "rough.toml") -> Ran:
        order += "" if "workshop" in order else FEW_CUTS
        order += FIXED if 'design = "oval"' in order and "parameters" not in order else ""
        (desk / "order.toml").write_text(order)
        where = (desk / rough, desk / "order.toml", "--out", desk / "out")
        return run("plan", *where, "--effort", "quick", *more)

    return call


# --- 0: found ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Planned:
    """A quick plan, its desk with the ``out``, and what was said."""

    plan: Plan
    desk: Path
    out: str
    err: str


@pytest.fixture(scope="module")
def planned(tmp_path_factory, small_search) -> Planned:
    """Made once, for tests that only read it."""
    desk, made = furnish(tmp_path_factory.mktemp("found")), []
    (desk / "order.toml").write_text(ORDER)
    arguments = [desk / "rough.toml", desk / "order.toml", "--out", desk / "out"]

    def kept(*asked: object, **more: object) -> Plan:
        made.append(make_plan(*asked, **more))
        return made[0]

    with (
        pytest.MonkeyPatch.context() as patch,
        redirect_stdout(StringIO()) as out,
        redirect_stderr(StringIO()) as err,
    ):
        patch.setattr("optimizer.make_plan", kept, raising=False)
        patch.setitem(SEARCHED, "quick", 1)  # of the offcuts
        status = cli._status(["plan", *map(str, arguments), "--effort", "quick", "--seed", "5"])
    assert status == 0
    return Planned(made[0], desk, out.getvalue(), err.getvalue())


@pytest.fixture(scope="module")
def found(planned) -> Path:
    """The desk, with its ``out``."""
    return planned.desk


@pytest.fixture
def at_once(planned, monkeypatch) -> None:
    """The stone found once stands for any that is asked for; what is read is told as it is."""

    def made(rough: Rough, *asked: object, **more: object) -> Plan:
        told = {name: getattr(rough, name) for name in ("scan", "mm_per_unit", "volume_mm3")}
        return replace(planned.plan, rough=replace(planned.plan.rough, **told))

    monkeypatch.setattr("optimizer.make_plan", made, raising=False)


def test_a_plan_is_written_whole_and_by_its_schema(found):
    schema = json.loads(
        (Path(optimizer.__file__).parent / "documents/plan.schema.json").read_text()
    )
    plan = document(found / "out")
    jsonschema.validate(plan, schema)
    assert (plan["format"], plan["status"], plan["interrupted"]) == (
        "kerfwise-plan/1",
        "found",
        False,
    )
    assert plan["made_by"] == {"version": optimizer.__version__, "seed": 5, "effort": "quick"}
    assert plan["audit"]["passed"] is True
    names = set(everything_in(found / "out"))
    assert {"plan.json", "rough.ply", "stones/01.ply", "order.toml", "report.html"} <= names
    meshes = [plan["stones"][0]["mesh"]]
    meshes += [part["mesh"] for part in (*plan["pieces"], *plan["offcuts"])]
    assert set(meshes) <= names


def test_nothing_but_the_folder_is_written(found):
    assert {path.name for path in found.iterdir()} == {
        "pebble.ply", "rough.toml", "order.toml", "out",
    }  # fmt: skip


def test_the_plan_holds_no_date_and_no_absolute_path(found):
    text = (found / "out/plan.json").read_text(encoding="utf-8")
    assert str(found) not in text
    assert not re.search(r'"[^"]*(/|[A-Z]:\\)(home|tmp|root|Users|work)\b', text)
    assert not re.search(r"\b20\d\d-\d\d", text)


def test_an_order_file_holds_every_default_of_the_order_as_asked(found):
    assert load_order(found / "out/order.toml") == load_order(found / "order.toml")


def test_the_screen_says_the_answer_first_and_where_the_files_are(planned):
    carat = document(planned.desk / "out")["total_carat"]
    assert planned.out.startswith(f"Oval, {carat:.2f} ct\n")
    assert str(planned.desk / "out" / "report.html") in planned.out
    assert planned.err == ""


def test_without_an_order_any_design_may_win(run, desk, planned, monkeypatch):
    asked = []

    def made(rough: Rough, order: Order, **more: object) -> Plan:
        asked.append(order)
        return planned.plan

    monkeypatch.setattr("optimizer.make_plan", made, raising=False)
    ran = run("plan", desk / "rough.toml", "--out", desk / "out", "--effort", "quick")
    assert (ran.status, asked) == (0, [Order()])
    assert Order().designs == ()  # any of the library


def test_names_in_any_script(run, desk):
    home = desk / "Größe 石"
    home.mkdir()
    out = home / "folders/yet/missing/öut"
    shutil.copy(desk / "pebble.ply", home / "石.ply")
    swap = str.maketrans({"s": "š"})
    zone, colour = "split".translate(swap), "紫"
    rough = ROUGH.replace("pebble", "石").replace("split", zone).replace("violet", colour)
    (home / "röh.toml").write_text(rough, encoding="utf-8")
    order = (ORDER + FEW_CUTS + FIXED).replace("split", zone).replace("violet", colour)
    (home / "bestellung.toml").write_text(order, encoding="utf-8")
    where = (home / "röh.toml", home / "bestellung.toml", "--out", out)
    ran = run("plan", *where, "--effort", "quick")
    assert ran.status == 0
    assert zone in ran.out
    assert document(out)["rough"]["scan"] == "石.ply"
    assert load_order(out / "order.toml").zone.colour == colour


@pytest.mark.skipif(sys.platform != "linux", reason="other systems refuse such names")
@pytest.mark.usefixtures("at_once")
def test_a_file_name_in_another_encoding_and_an_empty_folder(plan, desk):
    (desk / "out").mkdir()
    name = os.fsdecode(b"gr\xfcn.ply")
    shutil.copy(desk / "pebble.ply", desk / name)
    assert plan('design = "oval"\n', rough=name).status == 0
    assert document(desk / "out")["rough"]["scan"] == "gr\\udcfcn.ply"


@pytest.mark.usefixtures("at_once")
def test_a_full_folder_is_replaced_only_when_told_and_only_ones_own(plan, desk):
    assert plan().status == 0
    assert plan().err.startswith(f"kerfwise: {desk / 'out'}: the folder is not empty; give --repl")
    (desk / "out/mine.txt").write_text("keep")
    before = everything_in(desk / "out")
    for more in ((), ("--replace",)):
        ran = plan(ORDER, *more)
        assert ran.status == 2
        assert everything_in(desk / "out") == before
    assert "mine.txt in it is not kerfwise's" in ran.err
    (desk / "out/mine.txt").unlink()
    (desk / "out/plan.json").unlink()
    assert plan(ORDER, "--replace").status == 0
    assert document(desk / "out")["status"] == "found"
    assert not list(desk.glob(".*"))


def test_a_folder_of_the_users_is_never_replaced(run, desk):
    """Neither with the rough and the order in it, nor with scans that are only named."""
    (desk / "scans").mkdir()
    shutil.move(desk / "pebble.ply", desk / "scans/pebble.ply")
    (desk / "beside.toml").write_text(ROUGH.replace("pebble.ply", "scans/pebble.ply"))
    before = everything_in(desk)
    for rough, out in ((desk / "rough.toml", desk), (desk / "beside.toml", desk / "scans")):
        for command in ("plan", "check"):
            refused(run(command, rough, "--out", out, "--replace"), "--replace would delete")
    assert everything_in(desk) == before


LIKE = '[several]\n[[wanted]]\nname = "left"\nlike = { plan = "out/plan.json", stone = 1 }\n'
FLAW = '[[flaws]]\nname = "cloud"\nmesh = "out/stones/01.ply"\n'
READ = {
    "rough": (None, ROUGH, ORDER),
    "scan": ("out/rough.ply", ROUGH.replace("pebble.ply", "out/rough.ply"), ORDER),
    "flaw": ("out/stones/01.ply", ROUGH + FLAW, ORDER),
    "like": ("out/plan.json", ROUGH, LIKE),
    "workshop": ("out/order.toml", ROUGH, 'workshop = "out/order.toml"\n'),
    "design": ("out/order.toml", ROUGH, 'design = "out/order.toml"\n'),
}


@pytest.mark.parametrize("kind", list(READ))
def test_a_plan_that_is_read_is_not_replaced(kind, found, run, tmp_path):
    """A plan's own folder, of which this run reads a file."""
    desk = furnish(tmp_path)
    shutil.copytree(found / "out", desk / "out")
    read, rough, order = READ[kind]
    (desk / "rough.toml").write_text(rough)
    (desk / "order.toml").write_text(order)
    before = everything_in(desk)
    where = (desk / "rough.toml" if read else desk / "out/rough.toml", desk / "order.toml")
    ran = run("plan", *where, "--out", desk / "out", "--replace")
    refused(ran, f"{read or 'out/rough.toml'}: this run reads it, and --replace would delete it")
    assert everything_in(desk) == before


def test_a_plans_own_order_plans_the_same_again(found, run, tmp_path, monkeypatch):
    """To the byte."""
    monkeypatch.setitem(SEARCHED, "quick", 1)
    where = (found / "rough.toml", found / "out/order.toml", "--out", tmp_path / "out")
    assert run("plan", *where, "--effort", "quick", "--seed", 5).status == 0
    assert untimed(tmp_path / "out") == untimed(found / "out")
    for name in ("stones/01.ply", "rough.ply", "order.toml"):
        assert (tmp_path / "out" / name).read_bytes() == (found / "out" / name).read_bytes()


@pytest.mark.usefixtures("at_once")
def test_a_bare_scan_takes_its_unit_from_the_call(run, desk):
    inches = Mesh(shapes.pebble(3, 8.0, 2).vertices / 25.4, shapes.pebble(3, 8.0, 2).faces)
    write_ply(desk / "inches.ply", inches)
    assert run("plan", desk / "inches.ply", "--out", desk / "out", "--unit", "in").status == 0
    rough = document(desk / "out")["rough"]
    assert rough["mm_per_unit"] == 25.4
    volume = shapes.as_solid(shapes.pebble(3, 8.0, 2)).volume()
    assert rough["volume_mm3"] == pytest.approx(volume, rel=1e-9)


def test_an_order_may_hold_the_rough_table_and_name_a_design_file_beside_it(
    plan, run, desk, monkeypatch
):
    """Both with a bare scan; and what is written plans the same again."""
    shutil.copy(HOME / "designs/oval.toml", desk / "mine.toml")
    table = ROUGH.replace('scan = "pebble.ply"\n', "").replace("[[zones]]", "[[rough.zones]]")
    elsewhere = desk / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.chdir(elsewhere)
    order = ORDER.replace('"oval"', '"mine.toml"') + FIXED
    assert plan(f"{order}[rough]\n{table}", rough="pebble.ply").status == 0
    made = document(desk / "out")
    assert made["stones"][0]["design"] == "mine"
    assert str(desk) not in json.dumps(made)
    where = (desk / "pebble.ply", desk / "out/order.toml", "--out", desk / "again")
    assert run("plan", *where, "--effort", "quick").status == 0
    assert untimed(desk / "again") == untimed(desk / "out")


@pytest.mark.parametrize(
    "order",
    [
        "[workshop]\nmost_cuts = 0\n[size]\ncarat = 1\n"
        '[zone]\nname = "split"\ncolour = "yellow"\nkeep_clear_mm = 0.1\n',
        "[workshop]\nmost_cuts = 2\nkerf_mm = 0\nsaw_error_mm = 0\n[size]\nlength_mm = [3, 5]\n"
        '[zone]\nname = "split"\ncolour = "violet"\nkeep_clear_mm = 0\n',
        "[workshop]\nmost_cuts = 2\nsaw_reach_mm = 0.001\n"
        "[size]\nwidth_mm = 3\n[girdle]\nleast_mm = 0.8\n"
        '[zone]\nname = "split"\ncolour = "yellow"\nazimuth_deg = [170, 190]\n',
        "[workshop]\nmost_cuts = 2\nkeep_offcut_ct = 0\ngrind_mm = 0\n"
        "[size]\nwidth_mm = 5\nlength_mm = 7\n"
        '[zone]\nname = "split"\ncolour = "yellow"\noffset = [1, 1]\n',
    ],
)
def test_odd_orders_that_can_be_met(order, plan, desk):
    """Each ends as a plan whose own audit has passed, the order's demands among its checks."""
    ran = plan(f'design = "oval"\n{order}')
    assert (ran.status, ran.err) == (0, "")
    stone = document(desk / "out")["stones"][0]
    asked = load_order(desk / "order.toml")
    for key, value in (("width_mm", stone["width_mm"]), ("length_mm", stone["length_mm"])):
        low, high = getattr(asked.size, key) or (0.0, np.inf)
        assert low - 1e-6 <= value <= high + 1e-6
    assert stone["girdle_mm"] >= asked.least_girdle_mm - 1e-9
    assert len(document(desk / "out")["cuts"]) <= asked.workshop.most_cuts


# --- 3: no stone -------------------------------------------------------------------------------


def test_a_size_beyond_the_piece_is_proved_impossible(plan, desk):
    ran = plan('design = "oval"\n[size]\nwidth_mm = 50\n')
    assert ran.status == 3
    assert ran.err == ""
    made = document(desk / "out")
    assert (made["status"], made["stones"], made["interrupted"]) == ("impossible", [], False)
    (reason,) = made["ruled_out_by"]
    assert "exactly 50 mm wide" in reason["demand"]
    assert reason["stone"]["carat"] > 5.0
    assert (desk / "out/report.html").is_file()


def test_what_is_not_proved_is_not_called_impossible(plan, desk):
    """The bound knows no share of the volume: a size that fits only across the boundary."""
    order = (
        '[size]\nwidth_mm = 12.5\n[zone]\nname = "split"\ncolour = "violet"\nshare_percent = 100\n'
    )
    ran = plan(f'design = "oval"\n{order}')
    assert ran.status == 3
    made = document(desk / "out")
    assert made["status"] == "not found"
    assert len(made["ruled_out_by"]) >= 2
    assert any("share" in r["demand"] or "%" in r["demand"] for r in made["ruled_out_by"])


def test_demands_that_exclude_each_other_end_with_what_each_alone_allows(plan, desk):
    """All on one side, and half across: no stone of any size, however small the search goes."""
    zone = '[zone]\nname = "split"\ncolour = "violet"\nshare_percent = 0\noffset = 0\n'
    assert plan(f'design = "oval"\n{zone}').status == 3
    demands = [reason["demand"] for reason in document(desk / "out")["ruled_out_by"]]
    assert any("0 to 0 % violet" in demand for demand in demands)
    assert any("offset 0 to 0" in demand for demand in demands)
    assert min(r["stone"]["width_mm"] for r in document(desk / "out")["ruled_out_by"]) > 1.0


def test_no_room_at_all_is_said(plan, desk):
    ran = plan('design = "oval"\n[workshop]\nclean_up_mm = 100\n')
    assert ran.status == 3
    made = document(desk / "out")
    assert made["status"] == "impossible"
    assert made["ruled_out_by"] == []
    assert any("100.05 mm" in text and "no room" in text for text in made["warnings"])


# --- 4: the audit refuses ----------------------------------------------------------------------


ASIDE_MM = np.array([1.0, 0.0, 0.0])


@pytest.fixture
def stones_slip(monkeypatch):
    """Every placement slips by a millimetre after the search."""
    honest = optimizer.offers.placement_cache.place_offer

    def slipped(*arguments):
        found = honest(*arguments)
        pose = found.placement.pose
        aside = replace(pose, translation=pose.translation + ASIDE_MM)
        return found._replace(placement=replace(found.placement, pose=aside))

    monkeypatch.setattr(optimizer.offers.placement_cache, "place_offer", slipped)


def test_a_plan_that_fails_its_audit_is_not_written_and_leaves_an_older_one(
    stones_slip, plan, desk
):
    (desk / "out").mkdir()
    (desk / "out/old.txt").write_text("old")
    write_file_list(desk / "out")
    before = everything_in(desk)
    ran = plan(ORDER + FEW_CUTS + FIXED, "--replace")
    assert ran.status == 4
    assert ran.err.count("\n") == 1
    assert ran.err.startswith("kerfwise: the plan failed its own check, so nothing was written: ")
    assert ran.out == ""
    assert everything_in(desk) == before


# --- 2: bad input ------------------------------------------------------------------------------


BAD_ORDERS = [
    ("colour = 1", "order.toml", '"colour" is not known', "design"),
    ("desing = 'oval'", '"desing" is not known', 'did you mean "design"?'),
    ("design = 1", '"design" must be a name'),
    ("design = 'ovel'", 'did you mean "oval"?'),
    ("design = ''", "known: "),
    ("design = 'gone.toml'", "gone.toml: there is no such file"),
    (
        "design = ['oval', 'round-brilliant']\n[parameters]\nlength_to_width = 1.5",
        "round-brilliant",
    ),
    ("[parameters]\nlenght_to_width = 1.5", 'did you mean "length_to_width"?'),
    ("design = 'oval'\n[parameters]\nlength_to_width = 99", "length_to_width is 99", "between"),
    ("[size]\nwidth_mm = '5'", '"size.width_mm" must be a number'),
    ("[size]\nwidth_mm = -5", '"size.width_mm"', "-5"),
    ("[size]\nwidth_mm = [5, 3]", "runs backwards: 5 to 3"),
    ("[size]\nwidth_mm = nan", '"size.width_mm" must be a finite number'),
    ("[size]\nwidth = 5", 'did you mean "width_mm"?'),
    ("design = 'oval'\n[size]\nwidth_mm = 5\nlength_mm = 5", "contradicts itself for oval"),
    ("[size]\nwidth_mm = 5\nlength_mm = 500", "no design of the library can meet the order"),
    ("[girdle]\nleast_mm = -1", '"girdle.least_mm" must be at least 0, got -1'),
    ("[girdle]\nleast_percent = 29", "girdle is 0.29"),
    ("[zone]\nname = 'splt'\ncolour = 'violet'\noffset = 0", 'did you mean "split"?'),
    ("[zone]\nname = 'split'\ncolour = 'violte'\noffset = 0", 'did you mean "violet"?'),
    ("[zone]\nname = 'split'\ncolour = 'violet'", '"zone" asks nothing about'),
    ("[workshop]\nkerf = 1", "[workshop]", 'did you mean "kerf_mm"?'),
    ("workshop = 'none.toml'", "none.toml: there is no such file"),
    ("[rough]\nmaterial = 'quartz'", "both given; keep one"),
    ("size = ", "not a valid TOML file"),
]


@pytest.mark.parametrize("case", BAD_ORDERS, ids=range(len(BAD_ORDERS)))
def test_a_bad_order_is_refused_in_one_line(case, plan, desk):
    order, *said = case
    refused(plan(order), *said)
    assert not (desk / "out").exists()


def ply(vertices: str, claimed: int) -> str:
    lines = ["ply", "format ascii 1.0", f"element vertex {claimed}"]
    lines += [f"property double {axis}" for axis in "xyz"]
    lines += ["element face 1", "property list uchar int vertex_indices", "end_header"]
    return "\n".join(lines) + f"\n{vertices}3 0 1 2\n"


def scans() -> dict[str, tuple[bytes | Mesh, str]]:
    """Name: what it holds, what is said."""
    box = shapes.box()
    holed = Mesh(box.vertices, box.faces[1:])
    flat = Mesh(box.vertices * [1.0, 1.0, 0.0], box.faces)
    beside = shapes.moved(box, np.eye(3), np.array([30.0, 0.0, 0.0]))
    two = Mesh(
        np.concatenate([box.vertices, beside.vertices]),
        np.concatenate([box.faces, beside.faces + len(box.vertices)]),
    )
    stl = b"x" * 80 + (1000).to_bytes(4, "little") + b"\0" * 50
    wrong = Mesh(np.where(box.vertices > 4.9, np.nan, box.vertices), box.faces)
    endless = Mesh(np.where(box.vertices > 4.9, np.inf, box.vertices), box.faces)
    return {
        "short.stl": (stl, "1,000"),
        "liar.ply": (ply("0 0 0\n1 0 0\n0 1 0\n", 2_000_000_000).encode(), "2,000,000,000"),
        "nothing.ply": (b"", "empty"),
        "words.obj": (b"once upon a time\n", "no OBJ file"),
        "disguise.stl": (ply("0 0 0\n1 0 0\n0 1 0\n", 3).encode(), "PLY"),
        "picture.png": (b"\x89PNG", ".png"),
        "nan.ply": (wrong, "finite"),
        "inf.ply": (endless, "finite"),
        "open.ply": (holed, "open"),
        "flat.ply": (flat, ""),
        "two.ply": (two, "2"),
        "small.ply": (shapes.scaled(box, 0.01), "no unit is stated"),
        "large.ply": (shapes.scaled(box, 1000.0), "um ("),
    }


@pytest.mark.parametrize("name", list(scans()))
@pytest.mark.parametrize("command", ["plan", "check"])
def test_a_bad_scan_is_refused_in_one_line(command, name, run, tmp_path):
    content, said = scans()[name]
    if isinstance(content, Mesh):
        write_ply(tmp_path / name, content)
    else:
        (tmp_path / name).write_bytes(content)
    before = everything_in(tmp_path)
    out = ("--out", tmp_path / "out") if command == "plan" else ()
    refused(run(command, tmp_path / name, *out), name, said)
    assert everything_in(tmp_path) == before


@pytest.mark.parametrize(
    ("rough", "said"),
    [
        ('scan = "gone.ply"\nmaterial = "quartz"', "gone.ply"),
        ('scan = "."\nmaterial = "quartz"', '"scan"'),
        ('scan = "pebble.ply"\nmaterial = "quarz"', 'did you mean "quartz"?'),
        ('scan = "pebble.ply"\nmaterial = "quartz"\nunit = "mile"', "'mm'"),
        ('design = "oval"', '"design" is not known'),
    ],
)
def test_a_bad_rough_file_is_refused_in_one_line(rough, said, run, desk):
    (desk / "rough.toml").write_text(rough)
    refused(run("plan", desk / "rough.toml", "--out", desk / "out"), "rough.toml", said)
    assert not (desk / "out").exists()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "Missing command"),
        (["pln"], "pln"),
        (["plan"], "ROUGH"),
        (["plan", "rough.toml"], "--out"),
        (["plan", "gone.stl", "--out", "out"], "gone.stl: there is no such file"),
        (["plan", "gone.toml", "--out", "out"], "gone.toml: there is no such file"),
        (["plan", ".", "--out", "out"], "is a folder"),
        (["plan", "folder.ply", "--out", "out"], "folder.ply"),
        (["plan", "rough.toml", "gone.toml", "--out", "out"], "gone.toml: there is no such file"),
        (["plan", "rough.toml", "folder.ply", "--out", "out"], "is a folder"),
        (["plan", "rough.toml", "pebble.ply", "--out", "out"], "pebble.ply"),
        (["plan", "rough.toml", "--out", "order.toml"], "is a file, not a folder"),
        (["plan", "rough.toml", "--out", "order.toml/out"], "order.toml"),
        (["plan", "rough.toml", "--out", "."], "is your current folder"),
        (["plan", "rough.toml", "--out", ".", "--replace"], "is your current folder"),
        (["plan", "rough.toml", "--out", "out", "--seed", "-1"], "--seed"),
        (["plan", "rough.toml", "--out", "out", "--seed", "many"], "--seed"),
        (["plan", "rough.toml", "--out", "out", "--effort", "fast"], "'quick'"),
        (["plan", "rough.toml", "--out", "out", "--speed", "3"], "--speed"),
        (["plan", "rough.toml", "--out", "out", "--unit", "in"], 'unit "in"'),
        (["plan", "pebble.ply", "--out", "out", "--unit", "mmm"], 'did you mean "mm"?'),
        (["plan", "pebble.ply", "--out", "out", "--gap", "5"], "--prove"),
        (["check", "gone.stl"], "gone.stl: there is no such file"),
        (["designs", "ovel"], 'did you mean "oval"?'),
        (["designs", "--out", "oval"], "NAME"),
        (["designs", "oval", "--replace"], "--out"),
        (["order", "--out", "order.toml"], "exists already"),
        (["designs", "oval", "--out", "order.toml/oval"], "order.toml"),
        (["order", "--out", "gone/order.toml"], "can't be written"),
    ],
)
def test_a_bad_call_is_refused_in_one_line(arguments, said, run, desk, monkeypatch):
    (desk / "folder.ply").mkdir()
    monkeypatch.chdir(desk)
    before = everything_in(desk)
    refused(run(*arguments), said)
    assert everything_in(desk) == before


@pytest.mark.usefixtures("at_once")
def test_a_disk_that_refuses_is_one_line(plan, desk, monkeypatch):
    def full(*arguments: object, **more: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("optimizer.report.write_plan", full)
    refused(plan(), "out: can't be written (No space left on device)")


def test_a_fault_of_our_own_is_not_dressed_up_as_the_users(plan, monkeypatch, desk):
    def broken(*arguments: object, **more: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("optimizer.make_plan", broken, raising=False)
    with pytest.raises(ZeroDivisionError):
        plan()


# --- 130 and Ctrl-C ----------------------------------------------------------------------------


def started(*arguments: object) -> subprocess.Popen:
    return subprocess.Popen(
        [*COMMAND, *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=FRESH,
    )


# Waits where the scan is read, and while the libraries load.
READING = """import sys, time
class Slow:
    def find_spec(self, name, *_):
        if name == "{slow}":
            print("waiting", flush=True)
            time.sleep(60)
sys.meta_path.insert(0, Slow())
from optimizer.__main__ import main
main()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no signals to send here")
@pytest.mark.parametrize("slow", ["typer", "optimizer.rough.flats.find"])
def test_stopped_before_any_stone_nothing_is_written(slow, desk):
    before = everything_in(desk)
    call = ("check", desk / "rough.toml", "--out", desk / "new/out")
    process = subprocess.Popen(
        [sys.executable, "-c", READING.format(slow=slow), *call],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=FRESH,
    )  # fmt: skip
    assert process.stdout.readline() == "waiting\n"
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=30)
    assert (process.returncode, out, err) == (130, "", f"kerfwise: {GIVEN_UP}\n")
    assert everything_in(desk) == before


@pytest.mark.skipif(sys.platform == "win32", reason="no signals to send here")
def test_stopped_with_a_stone_the_best_so_far_is_audited_and_kept(desk):
    write_ply(desk / "pebble.ply", shapes.dented(3, 8.0, subdivisions=2))  # a long search
    (desk / "order.toml").write_text(ORDER + "[workshop]\nmost_cuts = 0\n" + FIXED)
    where = (desk / "rough.toml", desk / "order.toml", "--out", desk / "out")
    process = started("plan", *where, "--effort", "thorough")
    while "best so far" not in process.stderr.readline():
        assert process.poll() is None
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)  # a whole search takes longer
    assert process.returncode == 0
    assert STOPPING in err
    assert "stopped early" in out
    made = document(desk / "out")
    assert (made["status"], made["interrupted"], made["audit"]["passed"]) == ("found", True, True)


def test_a_second_stop_ends_at_once_with_nothing_written(run, desk, monkeypatch):
    def interrupted(*arguments, watch, **chosen):
        watch.progress("Oval: climbing", 1, 20, 3.25)
        os.kill(os.getpid(), signal.SIGINT)
        os.kill(os.getpid(), signal.SIGINT)
        raise AssertionError

    monkeypatch.setattr("optimizer.make_plan", interrupted, raising=False)
    monkeypatch.setattr(os, "_exit", sys.exit)
    monkeypatch.setattr(os, "write", lambda number, line: said.append((number, line)))
    said: list[tuple[int, bytes]] = []
    ran = run("plan", desk / "rough.toml", "--out", desk / "out")
    assert (ran.status, ran.out, ran.err) == (130, "", STOPPING + "\n")
    assert said == [(2, f"kerfwise: {GIVEN_UP}\n".encode())]
    assert not list(desk.glob("*out*"))
    assert not list(desk.glob(".*"))


def test_after_a_stop_no_thread_is_waited_for(monkeypatch):
    left = []
    monkeypatch.setattr(cli, "_status", lambda arguments: cli.STOPPED)
    monkeypatch.setattr(os, "_exit", left.append)
    with pytest.raises(SystemExit):  # as far as a real one never comes
        cli.main()
    assert left == [130]


# --- the small commands and the streams --------------------------------------------------------


def test_check_says_what_the_piece_is(run, desk):
    ran = run("check", desk / "rough.toml")
    assert (ran.status, ran.err) == (0, "")
    for part in ("320 triangles", "quartz", "split", "volume"):
        assert part in ran.out


def test_order_writes_an_example_that_is_an_order(run, tmp_path):
    shown = run("order")
    assert shown.status == 0
    assert run("order", "--out", tmp_path / "order.toml").status == 0
    assert (tmp_path / "order.toml").read_text(encoding="utf-8") == shown.out
    assert load_order(tmp_path / "order.toml") == Order()


def test_designs_lists_the_library_and_shows_one(run, tmp_path):
    listed = run("designs")
    assert listed.status == 0
    lines = [line.split() for line in listed.out.splitlines() if line]
    assert {line[0] for line in lines} >= set(library())
    assert ["Long", "hexagon"] in lines
    brilliant = next(line for line in lines if line[0] == "round-brilliant")
    assert brilliant[1:3] == ["73", "facets"]  # 57 and the 16 of the girdle
    shown = run("designs", "oval", "--out", tmp_path / "oval")
    assert shown.status == 0
    assert "length_to_width" in shown.out
    told = json.loads((tmp_path / "oval" / "design.json").read_text(encoding="utf-8"))
    assert told["format"] == "kerfwise-design/1"
    assert (tmp_path / "oval" / "design.svg").read_text(encoding="utf-8").startswith("<svg")
    assert (tmp_path / "oval" / "design.png").read_bytes().startswith(b"\x89PNG")


def test_help_names_what_is_built_and_nothing_else(run):
    ran = run("--help")
    assert ran.status == 0
    assert {"plan", "sawn", "check", "order", "designs", "look"} <= set(ran.out.split())
    helped = run("plan", "--help").out
    assert "--replace" in helped
    assert "--prove" in helped
    assert run("--version").out == f"kerfwise {optimizer.__version__}\n"


def loaded_by(code: str) -> set[str]:
    """The heavy libraries that are loaded once ``code`` has run in a fresh interpreter."""
    probe = f"{code}\nimport sys; print(*sys.modules, file=sys.stderr)"
    done = subprocess.run(
        [sys.executable, "-c", probe], capture_output=True, text=True, check=True, env=FRESH
    )
    return HEAVY & set(done.stderr.split())


def test_import_and_help_load_no_heavy_library():
    assert loaded_by("import optimizer") == set()
    helped = "import sys; from optimizer.cli import main; sys.argv = ['kerfwise', '--help']\n"
    assert loaded_by(f"{helped}try: main()\nexcept SystemExit: pass") == set()


@pytest.mark.skipif(sys.platform == "win32", reason="needs a shell")
class TestStreams:
    """Whatever stands at the other end of the streams: no traceback, and the true status."""

    def shell(self, words: str, **environment: str) -> subprocess.CompletedProcess:
        return subprocess.run(
            ["/bin/sh", "-c", f'"{sys.executable}" -c "{COMMAND[2]}" {words}'],
            capture_output=True, text=True, timeout=60, env=FRESH | environment,
        )  # fmt: skip

    def test_a_reader_that_leaves(self):
        read, write = os.pipe()
        os.close(read)
        done = subprocess.run(
            [*COMMAND, "order"], stdout=write, stderr=subprocess.PIPE, timeout=60, env=FRESH
        )
        os.close(write)
        assert (done.returncode, done.stderr) == (0, b"")

    def test_closed_streams(self):
        done = self.shell("order >&-")
        assert (done.returncode, done.stderr) == (0, "")
        done = self.shell("check gone.stl 2>&-")
        assert (done.returncode, done.stdout) == (2, "")

    def test_a_terminal_without_unicode(self):
        assert self.shell("designs oval", PYTHONIOENCODING="ascii").returncode == 0
        done = self.shell("check 石.stl", PYTHONIOENCODING="ascii")
        assert done.returncode == 2
        assert done.stderr.count("\n") == 1
