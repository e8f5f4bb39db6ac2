"""The check before final torque: each check passed, failed and not measured on machines made for it, the sequence, the
text, the JSON and the sheet."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from html.parser import HTMLParser
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from framevis import outfile
from framevis.errors import BadInput
from framevis.frame import ShimStock
from framevis.page.torque_sheet import sheet, write_sheet
from framevis.reading.frame_file import read_frame
from framevis.study import Study
from framevis.torque.check import Check, is_fit
from framevis.torque.pieces import lay, ways_to_lay
from framevis.torque.readiness import readiness
from framevis.torque.report_torque import WIDTH, print_torque, torque_json, verdict
from framevis.torque.tightening import screw_order, steps, tightenings
from machines import Tree, measure, portal, rough, study_of, write

STOCK = "[shim_stock]\nthickness_um = [10, 20, 40]\ncount = [{}, {}, {}]\nmax_layers = 3\n"


def machine(
    folder: Path,
    more: str = "",
    size: float = 0.1,
    change: Callable[[Tree], object] = lambda tree: None,
    touch: Callable[[Path], object] = lambda inside: None,
) -> Study:
    """A portal that runs free. `change`: its tree; `more`: TOML after it; `touch`: what is done to readings/now."""
    tree = portal()
    tree["shim"] = []
    change(tree)
    frame = read_frame(write(folder / "drawn", tree, {}))
    placed = write(folder / "machine", tree, measure(frame, rough(frame, 1, size), 50.0, 0.3))
    with (placed / "frame.toml").open("a", encoding="utf-8") as file:
        file.write("\n" + more)
    touch(placed / "readings" / "now")
    return study_of(placed, 100)


def back(sweep: str, by: Callable[[float], float]) -> Callable[[Path], None]:
    """The sweep is run back over its stations; `by` station: what is read more than on the way out."""

    def touch(inside: Path) -> None:
        file = inside / f"{sweep}.csv"
        head, *rows = file.read_text().splitlines()
        cells = [[float(cell) for cell in row.split(",")] for row in reversed(rows)]
        again = [f"{station!r},{value + by(station)!r}" for station, value in cells]
        file.write_text("\n".join([head, *rows, *again]) + "\n")

    return touch


def warm(**temperatures: float) -> Callable[[Path], None]:
    """Each sweep with the temperature at which it was taken."""

    def touch(inside: Path) -> None:
        for sweep, temperature in temperatures.items():
            file = inside / f"{sweep}.csv"
            head, *rows = file.read_text().splitlines()
            file.write_text("\n".join([f"{head},temperature_c", *(f"{row},{temperature}" for row in rows)]) + "\n")

    return touch


def of(study: Study, title: str) -> list[Check]:
    return [check for check in readiness(study) if check.title == title]


def one(study: Study, title: str) -> Check:
    found = of(study, title)
    assert len(found) == 1
    return found[0]


@pytest.fixture(scope="module")
def free(tmp_path_factory) -> Study:
    return machine(tmp_path_factory.mktemp("free"))


@pytest.fixture(scope="module")
def bent(tmp_path_factory) -> Study:
    return machine(tmp_path_factory.mktemp("bent"), size=3.0)


# --- each check ---------------------------------------------------------------------------------------------------


def test_a_frame_that_runs_free_is_fit_and_its_gaps_are_listed(free) -> None:
    checks = readiness(free)
    assert is_fit(checks)
    assert [check.says for check in checks if check.state == "failed"] == []
    assert verdict(checks).startswith("FIT for final torque")
    assert "3 not measured: judge those yourself" in verdict(checks)
    assert {check.title for check in checks if check.state == "not measured"} == {
        "out and back",
        "temperature",
        "pieces accounted for",
    }


def test_checks_come_in_the_order_of_work(free) -> None:
    assert [check.title for check in readiness(free)] == [
        "readings taken",
        "readings newer than the last shim",
        "suspect readings resolved",
        "out and back",
        "temperature",
        "pieces accounted for",
        "every block free",
        "every block free",
    ]


def test_blocks_that_are_not_free_are_named_and_make_it_unfit(bent) -> None:
    checks = of(bent, "every block free")
    assert [check.state for check in checks] == ["failed", "failed"]
    for carriage, check in zip(bent.carriages, checks, strict=True):
        for block in carriage.blocks:
            assert (f"{block.name} {block.verdict}" in check.says) == (block.verdict != "free")
    assert not is_fit(readiness(bent))
    assert verdict(readiness(bent)).startswith("NOT FIT for final torque: ")


def test_what_nobody_measured_leaves_a_block_unsure_and_is_listed(tmp_path) -> None:
    def without(inside: Path) -> None:
        for sweep in ("c_roll", "ac_roll", "ac_height", "c_along"):
            (inside / f"{sweep}.csv").unlink()

    study = machine(tmp_path, touch=without)
    said = [check.says for check in of(study, "whole frame measured")]
    assert any("rail c" in text and "roll" in text for text in said)
    assert {check.state for check in of(study, "whole frame measured")} == {"not measured"}
    taken = one(study, "readings taken")
    assert (taken.state, "c_roll" in taken.says) == ("not measured", True)
    wide = of(study, "every block free")[1]
    assert wide.state == "failed"
    assert not is_fit(readiness(study))


def test_readings_that_see_all_are_passed(free) -> None:
    assert one(free, "readings taken").state == "passed"
    assert of(free, "whole frame measured") == []


LATER_SHIM = '[[shim]]\nstage = "shimmed"\nspot = "b@20/right"\nthickness_um = 10\n'


def two_stages(tree: Tree) -> None:
    tree["stages"] = ["now", "shimmed"]


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (LATER_SHIM, "1 in stage shimmed (shim b@20/right): measure again"),
        ('[[push]]\nstage = "shimmed"\nspot = "b@3"\npush_um = -12\n', "1 in stage shimmed (b@3 pushed)"),
        (
            LATER_SHIM.replace('stage = "shimmed"', 'stage = "now"') + 'out_at = "shimmed"\n',
            "1 in stage shimmed (shim b@20/right taken out)",
        ),
    ],
)
def test_a_shim_fitted_after_the_readings_fails(tmp_path, more, says) -> None:
    check = one(machine(tmp_path, more, change=two_stages), "readings newer than the last shim")
    assert check.state == "failed"
    assert says in check.says


def test_a_shim_of_the_readings_own_stage_passes(tmp_path) -> None:
    more = LATER_SHIM.replace("shimmed", "now")
    check = one(machine(tmp_path, more, change=two_stages), "readings newer than the last shim")
    assert check.state == "passed"
    assert "belongs to stage now" in check.says


def test_newer_readings_are_to_be_checked_instead(tmp_path) -> None:
    def later(inside: Path) -> None:
        (inside.parent / "shimmed").mkdir()
        (inside.parent / "shimmed" / "a_lateral.csv").write_text((inside / "a_lateral.csv").read_text())

    check = one(machine(tmp_path, change=two_stages, touch=later), "readings newer than the last shim")
    assert (check.state, "newer readings, of stage shimmed" in check.says) == ("failed", True)


def test_a_suspect_reading_fails_and_is_named(tmp_path) -> None:
    def slip(inside: Path) -> None:
        file = inside / "a_height.csv"
        head, *rows = file.read_text().splitlines()
        station, value = rows[9].split(",")
        rows[9] = f"{station},{float(value) + 60.0}"
        file.write_text("\n".join([head, *rows]) + "\n")

    check = one(machine(tmp_path, touch=slip), "suspect readings resolved")
    assert check.state == "failed"
    assert "a_height" in check.says
    assert "(line 11)" in check.says


def test_no_suspect_reading_passes(free) -> None:
    assert one(free, "suspect readings resolved").state == "passed"


@pytest.mark.parametrize(
    ("sweep", "by", "state", "says"),
    [
        ("a_height", lambda s: 0.0, "passed", "mean difference 0 µm, largest 0 µm"),
        ("a_height", lambda s: -9.0, "passed", "mean difference −9 µm, largest 9 µm"),
        ("a_height", lambda s: 15.0, "passed", "between 10 µm and 20 µm"),
        ("a_height", lambda s: 21.0 * (s > 900), "failed", "more than 20 µm, a bad run: take it again"),
        ("ab_lateral", lambda s: 30.0 * (s < 100), "failed", "drift +30 µm back at the first station"),
        ("a_roll", lambda s: 0.03, "passed", "mean difference +0.030 mrad"),
        ("a_roll", lambda s: 0.3, "failed", "more than 0.120 mrad"),
        ("mouth", lambda s: 22.0, "passed", "mean difference +22 µm"),  # a calliper of u 8 µm: bad beyond 48
        ("mouth", lambda s: 50.0, "failed", "more than 48 µm"),
    ],
)
def test_out_and_back(tmp_path, sweep, by, state, says) -> None:
    checks = of(machine(tmp_path, touch=back(sweep, by)), "out and back")
    found = next(check for check in checks if check.says.startswith(f"{sweep}:"))
    assert found.state == state
    assert says in found.says
    one_way = next(check for check in checks if check.says.startswith("one way only"))
    assert one_way.state == "not measured"
    assert sweep not in one_way.says
    assert "a_lateral" in one_way.says


def test_repeats_in_one_row_are_no_return(tmp_path) -> None:
    def repeat(inside: Path) -> None:
        head, *rows = (inside / "a_height.csv").read_text().splitlines()
        text = "\n".join([f"{head},reading_2_um", *(f"{row},{row.split(',')[1]}" for row in rows)])
        (inside / "a_height.csv").write_text(text + "\n")

    check = one(machine(tmp_path, touch=repeat), "out and back")
    assert (check.state, "a_height" in check.says) == ("not measured", True)


# between first and last screw 920 mm lie, in which aluminium outgrows steel by 11.9 µm/m/K · 0.92 m = 10.95 µm/K
@pytest.mark.parametrize(
    ("temperatures", "state", "says"),
    [
        ({"a_lateral": 21.0, "a_height": 21.5}, "passed", "differ by 5 µm in length"),
        ({"a_lateral": 21.0, "a_height": 22.5}, "passed", "between 10 µm and 20 µm"),
        ({"a_lateral": 21.0, "a_height": 23.0}, "failed", "take them again at one temperature"),
        ({"a_lateral": 30.0, "a_height": 30.0}, "passed", "the beam is 109 µm longer than the rail"),
        ({"a_lateral": 10.0, "a_height": 10.0}, "passed", "the beam is 109 µm shorter than the rail"),
    ],
)
def test_temperature(tmp_path, temperatures, state, says) -> None:
    checks = of(machine(tmp_path, touch=warm(**temperatures)), "temperature")
    left, rest = checks
    assert left.state == state
    assert left.says.startswith("beam left: ")
    assert says in left.says
    assert (rest.state, "on beam right" in rest.says) == ("not measured", True)


def test_one_noted_temperature_says_nothing_of_the_others(tmp_path) -> None:
    check = one(machine(tmp_path, touch=warm(a_lateral=22.0)), "temperature")
    assert (check.state, "beam left, right" in check.says) == ("not measured", True)


@pytest.mark.parametrize(("play", "says"), [(60.0, "60 µm takes it"), (50.0, "50 µm doesn't take it")])
def test_the_screws_clearance_takes_half_the_difference_at_each_end(tmp_path, play, says) -> None:
    def change(tree: Tree) -> None:
        tree["guide"]["g"] = tree["guide"]["g"] | {"screw_clearance_um": play}

    study = machine(tmp_path, change=change, touch=warm(a_lateral=30.0, a_height=30.0))  # 109 µm: 55 at each end
    assert says in of(study, "temperature")[0].says


def test_a_steel_beam_needs_no_temperature(tmp_path) -> None:
    def change(tree: Tree) -> None:
        for section in tree["section"].values():
            section["material"] = "steel"

    assert [check.state for check in of(machine(tmp_path, change=change), "temperature")] == ["passed", "passed"]


def shim(spot: str, um: float) -> str:
    return f'[[shim]]\nstage = "now"\nspot = "{spot}"\nthickness_um = {um}\n'


@pytest.mark.parametrize(
    ("more", "state", "says"),
    [
        (STOCK.format(5, 5, 5), "passed", "no shims are fitted; left on the bench must be 5 of 10 µm, 5 of 20 µm"),
        (
            STOCK.format(1, 1, 1) + shim("b@1/left", 30) + shim("b@2/left", 40),
            "passed",
            "2 shimmed spots, 3 pieces if laid from the fewest (1 of 10 µm, 1 of 20 µm, 1 of 40 µm); left on the bench",
        ),
        (STOCK.format(0, 2, 0) + shim("b@1/left", 40), "passed", "1 shimmed spot, 2 pieces"),
        (STOCK.format(9, 9, 9) + shim("b@1/left", 35), "failed", "in 3 layers: b@1/left (35 µm)"),
        (
            STOCK.format(99, 0, 0) + shim("b@1/left", 40),
            "failed",
            "1 shimmed spot can only be laid with more pieces than the stock has",
        ),
        (
            STOCK.format(0, 1, 1) + shim("b@1/left", 20) + shim("b@2/left", 20),
            "failed",
            "2 shimmed spots can only be laid with more",
        ),
        ("[shim_stock]\nthickness_um = [20]\n" + shim("b@1/left", 60), "passed", "the stock has no counts"),
        (shim("b@1/left", 60), "not measured", "no [shim_stock] in frame.toml"),
    ],
)
def test_pieces_are_accounted_for(tmp_path, more, state, says) -> None:
    check = one(machine(tmp_path, more), "pieces accounted for")
    assert check.state == state
    assert says in check.says


def by_brute_force(spots: list[float], stock: ShimStock) -> int | None:
    """The fewest pieces of any arrangement, all of them tried."""
    piles = [
        pile
        for pile in product(range(stock.max_layers + 1), repeat=len(stock.thickness_um))
        if 0 < sum(pile) <= stock.max_layers
    ]
    ways = [[pile for pile in piles if abs(np.dot(pile, stock.thickness_um) - spot) < 0.05] for spot in spots]
    totals = [np.sum(choice, axis=0) for choice in product(*ways)]
    there = [total.sum() for total in totals if stock.count is None or np.all(total <= stock.count)]
    return int(min(there)) if there else None


@pytest.mark.parametrize("seed", range(40))
def test_pieces_against_trying_all_arrangements(seed) -> None:
    random = np.random.default_rng(seed)
    stock = ShimStock((10.0, 20.0, 25.0, 40.0), tuple(map(int, random.integers(0, 4, 4))), 3)
    spots = [float(each) for each in random.choice([20, 30, 40, 45, 50, 60, 65, 70, 80], 4)]
    laid, fewest = lay(spots, stock), by_brute_force(spots, stock)
    assert (laid.used is None) == (fewest is None)
    if laid.used is not None:
        assert sum(laid.used) == fewest
        assert np.dot(laid.used, stock.thickness_um) == pytest.approx(sum(spots))
        assert all(used <= there for used, there in zip(laid.used, stock.count or (), strict=True))


def test_every_way_of_laying_is_found_once() -> None:
    stock = ShimStock((10.0, 20.0, 40.0), None, 4)
    assert ways_to_lay(40.0, stock) == [(0, 0, 1), (0, 2, 0), (2, 1, 0), (4, 0, 0)]


# --- the sequence ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("screws", "begin", "order"),
    [
        (4, "start", (1, 2, 3, 4)),
        (4, "end", (4, 3, 2, 1)),
        (5, "centre", (3, 2, 4, 1, 5)),
        (4, "centre", (2, 3, 1, 4)),
        (1, "centre", (1,)),
    ],
)
def test_order_of_screws(screws, begin, order) -> None:
    assert screw_order(screws, begin) == order


def test_no_order_goes_from_both_ends_toward_the_middle() -> None:
    for screws, begin in product(range(3, 40), ("start", "end", "centre")):
        order = screw_order(screws, begin)
        assert sorted(order) == list(range(1, screws + 1))
        assert set(order[:2]) != {1, screws}


def test_masters_come_first_and_each_rail_is_finished_before_the_next(tmp_path) -> None:
    more = '[tightening]\nfrom = "end"\nmaster = ["c", "b"]\nrail = { c = "centre" }\n'
    frame = machine(tmp_path, more).frame
    assert [(each.rail.name, each.role, each.begin) for each in tightenings(frame)] == [
        ("c", "master", "centre"),
        ("b", "master", "end"),
        ("a", "follower", "end"),
    ]
    assert [(step.number, step.tightening.rail.name, step.stage) for step in steps(frame)] == list(
        zip(range(1, 10), "cccbbbaaa", ("1/3", "2/3", "full") * 3, strict=True)
    )


def test_without_a_named_master_it_is_the_rail_of_the_first_block(free) -> None:
    assert [(each.rail.name, each.role) for each in tightenings(free.frame)] == [
        ("a", "master"),
        ("b", "follower"),
        ("c", "follower"),
    ]
    assert "No master rail is named" in text_of(free)


@pytest.mark.parametrize(
    ("more", "match"),
    [
        ('[tightening]\nfrom = "both"\n', 'tightening.from: "both" is not one of the choices: use one of'),
        ('[tightening]\nmaster = "d"\n', 'tightening.master: there is no rail "d"'),
        ('[tightening]\nmaster = ["a", "a"]\n', 'tightening.master: names rail "a" twice'),
        ('[tightening]\nrail = { d = "end" }\n', 'tightening.rail.d: there is no rail "d"'),
        ('[tightening]\nform = "end"\n', 'unknown key "form": did you mean "from"'),
    ],
)
def test_what_is_wrong_with_the_tightening_is_said(tmp_path, more, match) -> None:
    with pytest.raises(BadInput, match=match):
        machine(tmp_path, more)


@pytest.mark.parametrize(
    ("key", "value", "match"),
    [
        ("torque_nm", 0.0, "guide.g.torque_nm: is 0"),
        ("screw_friction", 0.0, "guide.g.screw_friction: is 0"),
        ("screw_class", 8.8, "guide.g.screw_class: 8.8 is not a text: put it between double quotes"),
    ],
)
def test_what_is_wrong_with_a_screw_is_said(tmp_path, key, value, match) -> None:
    with pytest.raises(BadInput, match=match):
        machine(tmp_path, change=lambda tree: tree["guide"].update(g=tree["guide"]["g"] | {key: value}))


# --- what is shown -------------------------------------------------------------------------------------------------


def text_of(study: Study) -> str:
    console = Console(width=WIDTH, record=True, highlight=False, file=io_nowhere())
    print_torque(study, readiness(study), console)
    return console.export_text()


def io_nowhere():
    import io

    return io.StringIO()


def with_screw(**more: object) -> Callable[[Tree], object]:
    return lambda tree: tree["guide"].update(g=tree["guide"]["g"] | more)


def test_the_text_fits_a_page_and_has_lines_to_sign_on(free) -> None:
    text = text_of(free)
    assert max(map(len, text.splitlines())) <= 100
    for label in ("Maker's torque", "Torque applied", "Temperature now", "Date", "Name", "Signature"):
        assert re.search(rf"^{label}.*_{{20,}}$", text, re.MULTILINE)
    joined = " ".join(text.split())
    assert "The maker's value wins" in joined
    assert "Never free all blocks of a carriage at once" in joined
    assert "power off and locked out" in joined
    assert "the guide names no screw: enter torque_nm from the maker" in joined


def test_the_text_of_an_unfit_frame_says_not_to_tighten(bent, free) -> None:
    assert "Don't tighten to final torque yet" in text_of(bent)
    assert "Don't tighten to final torque yet" not in text_of(free)


def test_the_text_has_torques_in_three_stages(tmp_path) -> None:
    text = text_of(machine(tmp_path, change=with_screw(screw="M4", screw_class="12.9")))
    assert re.search(r"M4 · 12\.9 · µ 0\.14 +0\.75 +1\.45 +2\.20 +_+ +_+", text)


def test_a_machine_in_inches_gets_its_torques_in_both_units(tmp_path) -> None:
    study = machine(tmp_path, change=with_screw(screw="M4", torque_nm=2.0))
    object.__setattr__(study.frame, "length_unit", "in")
    assert "In lbf·in: 1) 5.8 / 11.9 / 17.7." in text_of(study)  # 0.65, 1.35, 2 N·m; 1 N·m = 8.851 lbf·in
    assert "In lbf·in: 1) 5.8 / 11.9 / 17.7." in Elements(sheet(study, readiness(study))).text


def test_the_json_has_all_of_it(tmp_path) -> None:
    study = machine(tmp_path, change=with_screw(screw="M3"))
    answer = json.loads(json.dumps(torque_json(study, readiness(study)), allow_nan=False))
    assert (answer["format"], answer["frame"], answer["stage"], answer["fit"]) == (1, "portal", "now", True)
    assert all(set(check) == {"check", "state", "says"} for check in answer["checks"])
    assert {check["state"] for check in answer["checks"]} == {"passed", "not measured"}
    assert [screw["rail"] for screw in answer["screws"]] == ["a", "b", "c"]
    for screw in answer["screws"]:
        assert (screw["screw"], screw["class"], screw["friction"], screw["count"]) == ("M3", "8.8", 0.14, 24)
        assert screw["torque_nm"] == screw["stages_nm"][-1] == pytest.approx(1.0, rel=0.1)  # common practice
        assert screw["rests_on"]
    assert [step["step"] for step in answer["order"]] == list(range(1, 10))
    assert [step["torque_nm"] for step in answer["order"][:3]] == answer["screws"][0]["stages_nm"]
    assert answer["order"][0]["screws"] == list(range(1, 25))


def test_the_json_of_an_unfit_frame_says_so(bent) -> None:
    answer = torque_json(bent, readiness(bent))
    assert answer["fit"] is False
    assert answer["screws"][0]["torque_nm"] is None  # no screw is named
    assert {step["torque_nm"] for step in answer["order"]} == {None}


# --- the sheet -----------------------------------------------------------------------------------------------------


class Elements(HTMLParser):
    """All tags of a page and all its text, as a browser would read them."""

    def __init__(self, content: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.words: list[str] = []
        self.attributes: list[str] = []
        self.feed(content)

    def handle_starttag(self, tag, attrs) -> None:
        self.tags.append(tag)
        self.attributes += [name for name, _ in attrs]

    def handle_data(self, data) -> None:
        self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


def test_the_sheet_says_what_the_text_says(bent) -> None:
    checks = readiness(bent)
    said = Elements(sheet(bent, checks)).text
    assert verdict(checks) in said
    assert "Don't tighten to final torque yet" in said
    for check in checks:
        assert check.says in said
    for label in ("Maker's torque", "Torque applied", "Temperature now", "Date", "Name", "Signature"):
        assert label in said


def test_the_sheet_asks_for_nothing_and_runs_nothing(free) -> None:
    content = sheet(free, readiness(free))
    page = Elements(content)
    assert not {"script", "link", "img", "iframe", "form", "input"} & set(page.tags)
    assert "://" not in content
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', content)
    assert policy is not None
    assert policy[1].startswith("default-src 'none'; style-src 'sha256-")
    assert "unsafe" not in policy[1]
    assert "style" not in page.attributes  # it would be refused by the policy
    assert "@page" in content


def test_names_with_markup_are_shown_and_do_nothing(tmp_path) -> None:
    bad = '<b onclick=x>&"[bold]'

    def change(tree: Tree) -> None:
        tree["name"] = bad
        tree["rail"] = {(bad if name == "b" else name): rail for name, rail in tree["rail"].items()}
        for carriage in tree["carriage"].values():
            for block in carriage["blocks"]:
                block["rail"] = bad if block["rail"] == "b" else block["rail"]
        for sweep in tree["sweep"].values():
            for key in ("rails", "rail"):
                if sweep.get(key) == "b":
                    sweep[key] = bad
                elif key in sweep and isinstance(sweep[key], list):
                    sweep[key] = [bad if name == "b" else name for name in sweep[key]]
            if "touches" in sweep:
                sweep["touches"] = [[bad if name == "b" else name, side] for name, side in sweep["touches"]]
        tree["guide"]["g"] = tree["guide"]["g"] | {"screw": "</style><i>M3"}

    study = machine(tmp_path, change=lambda tree: (change(tree), quote(tree)))
    checks = readiness(study)
    page = Elements(sheet(study, checks))
    assert "b" not in page.tags
    assert "i" not in page.tags
    assert "onclick" not in page.attributes
    assert bad in page.text
    assert "</style><i>M3" in page.text
    assert bad in " ".join(text_of(study).split())
    assert json.loads(json.dumps(torque_json(study, checks)))["frame"] == bad


def quote(tree: Tree) -> None:
    """Quotes in names escaped as TOML has them: `machines.toml_of` puts texts down as they are."""

    def escaped(value):
        if isinstance(value, str):
            return value.replace("\\", "\\\\").replace('"', '\\"')
        if isinstance(value, list):
            return [escaped(each) for each in value]
        if isinstance(value, dict):
            return {escaped(key): escaped(each) for key, each in value.items()}
        return value

    for key, value in tree.items():
        tree[key] = {name: escaped(table) for name, table in value.items()} if key == "sweep" else escaped(value)


def test_the_sheet_is_written_whole_or_not_at_all(free, tmp_path, monkeypatch) -> None:
    checks = readiness(free)
    path = write_sheet(free, checks, tmp_path / "sheet.html")
    whole = path.read_text(encoding="utf-8")
    assert whole.rstrip().endswith("</html>")
    assert [each.name for each in tmp_path.iterdir()] == ["sheet.html"]

    def full(self: Path, text: str, **options) -> int:
        with self.open("w", encoding="utf-8") as file:
            file.write(text[:100])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(outfile.Path, "write_text", full)
    with pytest.raises(BadInput, match=r"sheet\.html: can't be written: No space left on device"):
        write_sheet(free, checks, path)
    assert path.read_text(encoding="utf-8") == whole
    assert [each.name for each in tmp_path.iterdir()] == ["sheet.html"]


@pytest.mark.parametrize(
    ("name", "match"),
    [("sheet.txt", r"give a name that ends in \.html"), ("no/sheet.html", "there is no folder")],
)
def test_what_can_not_be_written_is_said(free, tmp_path, name, match) -> None:
    with pytest.raises(BadInput, match=match):
        write_sheet(free, readiness(free), tmp_path / name)
    assert list(tmp_path.iterdir()) == []
