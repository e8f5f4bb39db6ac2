"""The tables of frame.toml, one strict model each: which keys there are, their types and their ranges.

Takes the parsed TOML with its lists as tuples; gives models whose numbers are still in the file's own units.
What needs more than one key to judge (names, geometry) is left to `frame_parts` and its neighbours.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError

from framevis.frame import Arrangement, Direction, Mouth, ScrewOrder, Shape, SweepKind
from framevis.reading.door import did_you_mean, quoted

MATERIALS = {"aluminium": (70.0, 23.6e-6), "steel": (206.0, 11.7e-6)}  # GPa, 1/K; common practice
SMALLEST = 1e-6  # below this a size is as good as zero


def said(what: str, todo: str) -> PydanticCustomError:
    """A validator's refusal in our own words."""
    return PydanticCustomError("said", "{what}: {todo}", {"what": what, "todo": todo})


def _text(text: str) -> str:
    if not text.strip():
        raise said("is empty", "give it a name")
    if not text.isprintable() or len(text) > 200:
        raise said(f"{quoted(text)} is not a plain text", "use at most 200 characters that can be printed, on one line")
    return text


def _name(text: str) -> str:
    _text(text)
    if text != text.strip() or any(mark in text for mark in "/@") or len(text) > 80:
        raise said(f"{quoted(text)} can't be a name", "leave out / and @ and blanks at its ends, 80 characters at most")
    return text


def _file_name(text: str) -> str:
    _name(text)
    if text[0] == "." or text[-1] == "." or any(mark in text for mark in '\\:*?"<>|'):
        raise said(
            f"{quoted(text)} can't be the name of a file or folder",
            'use letters, digits, "_" and "-", no dot at the ends',
        )
    return text


def _stages(stages: tuple[str, ...]) -> tuple[str, ...]:
    folded = [stage.casefold() for stage in stages]
    for number, stage in enumerate(folded):
        if stage in folded[:number]:
            raise said(f"the stage {quoted(stages[number])} is listed twice", "give each stage its own folder name")
    return stages


def _format(number: int) -> int:
    if number != 1:
        raise said(f"is {number if abs(number) < 1000 else 'a large number'}", "this program reads format = 1")
    return number


def _material(value: Any) -> Any:
    """A material's name as its table."""
    if not isinstance(value, str):
        return value
    if value not in MATERIALS:
        raise said(f"{quoted(value)} is not a material that is known here", did_you_mean(value, MATERIALS))
    e_gpa, alpha = MATERIALS[value]
    return {"label": value, "E_gpa": e_gpa, "alpha_per_k": alpha}


def _one_or_many(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


Length = Annotated[float, Field(ge=-1e6, le=1e6)]
Size = Annotated[float, Field(ge=SMALLEST, le=1e6)]
Positive = Annotated[float, Field(ge=SMALLEST, le=1e9)]
Positive0 = Annotated[float, Field(ge=0, le=1e9)]
Vector = Annotated[tuple[Length, ...], Field(min_length=3, max_length=3)]
Text = Annotated[str, AfterValidator(_text)]
Name = Annotated[str, AfterValidator(_name)]
FileName = Annotated[str, AfterValidator(_file_name)]
EdgeNames = Annotated[tuple[str, ...], Field(min_length=2, max_length=2)]
Count = Annotated[int, Field(ge=1, le=10_000)]


class Table(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)


class LimitsToml(Table):
    tight_drag_ratio: Positive = 1.5
    binding_drag_ratio: Positive = 3.0
    static_safety: Positive = 2.0


class ShimStockToml(Table):
    thickness_um: Annotated[tuple[Annotated[float, Field(ge=0.1, le=10_000)], ...], Field(min_length=1)]
    count: tuple[Annotated[int, Field(ge=0, le=100_000)], ...] | None = None
    max_layers: Annotated[int, Field(ge=1, le=20)] = 3
    max_step_um: Annotated[float | None, Field(ge=0.1, le=10_000)] = None


class MaterialToml(Table):
    label: Text = "own"
    e_gpa: Annotated[float, Field(ge=0.1, le=2000)] = Field(alias="E_gpa")
    alpha_per_k: Annotated[float, Field(ge=-1e-3, le=1e-3)]


class SectionToml(Table):
    shape: Shape
    width: Size
    depth: Size
    wall: Size | None = None
    mouth: Mouth | None = None
    material: Annotated[MaterialToml, BeforeValidator(_material)]


class GuideToml(Table):
    arrangement: Arrangement
    rail_width: Size
    rail_height: Size
    block_length: Size
    block_width: Size
    block_height: Size
    ball_height: Size
    ball_diameter: Size
    balls_per_row: Annotated[int, Field(ge=1, le=1000)]
    row_spacing: Size
    row_gap: Annotated[float, Field(ge=0, le=1e6)] = 0.0
    contact_angle_deg: float = 45.0
    conformity: float = 0.53
    preload_interference_um: Annotated[float, Field(ge=-500, le=200)] = 0.0
    friction: Annotated[float, Field(ge=0, le=1)] = 0.004
    seal_drag_n: Positive0 = 0.0
    screw: Text | None = None
    screw_pitch: Size
    c_n: Positive | None = None
    c0_n: Positive | None = None
    screw_clearance_um: Annotated[float, Field(ge=0, le=2000)] = 0.0
    rail_ei_nm2: Positive | None = None
    screw_class: Text = "8.8"
    screw_friction: Annotated[float, Field(ge=0.02, le=1)] = 0.14
    torque_nm: Annotated[float | None, Field(ge=0.01, le=2000)] = None


class BeamToml(Table):
    section: str
    start: Vector
    end: Vector
    normal: Vector
    carried_by: Annotated[Annotated[tuple[str, ...], Field(min_length=1)] | None, BeforeValidator(_one_or_many)] = None
    carried_at: Length | None = None


class RailToml(Table):
    beam: str
    guide: str
    seat: Length
    first_screw: Length
    screws: Count | None = None
    face_deg: Annotated[float, Field(ge=-3600, le=3600)] = 0.0


class SeatStiffnessToml(Table):
    lateral_n_per_um: Positive | None = None
    height_n_per_um: Positive | None = None
    roll_nm_per_mrad: Positive | None = None
    pitch_nm_per_mrad: Positive | None = None
    yaw_nm_per_mrad: Positive | None = None


class BlockToml(Table):
    name: Name
    rail: str
    along: Length


class CarriageToml(Table):
    travel: Annotated[tuple[Length, ...], Field(min_length=2, max_length=2)]
    mass_kg: Positive0 = 0.0
    centre: Vector | None = None
    payload_kg: Positive0 = 0.0
    payload_centre: Vector | None = None
    blocks: Annotated[tuple[BlockToml, ...], Field(min_length=1, max_length=100)]
    bolted_at: Length | None = None
    seat_stiffness: SeatStiffnessToml | None = None


class SweepToml(Table):
    """All keys of all kinds; which of them a kind takes is told in `frame_sweeps`."""

    kind: SweepKind
    rail: str | None = None
    rails: Annotated[tuple[str, ...], Field(min_length=2, max_length=2)] | None = None
    beam: str | None = None
    direction: Direction | None = None
    reference: Literal["face", "straightedge", "wire"] | None = None
    error_csv: Text | None = None
    reversed: bool = False
    base: Size | None = None
    instrument: Text | None = None
    absolute: bool = False
    touches: Annotated[tuple[EdgeNames, ...], Field(min_length=2, max_length=2)] | None = None
    feeler_at: EdgeNames | None = None
    span: Size | None = None
    depth_at: Length = 0.0
    nominal: Size | None = None
    points: Any = None
    wire_n_per_m: Positive | None = None
    wire_tension_n: Positive | None = None
    straightedge_n_per_m: Positive | None = None
    straightedge_ei_nm2: Positive | None = None
    straightedge_ends: Annotated[tuple[Length, ...], Field(min_length=2, max_length=2)] | None = None
    supports: Annotated[tuple[Length, ...], Field(min_length=2, max_length=2)] | None = None
    carriage: str | None = None
    bare_block_n: dict[str, Positive0] | None = None
    sign: Literal[1, -1] = 1
    u_um: Positive | None = None
    u_mm: Positive | None = None
    u_in: Positive | None = None
    u_thou: Positive | None = None
    u_mrad: Positive | None = None
    u_mm_per_m: Positive | None = None
    u_arcsec: Positive | None = None
    u_deg: Positive | None = None
    u_in_per_ft: Positive | None = None
    u_n: Positive | None = None
    u_kgf: Positive | None = None
    u_lbf: Positive | None = None


class ShimToml(Table):
    stage: str
    spot: str
    thickness_um: Annotated[float, Field(ge=0.1, le=10_000)]
    out_at: str | None = None


class PushToml(Table):
    stage: str
    spot: str
    push_um: Annotated[float, Field(ge=-2000, le=2000)]


class TighteningToml(Table):
    """`from` for all rails, `rail` for those that differ."""

    first: ScrewOrder = Field(default="start", alias="from")
    rail: dict[Name, ScrewOrder] = {}
    master: Annotated[tuple[str, ...], BeforeValidator(_one_or_many)] = ()


class FrameToml(Table):
    format: Annotated[int, AfterValidator(_format)]
    name: Text
    length_unit: Literal["mm", "in"]
    stages: Annotated[tuple[FileName, ...], Field(min_length=1), AfterValidator(_stages)]
    up: Vector = (0.0, 0.0, 1.0)
    limits: LimitsToml = LimitsToml()
    shim_stock: ShimStockToml | None = None
    section: dict[Name, SectionToml] = {}
    guide: dict[Name, GuideToml] = {}
    beam: dict[Name, BeamToml] = {}
    rail: dict[Name, RailToml] = {}
    carriage: dict[Name, CarriageToml] = {}
    sweep: dict[FileName, SweepToml] = {}
    shim: tuple[ShimToml, ...] = ()
    push: tuple[PushToml, ...] = ()
    tightening: TighteningToml = TighteningToml()
