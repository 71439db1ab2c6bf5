"""A scene as one page that needs nothing else: no network, no library, no driver where it is written."""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import cache
from html import escape
from importlib.resources import files

import numpy as np

from viz.report.told import NOTHING, Told, same, say
from viz.view.colours import ramps
from viz.view.legend import kelvin, panel, temperature
from viz.view.pack import packed
from viz.view.parts import SceneParts, SeenFloor

_GUARD = "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:"
"""What the page may load: nothing but what it holds."""

_KEYS = (
    ("← → ↑ ↓", "turn; with Shift: move"),
    ("+ −", "nearer, farther; the wheel does so once the picture is chosen"),
    ("0 or Home", "as at the start"),
    ("V", "the whole length"),
    ("[ ]", "close, cut open"),
    ("R", "read what lies in the middle"),
    ("G", "let the air flow, as fast as it does"),
    ("U", "°C, mm or °F, in"),
)

_BUTTONS = (
    ("ArrowLeft", "⟲", "turn to the left"),
    ("ArrowRight", "⟳", "turn to the right"),
    ("ArrowUp", "↑", "from higher"),
    ("ArrowDown", "↓", "from lower"),
    ("+", "+", "nearer"),
    ("-", "−", "farther"),
    ("0", "Start", "as at the start"),
    ("v", "Whole", "the whole length"),
)


def scene_page(scene: SceneParts) -> str:
    """The whole page."""
    data = json.dumps(packed(scene), separators=(",", ":"), allow_nan=False).replace("<", "\\u003c")
    body = (
        f"<main><h1>{escape(scene.title)}</h1><p class=lead>{escape(_lead(scene))}</p>"
        f'<div class="desk"><div>{_stage(scene)}{_hands(scene)}</div>'
        f'<form class="panel" onsubmit="return false">{_units(scene)}<fieldset><legend>Show</legend>{panel(scene)}'
        f"</fieldset></form></div>{_numbers(scene)}{_camera(scene.floor)}{_keys()}"
        "<footer>Drawn by joistbay from stored results. A design aid, not an approval.</footer></main>"
    )
    opened = ' class="inches"' if scene.units == "ip" else ""
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta http-equiv="Content-Security-Policy" content="{_GUARD}"><title>{escape(scene.title)}</title>'
        f"<style>{_own('look.css')}:root{{{_ramps()}}}</style></head><body{opened}>{body}"
        f'<script type="application/json" id="scene">{data}</script>'
        f"<script>{_own('draw.js')}{_own('turn.js')}</script></body></html>\n"
    )


@cache
def _own(name: str) -> str:
    return files("viz.view").joinpath(name).read_text("utf-8")


@cache
def _ramps() -> str:
    """The ramps as gradients."""
    told = []
    for number, ramp in enumerate(ramps()):
        stops = ",".join(f"#{r:02x}{g:02x}{b:02x}" for r, g, b in ramp[np.linspace(0, 255, 18).round().astype(int)])
        told.append(f"--ramp{number}:linear-gradient(90deg,{stops})")
    return ";".join(told)


def _lead(scene: SceneParts) -> str:
    return "; ".join(part for part in ("Drag to turn, or use the arrow keys", scene.note) if part)


def _stage(scene: SceneParts) -> str:
    label = escape(summary(scene).both, quote=True)
    return (
        f'<div id="stage"><canvas id="picture" tabindex="0" role="img" aria-label="{label}"></canvas>'
        '<svg id="leaders" aria-hidden="true"></svg><div id="tags" aria-hidden="true"></div></div>'
        '<p id="say" role="status" aria-live="polite"></p><p id="reading" aria-live="polite"></p>'
    )


def summary(scene: SceneParts) -> Told:
    """The scene in two sentences, for those who do not see it."""
    parts = ", ".join(dict.fromkeys(solid.label for solid in scene.solids)) or "air between walls"
    text = same(f"Turnable cutaway of {scene.title}: {parts}.")
    if scene.floor is not None:
        text += say(" The floor is read by a thermal camera as {} to {}.", *_ends(scene, scene.floor.apparent))
    return text + (f" {scene.air.why_none}." if scene.air.why_none else " Streamlines show the computed air.")


def _hands(scene: SceneParts) -> str:
    buttons = "".join(
        f'<button type="button" data-do="{name}" aria-label="{words}" title="{words}">{sign}</button>'
        for name, sign, words in _BUTTONS
    )
    air = '<button type="button" data-do="g" id="flow" aria-pressed="false"{}><b>Let the air flow</b></button>'
    cut = '<label{}>Cut open <input type="range" id="open" min="0" max="100" value="100"></label>'
    cut = cut.format("" if scene.solids else " hidden")
    still = '<span id="motion" hidden>Motion is reduced on this device: the air flows only when asked.</span>'
    return f'<div class="hands">{buttons}{air.format("" if scene.air.lines else " hidden")}{cut}{still}</div>'


def _units(scene: SceneParts) -> str:
    if scene.dimensionless:
        return ""
    choice = "".join(
        f'<label><input type="radio" name="units" id="units-{name}" value="{name}"'
        f"{' checked' if name == scene.units else ''}>{words}</label>"
        for name, words in (("si", "°C, mm"), ("ip", "°F, in"))
    )
    return f'<div class="units" role="group" aria-label="Units">{choice}<kbd>U</kbd></div>'


def _numbers(scene: SceneParts) -> str:
    """The same in numbers."""
    rows = "".join(
        f'<tr><th scope="row">{escape(name)}</th>{"".join(f"<td>{cell.html()}</td>" for cell in cells)}</tr>'
        for name, *cells in numbers(scene)
    )
    return (
        '<h2>In numbers</h2><div class="wide"><table><thead><tr><th scope="col">Layer</th><th scope="col">Coolest</th>'
        f'<th scope="col">Mean</th><th scope="col">Warmest</th></tr></thead><tbody>{rows}</tbody></table></div>'
    )


def numbers(scene: SceneParts) -> Iterator[tuple[str, Told, Told, Told]]:
    """Name, coolest, mean and warmest of each layer."""
    floor, nothing = scene.floor, same(NOTHING)
    if floor is not None:
        area = np.diff(floor.x_edge)[:, None] * np.diff(floor.y_edge)[None, :]
        for name, field in (("Floor surface", floor.surface), ("Floor, read by the camera", floor.apparent)):
            there = np.isfinite(field)
            mean = float((field[there] * area[there]).sum() / area[there].sum())
            low, high = _ends(scene, field)
            yield name, low, kelvin(mean), high
    for tube in scene.tubes:
        if np.isfinite(tube.kelvin).any():
            low, high = _ends(scene, tube.kelvin)
            yield f"Water, {tube.label}", low, kelvin(float(np.nanmean(tube.kelvin))), high
    if scene.volume is not None:
        low, high = _ends(scene, scene.volume.kelvin)
        yield "All solids", low, nothing, high
    if scene.air.lines:
        low, high = _ends(scene, np.concatenate([line.kelvin for line in scene.air.lines]))
        yield "Air along the streamlines", low, nothing, high


def _ends(scene: SceneParts, field: np.ndarray) -> tuple[Told, Told]:
    return temperature(scene, float(np.nanmin(field))), temperature(scene, float(np.nanmax(field)))


def _camera(floor: SeenFloor | None) -> str:
    """How the camera's picture is made, and from which numbers."""
    if floor is None:
        return ""
    seen = (f"{escape(material)} {share:.2f} ({escape(source)})" for material, share, source in floor.coverings)
    shares = "; ".join(seen)
    return (
        '<h2>How the camera reads the floor</h2><p class="how">A camera whose emissivity is set to 1 reads '
        "T<sub>app</sub> from T<sub>app</sub>⁴ = ε T⁴ + (1 − ε) T<sub>refl</sub>⁴, in kelvin: what the floor sends "
        "itself, and the room that it mirrors (ISO 18434-1:2008, from memory; all wavelengths together, no air in "
        "between). "
        f"Emissivity ε: {shares}. The room reflected: {kelvin(floor.reflected).html()} "
        f"({escape(floor.reflected_source)}). Warm or cold things nearby, a window or a person, are not in it.</p>"
    )


def _keys() -> str:
    rows = "".join(f"<dt><kbd>{escape(keys)}</kbd></dt><dd>{escape(words)}</dd>" for keys, words in _KEYS)
    rows += "<dt><kbd>letters</kbd></dt><dd>layers, as written at each</dd>"
    return f"<details><summary>Keys</summary><dl>{rows}</dl></details>"
