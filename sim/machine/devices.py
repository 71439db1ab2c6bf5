"""The words for where computed air is followed; `sim.airflow.device.seam` says what is behind each."""

from typing import Literal

DeviceWord = Literal["cpu", "gpu", "auto"]
"""cpu: this processor; gpu: an accelerator; auto: the first that is there, else the processor."""
