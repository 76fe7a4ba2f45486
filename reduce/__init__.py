"""Orchestral score in, two-staff piano draft out, with a reason for every choice.

``reduce.draft(path, level=...)`` runs the whole way and returns a `reduce.pipeline.Result`.
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from reduce.pipeline import Result, draft

__version__ = "0.1.0"
__all__ = ["Result", "__version__", "draft"]


def __getattr__(name: str) -> Any:
    """Loads the pipeline when it is first asked for, so that ``reduce --help`` need not wait for it."""
    if name in ("Result", "draft"):
        from reduce import pipeline

        return getattr(pipeline, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
