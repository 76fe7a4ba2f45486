"""From texture and level to the draft: tune, bass, inner voices, hands, marks, and what became of every note."""

from __future__ import annotations

from reduce.arrange.arranging import Arrangement, Request, arrange

__all__ = ["Arrangement", "Request", "arrange"]
