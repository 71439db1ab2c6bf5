"""What `pyproject.toml` cannot say: the cases lie beside the packages, and are installed within one of them."""

from pathlib import Path
from shutil import copytree, ignore_patterns

from setuptools import setup
from setuptools.command.build_py import build_py


class WithCases(build_py):
    """The packages, and `cases` as `sim/cases`; an editable install reads those of the checkout."""

    def run(self) -> None:
        super().run()
        if not self.editable_mode:
            copytree("cases", Path(self.build_lib, "sim", "cases"), ignore=ignore_patterns("runs"), dirs_exist_ok=True)


setup(cmdclass={"build_py": WithCases})
