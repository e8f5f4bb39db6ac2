"""Imports run one way: each module imports only from those named before it, and the numbers never from pictures."""

from __future__ import annotations

import ast
from pathlib import Path

import framevis

ROOT = Path(framevis.__file__).parent
MODULES = """
errors outfile units frame sag screws
reading.toml_lines reading.door reading.csv_table reading.csv_numbers reading.csv_columns reading.frame_schema
reading.schema_errors reading.frame_parts reading.frame_carriages reading.frame_fitted reading.error_curve
reading.frame_tightening reading.frame_sag reading.frame_sweeps reading.frame_pulls reading.frame_file
reading.reading_checks reading.pull_readings reading.readings
starting.answers starting.guides starting.layout starting.questions starting.sweeps_text starting.toml_text
starting.begin
strip opening deviations natural_spline rail_shims observe priors rows evidence solved estimate mistaken
contact small_matrices ball_pass carriage carriage_newton equilibrium processes ride verdicts pose risk study plan job
pulls.pull pulls.pull_period pulls.fitting pulls.pull_model pulls.calibrate
straightness curves ribbon explain further advice assumptions say pulls.say_pull pulls.say_calibration
report report_json report_html archive report_archive expected
comparing.held comparing.single_causes comparing.cause_search comparing.compare comparing.say_compare
comparing.report_compare
torque.closure torque.warmth torque.pieces torque.check torque.sweep_checks torque.readiness torque.tightening
torque.report_torque
planning.layers planning.approach planning.shim_programme planning.any_thickness planning.shim_moves
planning.shim_search planning.rail_bending planning.rail_pushes planning.planner planning.plan_limits planning.plan_runs
planning.handling planning.report_plan
pictures.travel pictures.geometry pictures.warp pictures.scene pictures.look pictures.camera pictures.ink
pictures.section pictures.notes pictures.labels pictures.riding pictures.plan_marks
pictures.plan_labels pictures.plan_layer pictures.bodies pictures.opengl pictures.draw pictures.film pictures.picture
pictures.arrows pictures.reading_marks pictures.risk_strip pictures.between pictures.lens pictures.live
pictures.ears pictures.inset pictures.keys pictures.overlay pictures.controls pictures.numbered pictures.playing
pictures.sight pictures.desk pictures.window
exports.csv_tables exports.glb exports.multiblock exports.vtm exports.export notebook
page.embed page.chart page.marks page.model page.numbers page.fitted page.still page.figures page.drag_charts
page.rail_charts page.tables page.words page.plan_data page.plan_strips page.plan_section page.write page.torque_sheet
sheets.stations sheets.order sheets.blank_csv sheets.words sheets.paper sheets.bodies sheets.overview sheets.cut
sheets.held sheets.instruments sheets.cross_section sheets.stations_table sheets.sheet_page sheets.write
entering.unit_words entering.typed entering.sheet entering.slots entering.neighbours entering.closing
entering.strip_plot entering.sign_check entering.state entering.sign_talk entering.readings_in entering.dialogue
entering.big entering.screen entering.disk entering.choosing entering.conversation
importing.splitting importing.workbook importing.source importing.numbers importing.headings importing.wishes
importing.columns importing.cells importing.units_found importing.understanding importing.echo importing.placing
advising.new_sweeps advising.candidates advising.expected_error advising.advise advising.say_advice
budgeting.components budgeting.digits budgeting.sweep_budget budgeting.risk_shares budgeting.say_budget
commands.common commands.advise commands.begin commands.enter commands.judge commands.correct commands.show cli __main__
"""
ORDER = MODULES.split()


def name_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts)


def imported(path: Path) -> set[str]:
    """Modules of the package that a file imports, wherever in the file."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] == "framevis":
            module = node.module.removeprefix("framevis").lstrip(".")
            named = {module, *(f"{module}.{alias.name}".lstrip(".") for alias in node.names)}
            found |= named & set(ORDER)
        if isinstance(node, ast.Import):
            found |= {alias.name.removeprefix("framevis.") for alias in node.names} & set(ORDER)
    return found


def test_every_module_has_its_place_in_the_order() -> None:
    modules = {name_of(path) for path in ROOT.rglob("*.py") if path.name != "__init__.py"}
    assert modules == set(ORDER)


def test_each_module_imports_only_from_those_before_it() -> None:
    place = {name: position for position, name in enumerate(ORDER)}
    wrong = [
        f"{name_of(path)} imports {other}"
        for path in ROOT.rglob("*.py")
        if path.name != "__init__.py"
        for other in imported(path)
        if place[other] >= place[name_of(path)]
    ]
    assert wrong == []


def test_the_check_sees_imports() -> None:
    assert {"estimate", "risk", "ride"} <= imported(ROOT / "study.py")
    assert "pictures.window" in imported(ROOT / "commands" / "show.py")
