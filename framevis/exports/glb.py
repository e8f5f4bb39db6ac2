"""A scene as binary glTF: every part a named mesh, a hierarchy of nodes, colours at the vertices.

Takes a scene and a magnification, gives the file's bytes. glTF wants metres and Y up: machine (x, y, z) with up
along z becomes (x, z, −y) / 1000. Nodes: `beam B` holds its `rail R`s, `carriage C` its `block C/B`s and `plate C`.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from framevis.frame import Floats
from framevis.pictures.bodies import PLATE_OPACITY
from framevis.pictures.look import PART_COLOUR, VERDICT_COLOUR
from framevis.pictures.scene import Part, Scene

ROOT = "machine"
OWNER = {"rail": "beam", "block": "carriage", "plate": "carriage"}


def glb(scene: Scene, magnification: float) -> bytes:
    """The parts where they are shown at a magnification. Frame, stage, positions stand in the asset's extras."""
    import trimesh

    made = trimesh.Scene(base_frame=ROOT)
    graph: Any = made.graph
    writer: Any = trimesh.exchange.gltf
    for carriage in scene.frame.carriages:
        graph.update(frame_to=f"carriage {carriage.name}", frame_from=ROOT)
    turn = axes_of(scene.frame.up)
    for part in scene.parts:
        name = f"{part.role} {part.name}"
        parent = f"{OWNER[part.role]} {part.owner}" if part.role in OWNER else ROOT
        mesh = trimesh.Trimesh(
            vertices=scene.points(part, magnification) @ turn.T / 1000.0,
            faces=triangles(part),
            vertex_colors=np.tile(colour(part), (len(part.vertices), 1)),
            process=False,
        )
        made.add_geometry(mesh, node_name=name, geom_name=name, parent_node_name=parent)

    def finish(tree: dict[str, Any]) -> None:
        _finish(tree, scene, magnification)

    return bytes(writer.export_glb(made, include_normals=False, tree_postprocessor=finish))


def axes_of(up: Floats) -> Floats:
    """Rows (3, 3): the machine's directions that become glTF's X, Y, Z. X stays X unless that is up."""
    first = np.eye(3)[0] if abs(up[0]) < 0.9 else np.eye(3)[1]
    x = first - up * (first @ up)
    x /= np.linalg.norm(x)
    return np.array([x, up, np.cross(x, up)])


def triangles(part: Part) -> NDArray[np.int64]:
    """Each quad as two triangles (2 F, 3), outward as before."""
    return part.faces[:, [0, 1, 2, 0, 2, 3]].reshape(-1, 3)


def colour(part: Part) -> NDArray[np.uint8]:
    """A part's colour (4,) red, green, blue, opacity, 0 to 255: the picture's, made linear as glTF's vertices are."""
    picture = np.array(VERDICT_COLOUR[part.verdict] if part.verdict else PART_COLOUR[part.role]) / 255.0
    linear = np.where(picture <= 0.04045, picture / 12.92, ((picture + 0.055) / 1.055) ** 2.4)  # IEC 61966-2-1
    opacity = PLATE_OPACITY if part.role == "plate" else 1.0
    return np.rint(np.array([*linear, opacity]) * 255.0).astype(np.uint8)


def _finish(tree: dict[str, Any], scene: Scene, magnification: float) -> None:
    """A dull material (without one glTF assumes metal), a translucent one for plates; what the file shows."""
    dull = {"pbrMetallicRoughness": {"metallicFactor": 0.0, "roughnessFactor": 0.8}, "doubleSided": True}
    tree["materials"] = [{"name": "solid", **dull}, {"name": "see-through", **dull, "alphaMode": "BLEND"}]
    for mesh in tree["meshes"]:
        for primitive in mesh["primitives"]:
            primitive["material"] = int(mesh["name"].startswith("plate "))
    tree["asset"]["generator"] = "framevis"
    tree["asset"]["extras"] = {
        "frame": scene.frame.name,
        "stage": scene.stage,
        "magnification": magnification,
        "positions_mm": dict(scene.positions),
    }
