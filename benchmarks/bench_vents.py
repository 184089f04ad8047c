"""200 stepped drills and their channels out of a solid of a million faces, against Blender's own boolean."""

from time import perf_counter

import numpy as np
import pytest
from manifold3d import CrossSection, Manifold, OpType

from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns
from buckwright.shape.solid import as_mesh, as_solid
from buckwright.shape.underside.channels import channel_tools, plan_channels
from buckwright.shape.vents.drilling import check_drilled, vent_tools
from buckwright.shape.vents.face_hole import face_hole
from buckwright.shape.vents.placing import plan_vents
from buckwright.shape.vents.vent import VentPlan

ROWS, COLUMNS = 10, 20
SIZE = (250.0, 150.0)


def hills(columns: int = 910, rows: int = 546) -> Mesh:
    """Organic block 250 x 150 mm, 20 to 60 mm high, of a million faces."""
    x, y = np.meshgrid(np.linspace(0, SIZE[0], columns), np.linspace(0, SIZE[1], rows))
    height = 40 + 12 * np.sin(x / 23) * np.cos(y / 17) + 5 * np.sin(x / 7 + y / 9) + 1.5 * np.cos(y / 2.3)
    top = np.column_stack([x.ravel(), y.ravel(), height.ravel()])
    index = np.arange(rows * columns).reshape(rows, columns)
    a, b, c, d = index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]
    up = np.concatenate([np.stack(t, -1).reshape(-1, 3) for t in ((a, b, c), (a, c, d))])
    rim = np.concatenate([index[0, :-1], index[:-1, -1], index[-1, :0:-1], index[:0:-1, 0]])
    foot = len(top) + np.arange(len(rim))
    after, foot_after = np.roll(rim, -1), np.roll(foot, -1)
    middle = len(top) + len(rim)
    walls = [np.column_stack([foot, foot_after, after]), np.column_stack([foot, after, rim])]
    floor = np.column_stack([foot_after, foot, np.full(len(rim), middle)])
    points = [top, top[rim] * [1, 1, 0], [[SIZE[0] / 2, SIZE[1] / 2, 0.0]]]
    return Mesh.from_arrays(np.concatenate(points), np.concatenate([up, *walls, floor]))


def planned(mesh: Mesh) -> tuple[VentPlan, list[Manifold]]:
    x, y = np.meshgrid(np.linspace(9.1, 240.7, COLUMNS), np.linspace(8.3, 141.2, ROWS))
    spots = np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])
    face = face_hole(sheet_mm=1.0, low_mm=0.5, high_mm=1.0)
    plan = plan_vents(spots, range(len(spots)), Columns(mesh), face=face)
    plate = CrossSection.square(SIZE)
    channels = plan_channels(plan.feet, plate, bores_mm=plan.bores_mm)
    return plan, [*vent_tools(plan), *channel_tools(channels)]


def ours(mesh: Mesh, tools: list[Manifold], plan: VentPlan) -> tuple[Mesh, float]:
    """Arrays in, arrays out; also the seconds of the subtraction alone."""
    solid = as_solid(mesh)
    start = perf_counter()
    cut = Manifold.batch_boolean([solid, *tools], OpType.Subtract)
    check_drilled(solid, cut, plan)
    alone = perf_counter() - start
    return as_mesh(cut), alone


def blenders(bpy, mesh: Mesh, tool: Mesh) -> tuple[Mesh, float]:  # type: ignore[no-untyped-def]
    """Result and seconds of Blender's MANIFOLD boolean modifier, mesh to evaluated mesh."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    made = []
    for name, shape in {"buck": mesh, "tools": tool}.items():
        data = bpy.data.meshes.new(name)
        data.from_pydata(shape.vertices, [], shape.faces)
        made.append(bpy.data.objects.new(name, data))
        bpy.context.collection.objects.link(made[-1])
    modifier = made[0].modifiers.new("cut", "BOOLEAN")
    modifier.operation, modifier.solver, modifier.object = "DIFFERENCE", "MANIFOLD", made[1]
    start = perf_counter()
    graph = bpy.context.evaluated_depsgraph_get()
    graph.update()
    result = made[0].evaluated_get(graph).to_mesh()
    seconds = perf_counter() - start
    result.calc_loop_triangles()
    points = np.zeros(len(result.vertices) * 3, np.float32)
    result.vertices.foreach_get("co", points)
    corners = np.zeros(len(result.loop_triangles) * 3, np.int32)
    result.loop_triangles.foreach_get("vertices", corners)
    return Mesh.from_arrays(points.reshape(-1, 3), corners.reshape(-1, 3)), seconds


def test_drilling_a_million_faces(benchmark):
    mesh = hills()
    plan, tools = planned(mesh)
    assert mesh.face_count > 980_000
    assert len(plan.vents) >= 180
    alone = []

    def run() -> Mesh:
        cut, seconds = ours(mesh, tools, plan)
        alone.append(seconds)
        return cut

    cut = benchmark.pedantic(run, rounds=3, warmup_rounds=1)
    assert cut.volume_mm3() < mesh.volume_mm3()
    mine = benchmark.stats.stats.min
    print(f"\n{len(plan.vents)} vents: {mine:.2f} s arrays to arrays, {min(alone):.2f} s the subtraction")
    bpy = pytest.importorskip("bpy", reason="Blender as a module is not installed")
    other, seconds = blenders(bpy, mesh, as_mesh(Manifold.batch_boolean(tools, OpType.Add)))
    print(f"Blender's MANIFOLD boolean: {seconds:.2f} s")
    removed = mesh.volume_mm3() - cut.volume_mm3()
    assert mesh.volume_mm3() - other.volume_mm3() == pytest.approx(removed, rel=0.01), "not the same work"
    assert mine < seconds
