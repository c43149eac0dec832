"""Names of trees: known, standing in for others, unknown, misspelt."""

from datetime import date

import pytest

from fruitcast.app.checking import check_yard
from fruitcast.errors import FaultsError
from fruitcast.numbers import default_numbers
from fruitcast.topics import OTHER_TREE, STAND_INS
from fruitcast.yard.reading import read_yard
from fruitcast.yard.stacks import is_conifer, meant_tree, tree_fault, tree_notes
from tests.yard.yards import SETTINGS, STACKS, write_yard

NUMBERS = default_numbers()

ENGLISH = (
    "english oak", "sessile oak", "silver birch", "downy birch", "birch", "sycamore", "hazel",
    "sweet chestnut", "alder", "common alder", "hornbeam", "willow", "goat willow", "beech", "ash",
    "european ash", "field maple",
)  # fmt: skip

MISSPELT = {
    "silver brich": "silver birch",
    "red oack": "red oak",
    "red oka": "red oak",
    "sweet chesnut": "sweet chestnut",
    "hornbeem": "hornbeam",
    "suger maple": "sugar maple",
    "sycamor": "sycamore",
    "hazle": "hazel",
    "beach": "beech",
    "aldar": "alder",
    "sessil oak": "sessile oak",
    "wilow": "willow",
    "sweet-gumm": "sweetgum",
}

UNKNOWN = (
    "baobab", "konara", "quercus robur", "elder", "white elm", "cherry", "wild cherry", "lime",
    "black locust", "tulip poplar", "holly", "rowan", "shirakashi", "water tupelo", "apple", "pear",
)  # fmt: skip

CONIFERS = (
    "pine", "spruce", "fir", "larch", "yew", "cedar", "juniper", "hemlock", "cypress", "redwood",
    "Douglas fir", "Douglas-fir", "Kiefer", "Fichte", "Waldkiefer", "Weißtanne", "Lärche", "Eibe",
    "Norway spruce", "Scots pine", "white pine", "eastern hemlock", "bald cypress", "red cedar",
    "eastern redcedar", "western red cedar", "coast redwood", "pine tree", "pine logs", "firs",
    "larches", "pines", "spruse", "pine (white)", "Pinus sylvestris", "Picea abies", "softwood",
)  # fmt: skip

NO_CONIFERS = (
    *ENGLISH, *UNKNOWN, "sweetgum", "sweet gum", "tulip tree", "she-oak", "sheoak", "ironwood",
    "hop hornbeam", "hophornbeam", "Spanish cedar", "white cedar", "cedar elm", "pin oak", "fig",
    "pine oak", "Andaman redwood", "cypress oak", "Eiche", "Buche", "Erle", "Kirsche", "hardwood",
    "other hardwood", "tanoak", "cucumber tree", "ginkgo", "Platane", "Kastanie", "Linde", "Esche",
)  # fmt: skip


@pytest.mark.parametrize("tree", CONIFERS)
def test_a_conifer_is_a_fault_that_says_what_to_do(tree):
    problem, remedy = tree_fault(tree.lower(), NUMBERS.trees)
    assert "is a conifer, and shiitake is grown on hardwoods" in problem
    assert "write its own name" in remedy


@pytest.mark.parametrize("tree", (*NO_CONIFERS, *NUMBERS.trees, *STAND_INS))
def test_a_hardwood_or_a_doubtful_name_is_taken_for_no_conifer(tree):
    assert not is_conifer(tree)


def test_a_yard_with_a_stack_or_wood_of_conifers_is_not_read_and_check_says_where(tmp_path):
    day = date(2027, 5, 3)
    write_yard(tmp_path, stacks=STACKS.replace("red oak", "Douglas fir"))
    with pytest.raises(FaultsError, match="line 2, stack A: tree 'douglas fir' is a conifer"):
        read_yard(tmp_path, day)
    (fault,) = check_yard(tmp_path, day).faults
    assert fault.place == "stacks.csv line 2, stack A" and "'other hardwood'" in fault.remedy
    wood = '\n[[wood]]\ntree = "Fichte"\ndiameter_in = 5\nlength_in = 40\n'
    write_yard(tmp_path, settings=SETTINGS + wood)
    with pytest.raises(FaultsError, match=r"tree 'fichte' is a conifer"):
        read_yard(tmp_path, day)


@pytest.mark.parametrize("tree", ENGLISH)
def test_trees_of_england_and_europe_have_values_or_a_named_stand_in(tree):
    assert tree in {*NUMBERS.trees, *STAND_INS} and meant_tree(tree, NUMBERS.trees) is None
    assert NUMBERS.tree(tree) is not NUMBERS.tree("baobab")
    own = STAND_INS.get(tree, tree)
    assert NUMBERS.tree(tree).density == NUMBERS.table[f"tree.{own}.density"].value


def test_every_stand_in_has_values_and_stands_for_no_tree_that_has():
    assert set(STAND_INS.values()) <= set(NUMBERS.trees)
    assert not set(STAND_INS) & set(NUMBERS.trees)
    assert [tree for tree in (*STAND_INS, *NUMBERS.trees) if meant_tree(tree, NUMBERS.trees)] == []


@pytest.mark.parametrize("tree", MISSPELT)
def test_a_misspelt_tree_means_the_nearest(tree):
    assert meant_tree(tree, NUMBERS.trees) == MISSPELT[tree]


@pytest.mark.parametrize("tree", UNKNOWN)
def test_a_tree_that_is_only_unknown_is_no_slip(tree):
    assert meant_tree(tree, NUMBERS.trees) is None
    assert tree_notes([tree], NUMBERS.trees) == (
        f"Trees that go by the values of another: {tree} by {OTHER_TREE}.",
    )


def test_one_note_tells_of_all_trees():
    assert tree_notes(["red oak", OTHER_TREE, "hazel"], NUMBERS.trees) == ()
    (note,) = tree_notes(["silver birch", "lime", "downy birch", "silver birch"], NUMBERS.trees)
    assert note == (
        "Trees that go by the values of another: silver birch, downy birch by birch; lime by "
        "other hardwood."
    )


def test_a_misspelt_tree_is_a_fault_of_the_yard_and_an_unknown_one_a_note_of_the_check(tmp_path):
    day = date(2027, 5, 3)
    write_yard(tmp_path, stacks=STACKS.replace("red oak", "silver brich"))
    with pytest.raises(FaultsError, match=r"line 2, stack A: tree 'silver brich' .*'silver birch'"):
        read_yard(tmp_path, day)
    write_yard(tmp_path, stacks=STACKS.replace("red oak", "Silver Birch"))
    assert not any("birch" in warning for warning in read_yard(tmp_path, day).warnings)
    assert any("silver birch by birch" in note for note in check_yard(tmp_path, day).warnings)
    wood = '\n[[wood]]\ntree = "red oka"\ndiameter_in = 5\nlength_in = 40\n'
    write_yard(tmp_path, settings=SETTINGS + wood)
    with pytest.raises(FaultsError, match=r"tree 'red oka' is misspelt\. The nearest .* 'red oak'"):
        read_yard(tmp_path, day)
