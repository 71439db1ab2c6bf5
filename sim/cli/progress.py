"""Progress on the terminal: one line rewritten once a second, or plain lines where nobody looks."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from math import log
from threading import Event, Thread
from time import monotonic
from types import TracebackType
from typing import TYPE_CHECKING, Any

from sim.cli.durations import about
from sim.cli.first_word import first_word

if TYPE_CHECKING:
    from sim.cli.options import UnitChoice
    from sim.jobs.job import Outcome
    from sim.resolved.means import Evidence, Round
    from sim.solver.march import Step
    from sim.solver.stages import Moment
    from sim.solver.steady import Pass

_KEPT_NOWHERE = (
    "Compiling kernels, up to a minute each time: neither the program's folder nor the user's cache folder can be "
    "written; set NUMBA_CACHE_DIR to a folder that can."
)

LEAST_LEFT = 5.0
"""Time left that is worth telling [s]."""

ENOUGH = 2e-6
"""Residual at which a solve ends [-], as `sim.solver.steady.SteadyOptions` has it."""

LEAST_GONE = 0.2
"""Share of a solve's way to that after which what is left of it is told by it [-]."""

LEAST_SHARE = 5.0
"""Share of a march after which what is left of it is told [%]: its first steps are short."""

PLAIN_PAUSE = 5.0
"""Least time between two plain lines about passes [s]."""

COMPANION, AFTER_COMPANION = "on larger cells first, ", " for these, then the mesh itself"
"""What is said before and after how far a companion on larger cells is, which tells what the mesh costs."""

NEARLY, THEN_ERRORS = "nearly done", ", then how well it is known"
"""What is said of rounds where no more than a second of them is left, and what follows them."""

SILENCE, LATER_SILENCE = 1.5, 10.0
"""Longest time without a plain line [s], in the first minute and later, where a log would fill with lines."""


class Progress:
    """Tells on stderr what is being done; a listener for passes of a solve and jobs of a comparison.

    Use it as a context manager. Where stderr is a terminal its line is rewritten once a second and disappears
    at the end; elsewhere each stage is a line, and there is one whenever it was silent for long, for a `pulse` [s]
    where one is given.

    Attributes
    ----------
    compiled : int
        How many times kernels had to be compiled meanwhile.
    """

    def __init__(self, pulse: float | None = None, units: UnitChoice = "si") -> None:
        self._pulse, self._ended, self._units = pulse, Event(), units
        self._began = self._spoke = monotonic()
        self._stage = self._detail = ""
        self._end: float | None = None
        self._solve: tuple[float, float] | None = None
        self._solves, self._first, self._jobs, self._sure = 1.0, 0.0, 1, False
        self._live: Any = None
        self.compiled = 0

    def __enter__(self) -> Progress:
        first_word.spoken()
        if sys.stderr.isatty():
            from rich.console import Console
            from rich.live import Live

            console = Console(stderr=True)
            self._live = Live(get_renderable=self._line, console=console, refresh_per_second=1, transient=True)
            self._live.start()
        else:
            Thread(target=self._beat, daemon=True).start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._ended.set()
        if self._live is not None:
            self._live.stop()

    def stage(self, text: str, quietly: bool = False) -> None:
        """A new stage begins; quietly, it is only told where it takes long."""
        self._stage, self._detail = text, ""
        if not quietly:
            self._tell(text)

    def note(self, text: str) -> None:
        """A remark that stays on the screen."""
        if self._live is not None:
            self._live.console.print(text, highlight=False, markup=False)
        else:
            self._tell(text)

    def expect(self, seconds: float | None, solves: float = 1.0) -> None:
        """From now on it is thought to take so long, so many times its first solve; None: nobody knows."""
        self._end = None if seconds is None else monotonic() + seconds
        self._solve, self._solves, self._first, self._sure = None, solves, monotonic(), False

    def _hear(self, record: Pass) -> None:
        """What is left by what was measured: of a solve by its residual, of a search by its first solve."""
        if record.number == 0:
            if self._solve is not None and self._solves > 1.0:
                self.measured((self._solves - 1.0) * (monotonic() - self._first))
                self._solves = 0.0
            self._solve = (monotonic(), record.residual)
            return
        began, residual = self._solve or (monotonic(), record.residual)
        gone = log(record.residual / residual) / log(ENOUGH / residual) if residual > ENOUGH < record.residual else 1.0
        if self._solves == 1.0 and self._end is not None and gone >= LEAST_GONE:
            self.measured((monotonic() - began) * max(1.0 - gone, 0.0) / gone)

    def measured(self, seconds: float) -> None:
        """By what was measured it will take so much longer: from now on this is told."""
        self._end, self._sure = monotonic() + seconds, True

    def on_pass(self, record: Pass) -> None:
        """Listen to the outer passes of a solve."""
        self._hear(record)
        self._detail = f"pass {record.number}"
        if record.number:
            self._detail += f", residual {record.residual:.0e}"
        self._tell_now_and_then(f"{self._stage}: {self._detail}")

    def rounds(self, error: float, longest: float, part: str = "") -> Callable[[Round, Evidence, float], None]:
        """A listener for the rounds of resolved air, which end at a standard error or after a time of air [s].

        `part`: of what the time that is left is, where more follows.
        """

        met: list[float] = []

        def tell(record: Round, evidence: Evidence, seconds: float) -> None:
            if evidence.excess(error) > 1.0:
                met.clear()
            elif not met:
                met.append(record.time)
            flows = ", ".join(f"{path} {flow:.2f} W" for path, flow in list(record.flows.items())[:3])
            found = f"±{evidence.largest_error:.1%}" if evidence.error else "errors not known yet"
            before, after = (COMPANION, AFTER_COMPANION) if evidence.companion else ("", "")
            share = min(1.0, record.time / longest)
            left = _left(record.time, longest, evidence.excess(error), seconds, met[0] if met else None)
            left += f" {part}" if part else THEN_ERRORS if left == NEARLY and not evidence.companion else ""
            each = f" in each of {evidence.starts} starts" if evidence.starts > 1 else ""
            self._detail = (
                f"{before}{left}{after}: {record.time:.0f} s of air of at most {longest:.0f} ({share:.0%}){each}, "
                f"step {record.steps:,}, {flows}, {found} of {error:.1%}{_ripple(evidence, error)}"
            )
            self._tell_now_and_then(f"{self._stage}: {self._detail}")

        return tell

    def steps(self, name: str, end: float) -> Callable[[Moment, Step], None]:
        """A listener for the steps in time of a choice that is followed until `end` [s]."""
        first: list[tuple[float, float]] = []

        def tell(moment: Moment, step: Step) -> None:
            from sim.bay.geometry import BayPath
            from sim.results.people import format_value

            area = sum(float(s.area.sum()) for s in moment.system.surfaces if s.path == BayPath.UP and s.side == 5)
            flux = moment.flows.balance.delivered.get(BayPath.UP, 0.0) / max(area, 1e-12)
            share = 100.0 * step.time / end
            first.extend([] if first else [(monotonic(), step.time)])
            since, at = first[0]
            left = (monotonic() - since) * (end - step.time) / (step.time - at) if step.time > at else 0.0
            rest = f", about {about(left)} left" if share >= LEAST_SHARE and left >= LEAST_LEFT else ""
            if share >= LEAST_SHARE:  # the others take about as long as this one
                self.measured(left + (self._jobs - 1) * (monotonic() - since + left))
            up = format_value("heat_flux_up_W_m2", flux, "ip" if self._units == "ip" else "si")
            self._detail = (
                f"{name}: {step.time / 3600.0:.2f} of {end / 3600.0:.3g} h, {share:.0f} % done, "
                f"step {float(f'{step.length:.3g}'):,g} s, {up} up{rest}"
            )
            self._tell_now_and_then(self._detail)

        return tell

    def on_step(self, text: str) -> None:
        """Listen to a march in time: how far it is, in words."""
        self._detail = text
        self._tell_now_and_then(f"{self._stage}: {text}")

    def outcomes(self, total: int) -> Callable[[Outcome], None]:
        """A listener for jobs that end, of which there are `total`; tells how long the others will take."""
        began, ended, solved, first = monotonic(), 0, 0, 0.0
        self._detail, self._jobs = f"0 of {total} done", total

        def tell(outcome: Outcome) -> None:
            nonlocal ended, solved, first
            ended, solved = ended + 1, solved + (not outcome.reused)
            self._jobs = max(total - ended, 1)
            first = first or (monotonic() - began if solved else 0.0)
            done = f"{ended} of {total} done"
            how = "failed" if outcome.failure else "taken up" if outcome.reused else f"{outcome.seconds:.1f} s"
            # the first job loads and compiles for all, so it tells what the others take at most
            spent, count = (monotonic() - began - first, solved - 1) if solved > 1 else (first, solved)
            left = spent / count * (total - ended) if count else 0.0
            most = "about" if solved > 1 else "at most"
            rest = f", {most} {about(left)} left" if left >= LEAST_LEFT else ""
            self._detail = f"{done}{rest}"
            if left:
                self.measured(left)
            self._tell(f"{done}: {outcome.name}, {how}{rest}")

        return tell

    def _beat(self) -> None:
        """Say what is going on whenever nothing was said for a while."""
        while not self._ended.wait((self._pulse or SILENCE) / 5.0):
            spent = monotonic() - self._began
            longest = self._pulse or (SILENCE if spent < 60.0 else LATER_SILENCE)
            if self._stage and monotonic() - self._spoke > longest:
                what = ": ".join(part for part in (self._stage, self._detail) if part)
                self._tell(f"{what}, {spent:.0f} s{self._rest()}")

    def _rest(self) -> str:
        """How long it goes on by what was measured, where those who are heard do not tell it."""
        left = 0.0 if self._end is None or not self._sure else self._end - monotonic()
        return f", about {about(left)} left" if left >= LEAST_LEFT and " left" not in self._detail else ""

    def _line(self) -> Any:
        """The one line as it stands now."""
        from rich.text import Text

        parts = [self._stage, self._detail, f"{monotonic() - self._began:.0f} s{self._rest()}"]
        return Text(" · ".join(part for part in parts if part), no_wrap=True, overflow="ellipsis")

    def _tell_now_and_then(self, text: str) -> None:
        """A plain line, where there is no line to rewrite and the last one is a while ago."""
        if self._live is None and monotonic() - self._spoke > PLAIN_PAUSE:
            self._tell(text)

    def _tell(self, text: str) -> None:
        """A plain line, when there is no line to rewrite."""
        self._spoke = monotonic()
        if self._live is None:
            print(text, file=sys.stderr, flush=True)
        else:
            self._live.refresh()


def _ripple(evidence: Evidence, error: float) -> str:
    """How well the floor's ripple is known, of how well it is to be; nothing where none is watched yet."""
    from sim.resolved.means import ripple_wanted  # the flow's libraries, which are there by now

    return f", ripple ±{evidence.ripple_error:.0%} of {ripple_wanted(error):.0%}" if evidence.ripple_error else ""


def _left(time: float, longest: float, excess: float, seconds: float, met: float | None = None) -> str:
    """How long rounds will still go on: errors fall with the root of the time; at most until the longest time.

    Parameters
    ----------
    time, longest : simulated so far, and at most [s].
    excess : the error over the one that is wanted [-].
    seconds : spent so far.
    met : simulated time [s] since which it is no larger: a run goes on until it was so for a share of its rounds.
    """
    from sim.resolved.means import HELD_SINCE  # the flow's libraries, which are there by now

    if not time > 0.0:
        return "time left not known yet"
    known = excess < float("inf")
    wanted = met / HELD_SINCE if met else time * excess**2
    end = min(longest, max(time, wanted)) if known else longest
    rest = (end - time) * seconds / time
    return f"{'about' if known else 'at most'} {about(rest)} left" if rest > 1.0 else NEARLY


@contextmanager
def compilation_announced(progress: Progress) -> Iterator[None]:
    """Say once that kernels are being compiled, if and when the compiler really starts.

    Numba reports a compilation only when no compiled kernel is found in its cache.
    """
    from numba.core import event

    from sim.machine.kernels import are_kept, forgive_full_cache

    forgive_full_cache()
    text = "Compiling kernels for this machine, once: up to a minute." if are_kept() else _KEPT_NOWHERE

    class Announcer(event.Listener):  # type: ignore[misc]
        told = False

        def on_start(self, event: Any) -> None:
            if not self.told:
                progress.note(text)
            self.told = True
            progress.compiled += 1

        def on_end(self, event: Any) -> None:
            pass

    with event.install_listener("numba:compile", Announcer()):
        yield
