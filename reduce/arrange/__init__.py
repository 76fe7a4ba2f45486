"""From texture and level to the draft: tune, bass, inner voices, hands, marks, and what became of every note."""

from __future__ import annotations

from reduce.arrange.arrangement import Arrangement, Frame, Request
from reduce.arrange.arranging import arrange
from reduce.arrange.foremost import foremost
from reduce.arrange.key import interval
from reduce.arrange.told_inside import told_inside
from reduce.arrange.unchanged import unchanged
from reduce.arrange.versions import Version, version

__all__ = ["Arrangement", "Frame", "Request", "Version", "arrange", "foremost", "interval", "told_inside", "unchanged", "version"]
