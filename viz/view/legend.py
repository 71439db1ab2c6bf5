"""The layers of a scene as a panel of switches, each with its key, its scale of colours and its numbers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from sim.results.people import UNITS, Units
from viz.report.told import Told, listed, same, say, told
from viz.scales import WINDOW_ABOVE, WINDOW_BELOW, ZERO_CELSIUS, Scale, display_temperature
from viz.view.colours import material_colours
from viz.view.parts import SceneParts, SeenFloor


@dataclass(frozen=True, slots=True)
class LayerSwitch:
    """One switch: its name in the script, its key, what it is called, what stands below it, whether it is on.

    `why_not` says why it cannot be switched; `below` are lines of text, `scale` the limits [K] and ramp (0, 1).
    """

    name: str
    key: str
    label: str
    below: tuple[Told, ...] = ()
    scale: tuple[float, float, int] | None = None
    shown: bool = True
    why_not: str = ""
    under: bool = False


def layers(scene: SceneParts) -> Iterator[LayerSwitch]:
    """The switches of a scene in the order in which the parts lie, from above."""
    scales, bare = scene.scales, not any(s.kind in ("plate", "sheet") for s in scene.solids)
    if scene.floor is not None:
        lines, window = camera_lines(scene.floor), (scene.floor.low, scene.floor.high, 0)
        yield LayerSwitch("floor", "f", "Floor as a thermal camera sees it", lines, window)
    plates = "There are no plates" if bare else "" if "hot" in scales and scene.volume else _not_kept(scene)
    if not bare or scene.floor is not None:
        yield LayerSwitch("plates", "p", "Plates by temperature", (), _scale(scales, "hot"), not plates, plates)
    if scene.tubes:
        why = "" if "water" in scales else _not_kept(scene)
        lines, limits = _water_lines(scene), _scale(scales, "water", 1)
        yield LayerSwitch("water", "w", "Tube by water temperature", lines, limits, not why, why)
    why = "" if scene.air.lines else scene.air.why_none or "No streamline was found"
    shared = None if not scene.air.lines or not (bare or plates) else _scale(scales, "hot")
    yield LayerSwitch("air", "a", "Computed air, streamlines", _air_lines(scene, bool(shared)), shared, not why, why)
    if scene.solids:
        blocks = scene.floor is None and scene.volume is not None
        yield LayerSwitch("solids", "m", "Solids by material")
        why = "" if scene.volume is not None else _not_kept(scene)
        limits = _scale(scales, "solids")
        yield LayerSwitch("warm", "t", "by temperature instead", (), limits, blocks, why, True)
        yield LayerSwitch("through", "x", "see through them", shown=False, under=True)
        yield LayerSwitch("labels", "l", "Names of the parts")


def camera_lines(floor: SeenFloor) -> tuple[Told, ...]:
    """By which numbers the camera's picture is made."""
    named = [say("{} ε {}", material, f"{share:.2f}") for material, share, _ in floor.coverings]
    return (
        say("{}; reflects the room at {}", listed(named), kelvin(floor.reflected)),
        say("Fixed scale: {} below the room to {} above it", _span(WINDOW_BELOW), _span(WINDOW_ABOVE)),
    )


def kelvin(value: float) -> Told:
    """A temperature [K] in °C and °F."""
    return told("surface_mean_C", value - ZERO_CELSIUS)


def temperature(scene: SceneParts, value: float) -> Told:
    """A temperature [K] as a scene tells it; a share of ΔT in a dimensionless one."""
    return same(f"{value:.3f} ΔT") if scene.dimensionless else kelvin(value)


def panel(scene: SceneParts) -> str:
    """All switches as HTML."""
    return "".join(_switch(scene, layer) for layer in layers(scene))


def _switch(scene: SceneParts, layer: LayerSwitch) -> str:
    state = " disabled" if layer.why_not else " checked" if layer.shown else ""
    parts = [
        f'<label data-layer="{layer.name}" data-key="{layer.key}" data-name="{escape(layer.label, quote=True)}">'
        f'<input type="checkbox" id="layer-{layer.name}"{state}><span>{escape(layer.label)}</span>'
        f"<kbd>{layer.key.upper()}</kbd></label>"
    ]
    parts += [f"<p>{escape(layer.why_not)}</p>"] if layer.why_not else [f"<p>{line.html()}</p>" for line in layer.below]
    if layer.scale is not None and not layer.why_not:
        parts.append(_colour_scale(scene, *layer.scale))
    if layer.name == "solids":
        parts.append(_swatches(scene))
    kind = f"layer{' no' if layer.why_not else ''}{' sub' if layer.under else ''}"
    return f'<div class="{kind}">{"".join(parts)}</div>'


def _swatches(scene: SceneParts) -> str:
    items = (
        f'<li><i class="swatch" style="background:{colour}"></i>{escape(label)}</li>'
        for label, colour in material_colours(scene.solids).items()
    )
    return f"<ul>{''.join(items)}</ul>"


def _colour_scale(scene: SceneParts, low: float, high: float, ramp: int) -> str:
    if scene.dimensionless:
        ticks = _ticks(Scale(low, high), "", " ΔT")
    else:
        ticks = "".join(_ticks(_shown(low, high, units), units, "") for units in ("si", "ip"))
    return f'<div class="scale"><div class="ramp" style="background:var(--ramp{ramp})"></div>{ticks}</div>'


def _shown(low: float, high: float, units: Units) -> Scale:
    ends = display_temperature([low, high], units)
    return Scale(float(ends[0]), float(ends[1]), units)


def _ticks(scale: Scale, kind: str, unit: str) -> str:
    places = {100 * (float(tick) - scale.low) / (scale.high - scale.low): float(tick) for tick in scale.ticks(6)}
    last = max(place for place in places if place < 90 or len(places) == 1)
    unit = unit or f" {scale.unit}"
    marks = "".join(
        f'<span style="left:{place:.1f}%">{tick:.5g}{unit if place == last else ""}</span>'
        for place, tick in places.items()
        if place <= last
    )
    return f'<div class="ticks {kind}">{marks}</div>'


def _scale(scales: dict[str, tuple[float, float]], name: str, ramp: int = 0) -> tuple[float, float, int] | None:
    return (*scales[name], ramp) if name in scales else None


def _span(difference: float) -> Told:
    return Told(f"{difference:.3g} K", f"{1.8 * difference:.3g} °F")


def _not_kept(scene: SceneParts) -> str:
    return scene.missing[0] if scene.missing else "This run kept no temperatures of it"


def _water_lines(scene: SceneParts) -> tuple[Told, ...]:
    """What enters and leaves the runs that are shown, in flow order."""
    runs: Sequence = [tube for tube in scene.tubes if tube.flows_on is not None]
    if not runs:
        known = [kelvin(float(tube.kelvin[0])) for tube in scene.tubes if tube.kelvin[0] == tube.kelvin[0]]
        return (say("{}: run by run the mean in this short cut", listed(known)),) if known else ()
    first, last = runs[0], runs[-1]
    enters, leaves = first.kelvin[0 if first.flows_on else -1], last.kelvin[-1 if last.flows_on else 0]
    return (say("{} where it enters, {} where it leaves", kelvin(float(enters)), kelvin(float(leaves))),)


def _air_lines(scene: SceneParts, own_scale: bool) -> tuple[Told, ...]:
    """Which flow, how fast, and whose colours."""
    air = scene.air
    if not air.lines:
        return ()
    unit, speed = UNITS["mm_s"], 1e3 * air.fastest
    fast = same(f"{air.fastest:.3g} α/L") if scene.dimensionless else Told(unit.write(speed), unit.write(speed, "ip"))
    told_of = say("{} lines of the {}, at most {}", str(len(air.lines)), air.which, fast)
    return (told_of,) if own_scale else (told_of, same("in the colours of the plates"))
