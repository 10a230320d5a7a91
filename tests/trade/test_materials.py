"""The species table: every value whole, ordered and sourced; cautions said where they are due."""

import pickle
from dataclasses import fields

import pytest
from species import critical_angle_deg, material_names

from optimizer.errors import InputError
from optimizer.trade.materials import Material, cautions_for, load_material

COLUMNS = (
    "sg", "ri", "birefringence", "dispersion", "mohs", "cleavage", "heat", "pleochroism",
)  # fmt: skip
COLUMNS_WHERE_KNOWN = ("mains_deg", "trade_names")
HEAT = {
    "steady", "sensitive", "sensitive where included", "sensitive to sudden change",
    "sensitive while whole",
}  # fmt: skip
RANGES = ("sg_range", "ri", "birefringence", "dispersion", "mohs", "mains_deg")

every_species = pytest.mark.parametrize("name", material_names())


def test_the_table_holds_natural_and_laboratory_grown_species() -> None:
    origins = [load_material(name).origin for name in material_names()]
    assert len(material_names()) == 31
    assert origins.count("laboratory-grown") == 5
    assert set(origins) == {"natural", "laboratory-grown"}


@every_species
def test_each_value_has_a_source_and_each_source_a_value(name: str) -> None:
    material = load_material(name)
    filled = {
        key for key in COLUMNS + COLUMNS_WHERE_KNOWN if getattr(material, key) not in (None, "", ())
    }
    assert set(material.sources) == filled
    assert all(len(source) > 10 for source in material.sources.values())
    assert filled >= set(COLUMNS) - {"dispersion"}


@every_species
def test_ranges_are_ordered_and_possible(name: str) -> None:
    material = load_material(name)
    for key in RANGES:
        pair = getattr(material, key)
        assert pair is None or pair[0] <= pair[1], key
    assert material.sg_range[0] <= material.sg <= material.sg_range[1]
    assert material.ri is not None
    assert 1.3 < material.ri[0] <= material.ri[1] < 2.8
    assert material.mohs is not None
    assert 1 <= material.mohs[0] <= material.mohs[1] <= 10


@every_species
def test_a_stone_without_birefringence_has_no_pleochroism_and_the_other_way_round(
    name: str,
) -> None:
    material = load_material(name)
    assert (material.birefringence == (0.0, 0.0)) == (material.pleochroism == "none")


@every_species
def test_usual_mains_are_steeper_than_the_critical_angle(name: str) -> None:
    material = load_material(name)
    if material.mains_deg is not None:
        assert material.mains_deg[0] > critical_angle_deg(material)


def test_a_missing_value_is_said_not_invented() -> None:
    assert load_material("opal").dispersion is None
    assert load_material("diamond").mains_deg is None
    assert load_material("moissanite").pleochroism == "not known"


@every_species
def test_heat_is_said_in_a_few_words_and_stress_belongs_to_flame_fusion(name: str) -> None:
    material = load_material(name)
    assert material.heat in HEAT
    assert (material.heat == "sensitive while whole") == (material.process == "flame fusion")
    assert (material.process == "flame fusion") == name.startswith("flame-fusion")


def test_what_the_trade_table_lists_as_sensitive_to_heat_is() -> None:
    for name in ("opal", "zoisite", "apatite", "fluorite", "spodumene", "cordierite", "peridot"):
        assert load_material(name).heat == "sensitive"
    assert load_material("tourmaline").heat == "sensitive where included"


@pytest.mark.parametrize(
    ("asked", "hint"), [("quarz", '"quartz"'), ("Berill", '"beryl"'), ("xyz", "known: almandine")]
)
def test_an_unknown_material_names_the_nearest(asked: str, hint: str) -> None:
    with pytest.raises(InputError, match="not in the species table") as caught:
        load_material(asked)
    assert hint in str(caught.value)
    assert "\n" not in str(caught.value)


@every_species
def test_cautions_put_the_species_first_and_defer_to_others_last(name: str) -> None:
    material = load_material(name)
    said = cautions_for(material)
    assert said[: len(material.cautions)] == material.cautions
    assert "product sheets, local codes and trained people come first" in said[-1]
    assert all(line.endswith(".") and line[0].isupper() and len(line) < 200 for line in said)
    assert len(set(said)) == len(said)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("quartz", "silica"),
        ("opal", "silica"),
        ("beryl", "beryllium"),
        ("chrysoberyl", "beryllium"),
        ("sphalerite", "metal"),
        ("flame-fusion corundum", "split or saw the boule lengthwise"),
        ("topaz", "perfect basal"),
        ("zoisite", "cold-setting glue"),
        ("topaz", "sudden change of heat"),
        ("tourmaline", "inclusions"),
    ],
)
def test_the_danger_of_a_species_is_said_before_the_general_ones(name: str, words: str) -> None:
    said = cautions_for(load_material(name))
    general = said.index("Run wet machines on a residual-current breaker.")
    assert any(words in line for line in said[:general])


@pytest.mark.parametrize(
    "words",
    [
        "never dry",
        "eye protection",
        "gloves",
        "breaker",
        "Lead laps",
        "flame",
        "Cyanoacrylate",
        "glue cure",
        "thermal shock",
    ],
)
def test_every_stone_gets_the_general_cautions(words: str) -> None:
    plain = " ".join(cautions_for(Material("x", 3.0, (3.0, 3.0))))
    assert words in plain


def test_a_material_crosses_process_borders_unchanged() -> None:
    material = load_material("quartz")
    copy = pickle.loads(pickle.dumps(material))
    assert all(getattr(copy, f.name) == getattr(material, f.name) for f in fields(Material))


@pytest.mark.parametrize(
    ("word", "species"),
    [
        ("sapphire", "corundum"), ("ruby", "corundum"), ("amethyst", "quartz"),
        ("citrine", "quartz"), ("emerald", "beryl"), ("aquamarine", "beryl"),
        ("tanzanite", "zoisite"), ("kunzite", "spodumene"), ("Iolite", "cordierite"),
        ("Quartz", "quartz"),
    ],
)  # fmt: skip
def test_a_trade_name_is_a_word_for_its_species(word: str, species: str) -> None:
    """From memory of the usual handbooks."""
    assert load_material(word) == load_material(species)


def test_no_trade_name_stands_for_two_species_or_hides_one() -> None:
    words = [word for name in material_names() for word in load_material(name).trade_names]
    assert len(set(words)) == len(words)
    assert not set(words) & set(material_names())
    assert all(word == word.lower() for word in words)


def test_the_hint_for_an_unknown_name_knows_trade_names() -> None:
    with pytest.raises(InputError, match='did you mean "sapphire"'):
        load_material("saphire")
    with pytest.raises(InputError, match="known: almandine, andradite") as caught:
        load_material("xyz")
    assert "sapphire" not in str(caught.value)


def test_closed_ends_and_strong_pleochroism_have_their_cautions() -> None:
    """Common practice, no source."""
    assert any("closed" in said for said in cautions_for(load_material("rubellite")))
    assert any("direction of sight" in said for said in cautions_for(load_material("iolite")))
    assert not any("direction of sight" in said for said in cautions_for(load_material("quartz")))
