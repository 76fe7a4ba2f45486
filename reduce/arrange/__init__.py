"""From texture and level to the draft: tune, bass, inner voices, hands, marks, and what became of every note."""

from __future__ import annotations

from reduce.arrange.arrangement import Arrangement, Frame, Request
from reduce.arrange.arranging import arrange
from reduce.arrange.foremost import foremost
from reduce.arrange.key import interval
from reduce.arrange.parted_bars import parted
from reduce.arrange.unchanged import unchanged

__all__ = ["Arrangement", "Frame", "Request", "arrange", "foremost", "interval", "parted", "unchanged"]
