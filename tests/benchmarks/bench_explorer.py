"""How soon the explorer answers: start to first map, drag to new map, rest to the bay's own mesh.

    python tests/benchmarks/bench_explorer.py [CASE ...] [--drags 40]

The command itself runs, with a browser (Debian's chromium by playwright) that moves the slider of plates, or of the
water where there are no plates, to one place after the other and waits for the map of each. Nothing else should run.
"""

import argparse
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path
from time import perf_counter

import numpy as np
from playwright.sync_api import expect, sync_playwright

ROOT = Path(__file__).parents[2]
CASES = ("cases/demo/family-oak.toml", "cases/demo/kitchen-vinyl.toml", "cases/demo/bedroom-carpet.toml",
         "cases/demo/bathroom-tile.toml")  # fmt: skip
MOVE = """([number, share]) => new Promise(done => {
  const slider = document.querySelectorAll('.slider')[number], began = performance.now();
  const heat = () => document.querySelector('#big .fact b').textContent, before = heat();
  slider.value = Number(slider.min) + share * (Number(slider.max) - Number(slider.min));
  slider.dispatchEvent(new Event('input', { bubbles: true }));
  let old = false;
  (function look() {
    const stale = document.body.classList.contains('stale');
    old = old || stale;
    if (old && !stale) done((performance.now() - began) / 1000);
    else if (!old && heat() !== before) done(null);  // solved before, and kept
    else if (performance.now() - began > 60000) done(NaN);
    else requestAnimationFrame(look);
  })();
})"""
"""Moves a slider as a hand does, and gives the seconds until the numbers of its new value are on the page.

Null where they were kept from before: that is no solve.
"""


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("cases", nargs="*", default=CASES)
    parser.add_argument("--drags", type=int, default=40)
    asked = parser.parse_args()
    print(f"load before: {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
    print(f"{'case':<18}{'start':>8}{'drag: median':>14}{'95 %':>8}{'own mesh: median':>18}{'most':>8}   s")
    for case in asked.cases:
        start, drags, rests = measured(case, asked.drags)
        row = f"{start:8.2f}{np.median(drags):14.2f}{np.percentile(drags, 95):8.2f}"
        print(f"{Path(case).stem:<18}{row}{np.median(rests):18.2f}{max(rests):8.2f}", flush=True)


def measured(case, count):
    """Seconds from the command to the first map, of each drag, and from rest to the own mesh."""
    began = perf_counter()
    words = [sys.executable, "-m", "sim", "explore", case, "--no-browser"]
    running = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, cwd=ROOT)
    try:
        with sync_playwright() as playing:
            browser = playing.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
            page = browser.new_page(viewport={"width": 1280, "height": 900})
            page.goto(running.stdout.readline().split()[-1])
            expect(page.locator("#state")).to_contain_text(" mesh", timeout=120_000)
            start = perf_counter() - began
            expect(page.locator("#state")).to_contain_text("own mesh, ", timeout=120_000)
            drags, rests = [], []
            for number in range(count):
                drags.append(page.evaluate(MOVE, [0, 0.05 + 0.9 * (number * 0.618 % 1.0)]))
                if number % 8 == 7:
                    rested = perf_counter()
                    expect(page.locator("#state")).to_contain_text("own mesh, ", timeout=120_000)
                    rests.append(perf_counter() - rested)
            browser.close()
    finally:
        running.send_signal(signal.SIGINT)
        running.wait(20.0)
    return start, [seconds for seconds in drags if seconds is not None], rests


if __name__ == "__main__":
    main()
