"""Path-trace a described scene and say exactly what is where.

Mitsuba is imported here and nowhere else.  On an NVIDIA card ``cuda_ad_rgb`` runs.  The
variant ``llvm_ad_rgb`` needs LLVM 17 or newer: name its library in
``DRJIT_LIBLLVM_PATH``; without one ``scalar_rgb`` runs.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

import drjit as dr
import mitsuba as mi
import numpy as np

from models.scenes.assemble import assemble
from models.scenes.items import Item
from models.scenes.meshes import vertex_normals
from models.scenes.paint import cloud
from models.scenes.room import radiance
from models.scenes.viewpoint import eye

if TYPE_CHECKING:
    from models.scenes.description import Camera, Scene
    from models.scenes.paint import Maps

SEEDS = 2**32
"""mitsuba takes seeds below this."""
SAMPLES_PER_PASS = 8
FOCUS_HEIGHT_MM = 0.7
METALS = {
    "tin": (0.17, (0.80, 0.78, 0.75)),
    "solder": (0.07, (0.84, 0.83, 0.81)),
    "dull_solder": (0.3, (0.62, 0.61, 0.60)),
}
PLASTICS = {
    "ceramic": ((0.66, 0.65, 0.62), 0.45),
    "slate": ((0.10, 0.085, 0.07), 0.5),
    "brown": ((0.235, 0.155, 0.095), 0.4),
    "fibre": ((0.65, 0.64, 0.62), 0.7),
    "laminate": ((0.22, 0.20, 0.10), 0.6),
}


def choose_variant() -> str:
    """Set the fastest variant that runs here and return its name."""
    for name in ("cuda_ad_rgb", "llvm_ad_rgb", "scalar_rgb"):
        try:
            mi.set_variant(name)
            dr.eval(mi.Float(0.0) + 1)
        except (ImportError, RuntimeError):
            continue
        return name
    message = "mitsuba: no variant runs; scalar_rgb is needed. Reinstall mitsuba."
    raise ImportError(message)


def _bitmap(values: np.ndarray) -> dict[str, Any]:
    shaped = values if values.ndim == 3 else values[..., None]
    return {
        "type": "bitmap",
        "bitmap": mi.Bitmap(np.ascontiguousarray(shaped, dtype=np.float32)),
        "raw": True,
        "wrap_mode": "clamp",
    }


def _painted(maps: Maps) -> dict[str, Any]:
    base = {
        "type": "principled",
        "base_color": _bitmap(maps.colour),
        "roughness": _bitmap(maps.roughness),
        "metallic": _bitmap(maps.metal),
        "specular": 0.5,
    }
    return {
        "type": "bumpmap",
        "arbitrary": _bitmap(maps.height_mm),
        "scale": 1.0,
        "bsdf": base,
    }


@cache
def _plating() -> np.ndarray:
    """Height in mm of the grain of tin plating over one lead or end cap."""
    rng = np.random.default_rng(5)
    return 0.0005 * cloud((160, 320), 9, rng) + 0.0003 * cloud((160, 320), 3, rng)


def _bsdf(item: Item) -> Any:
    if item.maps is not None:
        inner = _painted(item.maps)
    elif item.material in METALS:
        alpha, colour = METALS[item.material]
        inner = {
            "type": "roughconductor",
            "material": "none",
            "alpha": alpha,
            "distribution": "ggx",
            "specular_reflectance": {"type": "rgb", "value": colour},
        }
        if item.material == "tin":
            inner = {
                "type": "bumpmap",
                "arbitrary": _bitmap(_plating()),
                "scale": 1.0,
                "bsdf": inner,
            }
    else:
        colour, roughness = PLASTICS[item.material]
        inner = {
            "type": "principled",
            "base_color": {"type": "rgb", "value": colour},
            "roughness": roughness,
        }
    return mi.load_dict({"type": "twosided", "bsdf": inner})


def _shape(item: Item) -> Any:
    """Hand a mesh to the renderer; its world has y up in the picture."""
    mesh = item.mesh
    props = mi.Properties()
    props["mesh_bsdf"] = _bsdf(item)
    shape = mi.Mesh(
        item.name,
        vertex_count=len(mesh.vertices_mm),
        face_count=len(mesh.faces),
        has_vertex_normals=True,
        has_vertex_texcoords=True,
        props=props,
    )
    flip = np.array([1.0, -1.0, 1.0])
    params = mi.traverse(shape)
    params["vertex_positions"] = np.ravel(mesh.vertices_mm * flip).astype(np.float32)
    params["vertex_normals"] = np.ravel(vertex_normals(mesh) * flip).astype(np.float32)
    params["vertex_texcoords"] = np.ravel(mesh.uv).astype(np.float32)
    params["faces"] = np.ravel(mesh.faces[:, ::-1]).astype(np.uint32)
    params.update()
    return shape


def _sensor(camera: Camera, *, pinhole: bool) -> dict[str, Any]:
    view = eye(camera)
    fov = 2 * np.degrees(np.arctan(camera.view_mm / 2 / camera.distance_mm))
    sensor = {
        "type": "perspective",
        "fov": float(fov),
        "fov_axis": "x",
        "near_clip": 1.0,
        "far_clip": 2000.0,
        "to_world": mi.ScalarTransform4f().look_at(
            origin=list(view.origin),
            target=list(view.origin + view.forward),
            up=list(-view.down),
        ),
        "film": {
            "type": "hdrfilm",
            "width": camera.width_px,
            "height": camera.height_px,
            "rfilter": {"type": "box"},
        },
    }
    if not pinhole:
        focus = (
            camera.distance_mm
            - FOCUS_HEIGHT_MM * float(view.forward @ (0.0, 0.0, -1.0))
            + camera.focus_shift_mm
        )
        sensor |= {
            "type": "thinlens",
            "aperture_radius": camera.aperture_mm,
            "focus_distance": focus,
        }
    return sensor


def build(scene: Scene, items: list[Item], *, pinhole: bool = False) -> Any:
    """Return the renderer's scene."""
    if mi.variant() is None:
        choose_variant()
    room = radiance(scene.light, scene.camera)
    world: dict[str, Any] = {
        "type": "scene",
        "integrator": {"type": "path", "max_depth": 7},
        "sensor": _sensor(scene.camera, pinhole=pinhole),
        "room": {
            "type": "envmap",
            "bitmap": mi.Bitmap(room.astype(np.float32)),
            "to_world": mi.ScalarTransform4f().rotate([1, 0, 0], 90),
        },
        "table": {
            "type": "rectangle",
            "to_world": mi.ScalarTransform4f().translate([0, 0, -3])
            @ mi.ScalarTransform4f().scale(400),
            "bsdf": {
                "type": "principled",
                "base_color": {"type": "rgb", "value": (0.05, 0.075, 0.11)},
                "roughness": 0.6,
            },
        },
    }
    for item in items:
        assert item.name not in world, item.name
        world[item.name] = _shape(item)
    return mi.load_dict(world)


def render(
    scene: Scene,
    *,
    samples: int,
    keep_noise: float = 0.25,
    items: list[Item] | None = None,
) -> np.ndarray:
    """Path-trace a scene and denoise it.

    Parameters
    ----------
    scene : Scene
    samples : int
        A pixel, taken in passes so that memory stays small.  Without mitsuba_oidn
        nothing is denoised: take eight times as many.
    items : list of Item, optional
        What ``assemble`` gave for the scene, when it is seen more than once.
    keep_noise : float
        Share of the picture before denoising; keeps fine grain alive.

    Returns
    -------
    ndarray of shape (rows, cols, 3), float32
        Linear RGB light.
    """
    world = build(scene, items if items is not None else assemble(scene))
    passes = max(1, samples // SAMPLES_PER_PASS)
    total: np.ndarray | None = None
    for k in range(passes):
        image = mi.render(
            world,
            spp=min(samples, SAMPLES_PER_PASS),
            seed=(scene.shot_seed * 1000 + k) % SEEDS,
        )
        light = np.array(image, dtype=np.float32)[..., :3]
        total = light if total is None else total + light
    assert total is not None
    noisy = np.minimum(total / passes, 40.0)
    clean = _denoised(noisy)
    grain = np.clip(noisy - clean, -0.3 * clean - 0.01, 0.3 * clean + 0.01)
    grainy: np.ndarray = clean + keep_noise * grain
    return grainy


def _denoised(noisy: np.ndarray) -> np.ndarray:
    try:
        import mitsuba_oidn  # noqa: PLC0415  optional and only of use here
    except ImportError:
        return noisy
    return np.asarray(mitsuba_oidn.denoise(np.ascontiguousarray(noisy), hdr=True))


def item_masks(scene: Scene) -> tuple[np.ndarray, tuple[str, ...]]:
    """Say which item each pixel shows, through a pinhole.

    Returns
    -------
    numbers : ndarray of shape (rows, cols), int32
        Index into ``names``; -1 where the room or the table shows.
    names : tuple of str
    """
    items = assemble(scene)
    world = build(scene, items, pinhole=True)
    integrator = mi.load_dict({"type": "aov", "aovs": "id:shape_index"})
    layers = np.array(mi.render(world, integrator=integrator, spp=1))
    image = layers[..., -1].round().astype(int)
    names = tuple(item.name for item in items)
    numbers = np.full(image.shape, -1, np.int32)
    for shape in world.shapes():
        if shape.id() in names:
            index = int(
                np.array(dr.reinterpret_array(mi.UInt32, mi.ShapePtr(shape)))[0]
            )
            numbers[image == index] = names.index(shape.id())
    return numbers, names
